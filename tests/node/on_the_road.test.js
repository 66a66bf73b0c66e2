// What the page reckons on the way: only looked up and subtracted. And ticks where storage fails.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { load } = require("./load.js");

const R = load("elements.js", "lookup.js", "ticks.js", "on_board.js", "hand_over.js");
const B = R.board;
const T0 = Date.parse("2027-07-10T08:00:00Z") / 1000;
const iso = (hours) => new Date((T0 + hours * 3600) * 1000).toISOString();
const none = () => ({ shut: new Set(), no_ice: new Set(), bought: new Set(), eaten: new Set(), filled: new Set() });
const found = (more) => ({ ...none(), ...more });

// One day: home with 3 meals, lunch at km 60, stop A (km 100) for 4, dinner at km 160, the night,
// breakfast there; stop B at km 300 the next day.
const stop = (number, place, km, carry) => ({ number, place, pass: place, chainage_m: km * 1000, carry_meals: carry });
const PLAN = {
  trip: { name: "Round Varrow", settings: { "start.date": "2027-07-10" } },
  route: { length_m: 400000 },
  spare: { meals: 1 },
  stops: [stop(1, "A", 100, 4), stop(2, "B", 300, 2)],
  passes: [
    { id: "A", place: "A" },
    { id: "B", place: "B" },
    { id: "pump", place: "P" },
    { id: "tap", place: "T", chainage_m: 100000, eta: iso(6) },
    { id: "spring", place: "U", chainage_m: 300000, eta: iso(31) },
    { id: "camp", place: "C", chainage_m: 160000, eta: iso(9) },
  ],
  carry_profile: [
    { chainage_m: 0, at_s: T0, meals: 3 },
    { chainage_m: 60000, at_s: T0 + 4 * 3600, meals: 2 },
    { chainage_m: 100000, at_s: T0 + 6 * 3600, meals: 5, stop: 1 },
    { chainage_m: 160000, at_s: T0 + 11 * 3600, meals: 4 },
    { chainage_m: 160000, at_s: T0 + 23 * 3600, meals: 3 },
    { chainage_m: 220000, at_s: T0 + 28 * 3600, meals: 2 },
    { chainage_m: 300000, at_s: T0 + 31 * 3600, meals: 3, stop: 2 },
  ],
  menu: { days: [{ date: "2027-07-10", meals: [{ when: iso(11), kind: "dinner", dish: null }] }] },
  legs: [
    {
      number: 1,
      start_m: 0,
      end_m: 160000,
      arrivals: { chainage_m: [0, 100000, 100000, 160000], arrive_s: [0, 6, 7, 9], half_width_s: [0, 0, 0, 0] },
    },
    {
      number: 2,
      depart: iso(24),
      start_m: 160000,
      end_m: 400000,
      arrivals: { chainage_m: [160000, 400000], arrive_s: [24, 32], half_width_s: [0, 0] },
    },
  ],
  fuel: {
    range_m: 250000,
    tank_m: 200000,
    stops: [{ pass: "pump", name: "Pump", chainage_m: 120000, eta: iso(8) }],
  },
  // From the tap to the spring: 1.2 + 2.8 L on the road, 4 L in camp.
  water: {
    litres_by_day: [
      { leg: 1, road_l: 3.2, camp_l: 4 },
      { leg: 2, road_l: 4.8, camp_l: 0 },
    ],
    fills: [
      { pass: null, start_m: 0, litres: 2 },
      { pass: "tap", start_m: 100000, litres: 8 },
      { pass: "spring", start_m: 300000, litres: 2 },
    ],
  },
  ice: { stops: [{ pass: "A", chainage_m: 100000, eta: iso(6), buy: [{ cooler: "food", kg: 4 }] }] },
  cold: {
    coolers: [
      {
        name: "food",
        trace: [
          { t: iso(0), ice_kg: 3 },
          { t: iso(6), ice_kg: 5 },
          { t: iso(12), ice_kg: 4 },
          { t: iso(18), ice_kg: 2 },
          { t: iso(24), ice_kg: 0 },
        ],
      },
    ],
  },
};
for (const leg of PLAN.legs) leg.arrivals.arrive_s = leg.arrivals.arrive_s.map((h) => T0 + h * 3600);

