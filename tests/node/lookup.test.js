// What the page looks up on the road: the same table of cases as the planner's.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { TABLES, load } = require("./load.js");

const { lookup } = load("lookup.js");

for (const { told, doors, visits } of TABLES("open_doors.json").doors) {
  test(`doors: ${told}`, () => {
    for (const [at, doubt, state] of visits) {
      assert.deepEqual([at, doubt, lookup.state(doors, at, doubt)], [at, doubt, state]);
    }
  });
}

test("of a place without hours nothing is known", () => {
  assert.equal(lookup.state(undefined, 0, 0), "unknown");
});

// A day of 100 km: an hour to a halt of 20 minutes, an hour and a half more.
const DAY = {
  number: 1,
  start_m: 0,
  end_m: 100_000,
  arrivals: {
    chainage_m: [0, 40_000, 40_000, 100_000],
    arrive_s: [1000, 4600, 5800, 11_200],
    half_width_s: [600, 960, 1080, 1620],
  },
};
const NEXT = {
  number: 2,
  start_m: 100_000,
  end_m: 150_000,
  arrivals: { chainage_m: [100_000, 150_000], arrive_s: [90_000, 93_000], half_width_s: [600, 900] },
};

test("a time lies straight between two rows", () => {
  assert.deepEqual(lookup.at(DAY.arrivals, 10_000), { arrive_s: 1900, half_width_s: 690 });
  assert.deepEqual(lookup.at(DAY.arrivals, 70_000), { arrive_s: 8500, half_width_s: 1350 });
});

test("a halt is arrived at once and left later", () => {
  assert.equal(lookup.at(DAY.arrivals, 40_000).arrive_s, 4600);
  assert.equal(lookup.at(DAY.arrivals, 40_000, true).arrive_s, 5800);
});

test("before and behind the day its ends count", () => {
  assert.equal(lookup.at(DAY.arrivals, -5).arrive_s, 1000);
  assert.equal(lookup.at(DAY.arrivals, 200_000, true).arrive_s, 11_200);
});

test("the time on the road holds halts ahead, and no night", () => {
  const days = [DAY, NEXT];
  assert.equal(lookup.between(days, DAY, 10_000, 70_000), 6600);
  assert.equal(lookup.between(days, DAY, 40_000, 70_000), 2700);
  assert.equal(lookup.between(days, DAY, 70_000, 125_000), 2700 + 1500);
});

test("doubt begins anew where the rider is", () => {
  assert.equal(lookup.doubt(DAY.arrivals, 0, 40_000), 960);
  assert.equal(lookup.doubt(DAY.arrivals, 70_000, 70_000), 600);
});
