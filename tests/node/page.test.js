// What the page computes for itself: places on the line, wall clocks, settings that differ.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { load } = require("./load.js");

const R = load(
  "elements.js",
  "quantity.js",
  "format.js",
  "lookup.js",
  "on_the_road.js",
  "../../web/assets/trip_state.js",
);
const F = R.format;
R.prefs = { units: "metric", clock: 24 };

test("the last key that is not above a value is found", () => {
  assert.deepEqual(
    [-1, 0, 5, 10, 15, 99].map((value) => R.before([0, 10, 10, 20], value)),
    [0, 0, 0, 2, 2, 3],
  );
});

test("a wall clock moves across midnight and keeps its offset", () => {
  assert.equal(F.later("2027-07-09T23:50:00-01:00", 25), "2027-07-10T00:15-01:00");
  assert.equal(F.later("2027-03-01T00:10+05:30", -20), "2027-02-28T23:50+05:30");
});

test("a time is read from its text, whatever zone the device is in", () => {
  assert.deepEqual(F.parts("2027-07-09T10:42:00-01:00"), {
    year: 2027,
    month: 7,
    day: 9,
    weekday: 5,
    hour: 10,
    minute: 42,
  });
  assert.equal(F.parts("soon"), null);
  assert.equal(F.time(null), "not known");
});

test("durations are told in hours and minutes", () => {
  assert.deepEqual([0, 60, 3540, 3600, 5400, 3570].map(F.hours), [
    "0 min",
    "1 min",
    "59 min",
    "1 h",
    "1 h 30 min",
    "1 h",
  ]);
});

// A line of two parts along the equator: one degree there, then back a little farther north.
R.draw = { lonNear: (lon) => lon };
R.line = {
  chainage_m: [0, 111_320, 111_320, 222_640],
  lon: [0, 1, 1, 0],
  lat: [0, 0, 0.01, 0.01],
  parts: [0, 2],
};

test("a position is found on every passage of the route, the nearest first", () => {
  const found = R.road.project(0.25, 0.004);
  assert.equal(found.length, 2);
  assert.ok(Math.abs(found[0].chainage - 27_830) < 5);
  assert.ok(Math.abs(found[0].away - 0.004 * 110_574) < 1);
  assert.ok(Math.abs(found[1].chainage - (111_320 + 83_490)) < 5);
});

test("between two parts of a line there is no road to be on", () => {
  const [first] = R.road.project(1, 0.005);
  assert.ok(Math.abs(first.away - 0.005 * 110_574) < 2);
});

test("a place on the line lies straight between its points", () => {
  assert.deepEqual(R.positionAt(55_660), [0, 0.5]);
  assert.deepEqual(R.positionAt(300_000), [0.01, 0]);
});

test("a setting is put into a copy; tables that are left empty go", () => {
  const tree = { pace: { daily_km: 250 }, food: { meals: 3 } };
  const more = R.trip.put(tree, "pace.daily_km", 300);
  assert.deepEqual(more, { pace: { daily_km: 300 }, food: { meals: 3 } });
  assert.deepEqual(tree.pace, { daily_km: 250 });
  assert.deepEqual(R.trip.put(more, "pace.daily_km", undefined), { food: { meals: 3 } });
  assert.equal(R.trip.at(more, "pace.daily_km"), 300);
  assert.equal(R.trip.at(more, "name.of.none"), undefined);
});