const food = (km, hours, more) => {
  const told = B.food(PLAN, km * 1000, T0 + hours * 3600, found(more));
  return [
    told.meals,
    told.next && told.next.place,
    told.out && told.out.chainage_m,
    told.assumed.map((one) => one.place),
  ];
};

test("what is on board is what the plan has there", () => {
  assert.deepEqual(food(0, 0), [3, "A", null, []]);
  assert.deepEqual(food(80, 5), [2, "A", null, []]);
  // Passed and not ticked: counted as planned, and named.
  assert.deepEqual(food(130, 8), [5, "B", null, ["A"]]);
  assert.deepEqual(food(130, 8, { bought: new Set(["A"]) }), [5, "B", null, []]);
});

test("in camp the time decides which meals are eaten", () => {
  assert.deepEqual(
    [10, 12, 22, 23.5].map((hours) => food(160, hours)[0]),
    [5, 4, 4, 3],
  );
});

test("a stop found shut brings nothing, and the meal before which the food runs out is named", () => {
  const shut = { shut: new Set(["A"]) };
  assert.deepEqual(food(130, 8, shut), [2, "B", 220000, []]);
  assert.deepEqual(food(230, 29, shut), [0, "B", null, []]);
  assert.deepEqual(food(130, 8, { shut: new Set(["A", "B"]) }).slice(0, 2), [2, null]);
});

test("a stop ticked before the plan is there counts at once", () => {
  assert.deepEqual(food(97, 4.5, { bought: new Set(["A"]) }), [5, "B", null, []]);
});

test("a meal ticked as eaten early is gone, and not eaten twice", () => {
  const eaten = { eaten: new Set([`${iso(11).slice(0, 10)} dinner`]) };
  assert.equal(food(130, 8, eaten)[0], 4);
  assert.equal(food(160, 12, eaten)[0], 4);
  // Breakfast and lunch are left for it: nothing runs out sooner.
  assert.equal(food(130, 8, { ...eaten, shut: new Set(["A"]) })[2], 220000);
});

test("ice that was not there is missing until the next", () => {
  assert.deepEqual(B.ice(PLAN, 130000, T0 + 13 * 3600, none()), { kg: 4, gone: iso(24), missing: 0 });
  const without = B.ice(PLAN, 130000, T0 + 13 * 3600, found({ no_ice: new Set(["A"]) }));
  assert.deepEqual(without, { kg: 0, gone: iso(12), missing: 4 });
  assert.equal(B.ice(PLAN, 130000, T0 - 5, none()), null);
  assert.equal(B.ice({ ...PLAN, cold: null }, 130000, T0, none()), null);
});

test("fuel goes as far as the last filling that came about", () => {
  const left = (km, hours, more) => B.fuel(PLAN, km * 1000, T0 + hours * 3600, found(more)).left_m / 1000;
  assert.equal(left(50, 3), 150);
  assert.equal(left(150, 9), 220);
  assert.equal(left(150, 9, { shut: new Set(["P"]) }), 50);
  assert.equal(B.fuel({ ...PLAN, fuel: { ...PLAN.fuel, tank_m: null } }, 50000, T0, none()), null);
});

const water = (km, hours, more, plan = PLAN) => {
  const told = B.water(plan, km * 1000, T0 + hours * 3600, found(more));
  const round = (litres) => (litres === null ? null : Math.round(litres * 100) / 100);
  return [round(told.litres), round(told.needed), told.next && told.next.place];
};

