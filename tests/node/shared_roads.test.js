// Days that share a road are drawn side by side, whichever way they ride it.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { load } = require("./load.js");

const all = /** @type {any} */ (globalThis);
all.L = {
  point: (x, y) => ({ x, y }),
  Polyline: { extend: (own) => own, prototype: { _projectLatlngs: (latlngs, result) => result.push(latlngs) } },
};
const R = load("elements.js", "shared_roads.js");

const DEGREE_M = 111_320;
// A road along the equator, ridden by days of `lap_m` there (1) or back (-1), day after day; each
// day leaves it by a wide arc to its start where it has to.
function ridden(ways, lap_m = 40_000, step_m = 200) {
  const line = { lon: [], lat: [], chainage_m: [], parts: [0] };
  const legs = [];
  let at = 0;
  let x = 0;
  const go = (nx, y, by) => {
    at += by;
    x = nx;
    line.lon.push(nx / DEGREE_M);
    line.lat.push(y / DEGREE_M);
    line.chainage_m.push(at);
  };
  go(0, 0, 0);
  ways.forEach((way, n) => {
    const [from, to] = way > 0 ? [0, lap_m] : [lap_m, 0];
    const start_m = at;
    if (x !== from) {
      const back = from - x;
      for (let k = 1; k <= 100; k++)
        go(x + back / 100, (way > 0 ? 20_000 : -20_000) * Math.sin((Math.PI * k) / 100), Math.abs(back) / 60);
    }
    for (let k = 1; k <= lap_m / step_m; k++) go(from + ((to - from) * k * step_m) / lap_m, 0, step_m);
    legs.push({ number: n + 1, start_m, end_m: at });
  });
  R.line = { ...line, again: R.againAt(line) };
  return legs;
}
const PER_M = { far: 1 / 800, near: 1 / 20 };

// Where the days' lines cross a line over the road at `at_m`, north up, by day.
function across(legs, at_m, perM) {
  return legs.map((leg) => {
    const places = [...R.line.chainage_m.keys()].filter(
      (i) => R.line.chainage_m[i] >= leg.start_m && R.line.chainage_m[i] <= leg.end_m,
    );
    const ring = places.map((i) => ({ x: R.line.lon[i] * DEGREE_M * perM, y: -R.line.lat[i] * DEGREE_M * perM }));
    const drawn = [];
    const line = {
      options: { leg, legs },
    };
    R.DayLine["_projectLatlngs"].call(
      line,
      ring.map((point, n) => Object.assign(point, { alt: places[n] })),
      drawn,
    );
    const onRoad = drawn[0].filter((_, n) => Math.abs(ring[n].y) < 1e-9);
    const nearest = onRoad.reduce((a, b) => (Math.abs(b.x - at_m * perM) < Math.abs(a.x - at_m * perM) ? b : a));
    return -nearest.y;
  });
}

const CASES = {
  "there and back": [1, -1],
  "the same way twice": [1, 1],
  "the same way three times": [1, 1, 1],
  "there, back and there again": [1, -1, 1],
  "twice there, twice back": [1, 1, -1, -1],
};

for (const [name, ways] of Object.entries(CASES))
  for (const [zoom, perM] of Object.entries(PER_M))
    test(`${name}, ${zoom}: every day has a lane of its own, the road in their middle`, () => {
      const legs = ridden(ways);
      const seen = across(legs, 20_000, perM);
      const sorted = [...seen].sort((a, b) => a - b);
      for (let n = 1; n < sorted.length; n++) assert.ok(Math.abs(sorted[n] - sorted[n - 1] - 6) < 0.5, String(seen));
      assert.ok(Math.abs(sorted[0] + sorted.at(-1)) < 0.5, String(seen));
      // The first day rides east: who rides as it does keeps to the right, which is the south.
      const [there, back] = [1, -1].map((way) => seen.filter((_, n) => ways[n] === way));
      assert.ok(!back.length || Math.max(...there) < Math.min(...back), String(seen));
    });

test("a day that is alone on its road stays on it, and where a road only crosses", () => {
  const legs = ridden([1]);
  assert.deepEqual(across(legs, 20_000, PER_M.near), [0]);
  const cross = { lon: [], lat: [], chainage_m: [], parts: [0] };
  for (let k = -50; k <= 50; k++) {
    cross.lon.push((k * 200) / DEGREE_M);
    cross.lat.push(0);
    cross.chainage_m.push((k + 50) * 200);
  }
  for (let k = -50; k <= 50; k++) {
    cross.lon.push(0);
    cross.lat.push((k * 200) / DEGREE_M);
    cross.chainage_m.push(60_000 + (k + 50) * 200);
  }
  cross.parts.push(101);
  assert.ok(R.againAt(cross).every((again) => again === null));
});

test("what lies behind the rider takes no lane", () => {
  const legs = ridden([1, 1, 1]);
  assert.equal(across(legs.slice(1), 20_000, PER_M.near).length, 2);
  const seen = across(legs.slice(1), 20_000, PER_M.near).sort((a, b) => a - b);
  assert.ok(Math.abs(seen[0] + 3) < 0.5 && Math.abs(seen[1] - 3) < 0.5, String(seen));
});

test("what lies under the lines is wider than all of them together", () => {
  for (const ways of [[1], [1, 1], [1, -1, 1], [1, 1, -1, -1]]) {
    const legs = ridden(ways);
    R.plan = { legs };
    const seen = across(legs, 20_000, PER_M.near);
    const widest = Math.max(...seen) - Math.min(...seen);
    const wide = R.bundlePx(legs[0].start_m, legs.at(-1).end_m);
    assert.ok(wide >= widest - 0.5 && wide >= 6, `${wide} ${widest}`);
  }
});
