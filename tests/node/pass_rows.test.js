// A step of a drag comes in columns; its rows read like those of a whole plan.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { load } = require("./load.js");

const R = load("elements.js", "../../web/assets/pass_rows.js");

const ALONG = {
  place: ["node/1", "node/2", "way/3"],
  chainage_m: [100, 2000, 3000],
  offset_m: [5, 60, 700],
  side: ["left", "on", "right"],
  walk_m: [0, null, 40],
  states: ["open", "shut"],
};
const row = (id, place, chainage_m, offset_m, side, more) => ({ id, place, chainage_m, offset_m, side, ...more });

test("columns become rows, and what the plan uses is told in full", () => {
  const now = {
    rows: null,
    leg: [1, 1, 2],
    eta: ["2027-07-09T08:31+01:00", "2027-07-09T09:00+01:00", "2027-07-10T08:40+01:00"],
    state: [0, 1, 0],
    detour_m: [10, 120, 1400],
    detour_s: [1, 12, 140],
  };
  const stop = row("p2", "way/3", 3000, 700, "right", { leg: 2, role: "stop", state_words: ["open"] });
  assert.deepEqual(R.passRows(ALONG, now, [stop]), [
    row("p0", "node/1", 100, 5, "left", {
      leg: 1,
      eta: "2027-07-09T08:31+01:00",
      state: "open",
      detour_m: 10,
      detour_s: 1,
      walk_m: 0,
      role: "other",
    }),
    row("p1", "node/2", 2000, 60, "on", {
      leg: 1,
      eta: "2027-07-09T09:00+01:00",
      state: "shut",
      detour_m: 120,
      detour_s: 12,
      role: "other",
    }),
    stop,
  ]);
});

test("under way only the passes ahead are told", () => {
  const now = { rows: [2], leg: [2], eta: ["2027-07-10T08:40+01:00"], state: [1], detour_m: [1400], detour_s: [140] };
  const [one, ...rest] = R.passRows(ALONG, now, []);
  assert.deepEqual(rest, []);
  assert.deepEqual([one.id, one.place, one.state, one.eta], ["p2", "way/3", "shut", "2027-07-10T08:40+01:00"]);
});