test("water is what the plan fills up with, less what it uses on the road and in camp", () => {
  assert.deepEqual(water(0, 0), [2, 2, "T"]);
  assert.deepEqual(water(50, 3), [1, 1, "T"]);
  assert.deepEqual(water(130, 7), [7.4, 7.4, "U"]);
  // In camp its water is still to be used, and after it gone.
  assert.deepEqual(water(160, 12), [6.8, 6.8, "U"]);
  assert.equal(B.water(PLAN, 160000, T0 + 12 * 3600, none()).tonight, 4);
  assert.deepEqual(water(160, 24.5), [2.8, 2.8, "U"]);
  assert.deepEqual(water(350, 34), [1, 1, null]);
});

test("a tap that was shut fills nothing, and the water does not last", () => {
  assert.deepEqual(water(80, 5, { shut: new Set(["T"]) }), [0.4, 8.4, "U"]);
  assert.deepEqual(water(130, 7, { shut: new Set(["T"]) }), [0, 7.4, "U"]);
});

test("water filled elsewhere counts to the next place with water, and frees the night in camp", () => {
  const filled = { filled: new Set(["C"]) };
  assert.deepEqual(water(160, 12, filled), [2.8, 2.8, "U"]);
  assert.deepEqual(water(220, 27, filled), [1.6, 1.6, "U"]);
  assert.ok(B.water(PLAN, 160000, T0 + 12 * 3600, found(filled)).ticked);
  // Not yet there, it is not yet filled.
  assert.deepEqual(water(130, 7, filled), [7.4, 7.4, "U"]);
});

test("water that nobody told the plan of is not known until it is filled up", () => {
  const under_way = { ...PLAN, water: { ...PLAN.water, on_board: { litres: null } } };
  assert.deepEqual(water(50, 3, {}, under_way), [null, 1, "T"]);
  assert.deepEqual(water(130, 7, {}, under_way), [7.4, 7.4, "U"]);
  assert.equal(B.water({ ...PLAN, water: null }, 0, T0, none()), null);
});

test("behind and ahead are told from the plan's own times, and a halt of the plan is on time", () => {
  const behind = (km, hours) => B.behind(PLAN.legs, km * 1000, T0 + hours * 3600) / 3600;
  assert.deepEqual([behind(50, 4), behind(50, 2), behind(50, 3)], [1, -1, 0]);
  assert.deepEqual([behind(100, 6.5), behind(100, 7.5), behind(100, 5)], [0, 0.5, -1]);
  // In camp over night, and late in the morning.
  assert.deepEqual([behind(160, 8.5), behind(160, 15), behind(160, 25)], [-0.5, 0, 1]);
  assert.deepEqual([behind(0, -3), behind(400, 40)], [0, 0]);
});

// ---- Ticks and storage ------------------------------------------------------------------------
let heard = [];
const storage = (over) => {
  const map = new Map();
  globalThis.localStorage = /** @type {any} */ ({
    getItem: (key) => (map.has(key) ? map.get(key) : null),
    setItem: (key, value) => map.set(key, value),
    ...over,
  });
  return map;
};
const fresh = (name = "Round Varrow") => {
  heard = [];
  document.dispatchEvent = (event) => heard.push(event.detail) > 0;
  R.ticks.start({ trip: { name: `${name} ${Math.random()}`, settings: { "start.date": "2027-07-10" } } });
};
globalThis.CustomEvent ??= /** @type {any} */ (
  class {
    constructor(type, { detail }) {
      Object.assign(this, { type, detail });
    }
  }
);
const A = { place: "node/1", name: "Market <b>", at_m: 1000 };
const at = (ms) => ({ at_ms: ms, time: "2027-07-10T10:00" });

test("a tick is kept, told to the plans in the pocket, and taken back", () => {
  storage();
  fresh();
  R.ticks.set("shut", A, true, at(1));
  assert.deepEqual(heard, [{ kind: "shut", place: "node/1" }]);
  assert.ok(R.ticks.kept && R.ticks.has("shut", "node/1"));
  R.ticks.set("bought", A, true, at(2));
  assert.ok(!R.ticks.has("shut", "node/1"));
  R.ticks.set("bought", A, false, at(3));
  assert.deepEqual(R.ticks.all(), []);
  assert.equal(heard.length, 1);
});

