// Settings that are lists in the trip: what a field writes, and that the address brings it back.
"use strict";
const { test } = require("node:test");
const assert = require("node:assert");
const fs = require("node:fs");
const path = require("node:path");
const vm = require("node:vm");
const { load } = require("./load.js");

const ASSETS = path.join(__dirname, "..", "..", "resupply", "web", "assets");
const run = (name) => vm.runInThisContext(fs.readFileSync(path.join(ASSETS, name), "utf8"), name);

/** A page on which elements are plain objects, and the scripts of the settings. */
function page(trip) {
  const all = /** @type {any} */ (globalThis);
  all.location = { hash: "" };
  all.history = { replaceState: () => {} };
  all.sessionStorage = { setItem: () => {} };
  all.document = { addEventListener: () => {} };
  load();
  const R = (all.Resupply = /** @type {any} */ ({}));
  run("trip_state.js");
  Object.assign(R, {
    el: (tag, attributes, ...kids) => ({
      tag,
      value: "",
      ...attributes,
      kids: kids.flat(9).filter(Boolean),
      append() {},
      told: 0,
      checkValidity() {
        const n = Number(this.value);
        return !(n < Number(this.min ?? -Infinity)) && !(n > Number(this.max ?? Infinity));
      },
      reportValidity() {
        this.told += 1;
      },
    }),
    format: { plural: (n, one) => `${n} ${one}${n === 1 ? "" : "s"}`, date: (date) => date },
    factors: { KM_PER_MI: 1.609344, KG_PER_LB: 0.45359237, L_PER_GAL: 3.785411784 },
    prefs: { units: "metric" },
    asking: { held: false },
    tell: () => {},
    plan: {
      trip: { start_date: "2027-07-09" },
      // After the first day one of rest.
      legs: ["2027-07-09", "2027-07-11", "2027-07-12"].map((date, i) => ({ number: i + 1, date })),
    },
  });
  R.trip.defaults = {
    party: { people: 2, diet: "any", diets: {}, bikes: [] },
    cooler: { camp_freezer: [], packs_kg: 0 },
  };
  R.trip.open({ route: "one.gpx", file: "", trip }, "");
  run("settings_fields.js");
  run("settings_kitchen.js");
  return R;
}

const inside = (made) => [made].flat(9).filter(Boolean);
/** The field with an id, wherever it lies. */
function field(made, id) {
  for (const one of inside(made)) {
    if (one.id === id) return one;
    const found = one.kids && field(one.kids, id);
    if (found) return found;
  }
  return null;
}
function choose(made, id, value) {
  const one = field(made, id);
  one.value = String(value);
  one.onchange();
}
const again = (R) => R.trip.read(R.trip.write(R.trip.state)).trip;

test("some of the party keep to a diet, and none again", () => {
  const R = page({ party: { people: 4 } });
  choose(R.kitchenFields.diets(), "set-party.diets.vegetarian", 2);
  assert.deepEqual(again(R), { party: { people: 4, diets: { vegetarian: 2 } } });
  choose(R.kitchenFields.diets(), "set-party.diets.vegetarian", "null");
  assert.deepEqual(again(R), { party: { people: 4 } });
});

test("who rides alone, and who all eat the same, are not asked which of them", () => {
  assert.equal(page({ party: { people: 1 } }).kitchenFields.diets(), null);
  assert.equal(page({ party: { people: 3, diet: "vegan" } }).kitchenFields.diets(), null);
  assert.equal(
    field(page({ party: { people: 3, diet: "vegetarian" } }).kitchenFields.diets(), "set-party.diets.vegetarian"),
    null,
  );
});

test("bikes are added, each with its load and room, and the address brings them back", () => {
  const R = page({});
  choose(R.kitchenFields.bikes(), "set-party.bikes", 2);
  choose(R.kitchenFields.bikes(), "set-party.bikes.1.load_kg", 12.5);
  const rows = [
    { load_kg: 20, room_l: 40 },
    { load_kg: 12.5, room_l: 40 },
  ];
  assert.deepEqual(again(R), { party: { bikes: rows } });
  R.prefs.units = "imperial";
  assert.equal(field(R.kitchenFields.bikes(), "set-party.bikes.0.load_kg").value, "44.1");
  choose(R.kitchenFields.bikes(), "set-party.bikes", 0);
  assert.deepEqual(again(R), {});
});

test("a bike has a name, its other fields say so, and an empty one takes it away", () => {
  const R = page({ party: { bikes: [{ load_kg: 20, room_l: 40 }] } });
  choose(R.kitchenFields.bikes(), "set-party.bikes.0.name", "  Ann ");
  assert.deepEqual(again(R).party.bikes, [{ load_kg: 20, room_l: 40, name: "Ann" }]);
  const label = field(R.kitchenFields.bikes(), "set-party.bikes.0.name");
  assert.equal(label.value, "Ann");
  choose(R.kitchenFields.bikes(), "set-party.bikes.0.name", "x".repeat(80));
  assert.equal(again(R).party.bikes[0].name.length, 60);
  choose(R.kitchenFields.bikes(), "set-party.bikes.0.name", " ");
  assert.deepEqual(again(R).party.bikes, [{ load_kg: 20, room_l: 40 }]);
});

test("a load that no bike carries changes nothing and is told at the field", () => {
  const R = page({ party: { bikes: [{ name: "Ann", load_kg: 20, room_l: 40 }] } });
  const made = R.kitchenFields.bikes();
  choose(made, "set-party.bikes.0.load_kg", 900);
  assert.equal(field(made, "set-party.bikes.0.load_kg").told, 1);
  assert.deepEqual(again(R).party.bikes, [{ name: "Ann", load_kg: 20, room_l: 40 }]);
});

test("a camp's freezer counts from the day it is chosen, by days of the trip", () => {
  assert.equal(page({}).kitchenFields.campFreezer(), null);
  const R = page({ cooler: { packs_kg: 2 } });
  // The second ride is on the third day: one of rest lies between.
  choose(R.kitchenFields.campFreezer(), "set-camp-freezer-on", 3);
  choose(R.kitchenFields.campFreezer(), "set-camp-freezer-on", 1);
  assert.deepEqual(again(R).cooler.camp_freezer, [1, 3]);
  choose(R.kitchenFields.campFreezer(), "set-cooler.camp_freezer.3", false);
  assert.deepEqual(again(R).cooler.camp_freezer, [1]);
});
