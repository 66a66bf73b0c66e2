// Settings that are lists in the trip: who eats what, which bike carries how much, whose camp freezes packs.
"use strict";
(function (R) {
  const F = R.format;
  const T = R.trip;
  const { KG_PER_LB } = R.factors;
  const { numberField, pickField, textField, inKg, imperial } = R.fields;
  const upTo = (most) => Array.from({ length: most }, (_, i) => [i + 1, String(i + 1)]);

  // Only where the others eat more: what all of you keep to is the field before.
  function diets() {
    const all = T.get("party.diet");
    const people = T.get("party.people");
    if (people < 2 || all === "vegan") return null;
    const field = (diet) =>
      pickField(
        `party.diets.${diet}`,
        `Of you, ${diet}`,
        [[null, "none"], ...upTo(people)],
        T.get(`party.diets.${diet}`) ?? null,
        (to, word) => T.change({ [`party.diets.${diet}`]: to }, `Of you, ${diet}: ${word}`),
      );
    return [all === "any" && field("vegetarian"), field("vegan")];
  }

  // What a bike that is added may carry until the rider says otherwise.
  const NEW_BIKE = { load_kg: 20, room_l: 40 };
  // More fields than these would bury the others; the trip file takes any number.
  const MOST_BIKES = 8;
  // As in the trip file.
  const NAME_LETTERS = 60;

  function bikes() {
    const rows = T.get("party.bikes") || [];
    const people = T.get("party.people");
    if (people < 2 && !rows.length) return null;
    const set = (to, words, gesture) => T.change({ "party.bikes": to.length ? to : null }, words, gesture);
    const named = (i) => rows[i].name || `Bike ${i + 1}`;
    const change = (i, to, words, gesture) =>
      set(
        rows.map((row, k) => (k === i ? { ...row, ...to } : row)),
        words,
        gesture,
      );
    const of = (i, key, label, how) =>
      numberField(`party.bikes.${i}.${key}`, label, {
        ...how,
        value: rows[i][key],
        set: (to, words, gesture) => change(i, { [key]: to }, words, gesture),
      });
    return [
      pickField(
        "party.bikes",
        "Lists split over",
        [[0, "no bikes: one list"], ...upTo(Math.min(people, MOST_BIKES)).map(([n]) => [n, F.plural(n, "bike")])],
        rows.length,
        (n, word) => set([...rows, ...Array(n).fill(NEW_BIKE)].slice(0, n), `Lists split over ${word}`),
      ),
      rows.map((row, i) => [
        textField(`party.bikes.${i}.name`, `Bike ${i + 1}, name`, row.name || "", NAME_LETTERS, (name, words) =>
          change(i, { name: name || undefined }, words),
        ),
        of(
          i,
          "load_kg",
          `${named(i)} carries at most`,
          inKg({ min: 1, max: 500, step: imperial() ? 5 * KG_PER_LB : 1 }),
        ),
        of(i, "room_l", `${named(i)} has room, litres`, { min: 1, max: 500, step: 5 }),
      ]),
    ];
  }

  // Asked, not assumed: nothing counts on a freezer at a camp until its day is chosen here.
  function campFreezer() {
    const days = T.get("cooler.camp_freezer") || [];
    if (!R.plan || !(T.get("cooler.packs_kg") > 0)) return null;
    const start = Date.parse(R.plan.trip.start_date);
    const nights = R.plan.legs.slice(0, -1).map((leg) => ({
      day: Math.round((Date.parse(leg.date) - start) / 864e5) + 1,
      word: `Day ${leg.number}, ${F.date(leg.date)}`,
    }));
    const wordOf = (day) => (nights.find((night) => night.day === day) || { word: `Day ${day}` }).word;
    const set = (to, words) => T.change({ "cooler.camp_freezer": to.length ? to.sort((a, b) => a - b) : null }, words);
    const free = nights.filter((night) => !days.includes(night.day));
    return [
      days.map((day) =>
        pickField(
          `cooler.camp_freezer.${day}`,
          `${wordOf(day)}: freezer for packs`,
          [
            [true, "yes, I asked"],
            [false, "no"],
          ],
          true,
          () =>
            set(
              days.filter((one) => one !== day),
              `${wordOf(day)}: no freezer for packs`,
            ),
        ),
      ),
      free.length > 0 &&
        pickField(
          "camp-freezer-on",
          "Ask at the camp: freezer for packs",
          [["", "choose a day"], ...free.map((night) => [night.day, night.word])],
          "",
          (day) => day && set([...days, day], `${wordOf(day)}: freezer for packs`),
        ),
    ];
  }

  R.kitchenFields = { diets, bikes, campFreezer };
})(window.Resupply);