test("a new plan of the trip finds the ticks, another trip does not", () => {
  storage();
  const plan = (date) => ({ trip: { name: "One", settings: { "start.date": date, "party.people": Math.random() } } });
  document.dispatchEvent = () => true;
  R.ticks.start(plan("2027-07-10"));
  R.ticks.set("bought", A, true, at(1));
  R.ticks.start(plan("2027-08-10"));
  assert.deepEqual(R.ticks.all(), []);
  R.ticks.start(plan("2027-07-10"));
  assert.equal(R.ticks.all().length, 1);
});

test("where storage is full, refused or forgets, nothing is told as kept, and nothing is lost", () => {
  const faults = [
    {
      setItem: () => {
        throw new Error("full");
      },
    },
    {
      getItem: () => {
        throw new Error("refused");
      },
      setItem: () => {
        throw new Error("refused");
      },
    },
    { setItem: () => {} },
  ];
  for (const fault of faults) {
    storage(fault);
    fresh();
    R.ticks.set("had_ice", A, true, at(1));
    assert.equal(R.ticks.kept, false);
    assert.match(R.ticks.keptWords(), /^Not saved/);
    assert.equal(R.ticks.all().length, 1);
  }
  // A damaged store is no fault of the rider's either.
  storage({ getItem: () => '{"x": 5, "shut node/2": {"kind": "shut"}, "y": null' });
  fresh();
  R.ticks.set("shut", A, true, at(1));
  assert.equal(R.ticks.kept, false);
});

test("what was cleared while the page stood open is written again", () => {
  const map = storage();
  fresh();
  R.ticks.set("no_ice", A, true, at(1));
  map.clear();
  R.ticks.look();
  assert.ok(R.ticks.kept);
  assert.equal(map.size, 1);
});

test("of two tabs the later tick counts", () => {
  const map = storage();
  fresh();
  R.ticks.set("bought", A, true, at(5));
  const [key] = map.keys();
  const theirs = JSON.parse(map.get(key));
  theirs["bought node/1"] = { ...theirs["bought node/1"], on: false, at_ms: 9 };
  theirs["eaten x"] = { meal: "x", kind: "eaten", name: "Dinner", on: true, at_ms: 8, time: "2027-07-10T10:00" };
  map.set(key, JSON.stringify(theirs));
  R.ticks.look();
  assert.deepEqual(
    R.ticks.all().map((one) => one.kind),
    ["eaten"],
  );
});

test("a link holds the same as the file, whatever the names are", () => {
  const told = R.handOver.make({
    plan: PLAN,
    time: "2027-07-10T10:00",
    at_m: 12345.6,
    position: null,
    stock: { food_meals: 3, ice_kg: null, fuel_km: 40, water_l: null },
    ticks: [{ kind: "no_ice", place: "node/1", name: "Café — 市場 <b>", time: "2027-07-10T10:00", at_m: 7.5 }],
  });
  const link = R.handOver.link(told, "file:///plan.html#plan=x");
  assert.match(link, /^file:\/\/\/plan\.html#phone=[\w-]+$/);
  const settings = R.handOver.settings(link, 400000);
  assert.deepEqual(settings, R.handOver.settings(JSON.stringify(told), 400000));
  assert.equal(settings.now["now.at_km"], 12.35);
  const named = { ...told, trip: "Bar #phone=eyJ" };
  assert.deepEqual(R.handOver.settings(JSON.stringify(named), 400000), settings);
  assert.deepEqual(settings.found["shops.no_ice"], ["node/1"]);
  // Of another route, or none of ours.
  assert.equal(R.handOver.settings(link, 500000), null);
  for (const text of ["", "{", "null", "[]", "#phone=", "#phone=!!", '{"schema": "x"}'])
    assert.equal(R.handOver.settings(text, 400000), null);
});
