// Everything that can be set of a trip but the daily distance, in groups: when, under way, how you
// ride, who eats, food on board, cooking, cooler.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const T = R.trip;
  const { KM_PER_MI, L_PER_GAL } = R.factors;
  const { numberField, pickField, choiceField, dateField, timeField, tickField, inKg, imperial, asKm, asLitres, asC } =
    R.fields;

  function restField() {
    if (!R.plan || R.plan.legs.length < 2) return null;
    const legs = R.plan.legs.slice(0, -1);
    const pick = el(
      "select",
      { id: "set-rest", "data-keep": "set-rest", onchange: () => R.edit.rest(legs[Number(pick.value)], 1) },
      el("option", { value: "" }, "choose a day"),
      legs.map((leg, i) => el("option", { value: i }, `Day ${leg.number}, ${F.date(leg.date)}`)),
    );
    return el("div.setting", {}, el("label", { for: "set-rest" }, "Add a rest day after"), pick);
  }

  // Meals out and appetites are lists in the trip: one field for each day, and for each rider.
  const MEALS_OUT = [
    [["breakfast"], "breakfast"],
    [["lunch"], "lunch"],
    [["dinner"], "dinner"],
    [["breakfast", "lunch"], "breakfast and lunch"],
    [["lunch", "dinner"], "lunch and dinner"],
    [["breakfast", "dinner"], "breakfast and dinner"],
    [["breakfast", "lunch", "dinner"], "all meals"],
  ];

  function mealsOut() {
    const days = T.get("food.eat_out") || {};
    const legs = R.plan ? R.plan.legs : [];
    const named = (number) => {
      const leg = legs.find((one) => String(one.number) === String(number));
      return `day ${number}${leg ? `, ${F.date(leg.date)}` : ""}`;
    };
    const change = (number, to, word) =>
      T.change({ [`food.eat_out.${number}`]: to }, `Eaten out on day ${number}: ${word}`);
    const free = legs.filter((leg) => !(leg.number in days));
    return [
      choiceField("food.eat_out_daily", "Eaten out every day", [[[], "nothing"], ...MEALS_OUT]),
      Object.keys(days).map((number) =>
        pickField(
          `food.eat_out.${number}`,
          `Eaten out on ${named(number)}`,
          [[null, "nothing"], ...MEALS_OUT],
          days[number],
          (to, word) => change(number, to, word),
        ),
      ),
      free.length > 0 &&
        pickField(
          "eat-out-on",
          "Eat out on a day",
          [["", "choose a day"], ...free.map((leg) => [leg.number, `Day ${leg.number}, ${F.date(leg.date)}`])],
          "",
          (number) => number && change(number, ["dinner"], "dinner"),
        ),
    ];
  }

  const APPETITES = [
    [0.7, "little"],
    [0.85, "less than usual"],
    [1, "the usual"],
    [1.15, "more than usual"],
    [1.3, "much"],
    [1.6, "very much"],
  ];
  // More fields than this would bury the others.
  const MOST_NAMED = 8;

  function appetites() {
    const people = T.get("party.people");
    const stated = T.get("party.appetite") || [];
    const of = (i) => stated[i] ?? 1;
    const set = (i, to, word) => {
      const all = Array.from({ length: Math.max(people, stated.length) }, (_, k) => (k === i ? to : of(k)));
      while (all.length && all.at(-1) === 1) all.pop();
      T.change({ "party.appetite": all.length ? all : null }, `Rider ${i + 1} eats ${word}`);
    };
    return Array.from({ length: Math.min(people, MOST_NAMED) }, (_, i) =>
      pickField(`party.appetite.${i}`, people === 1 ? "You eat" : `Rider ${i + 1} eats`, APPETITES, of(i), (to, word) =>
        set(i, to, word),
      ),
    );
  }

  // One switch for the place and the time, which belong together; what is on board goes with them.
  function underWay() {
    const on = R.edit.underWay();
    const box = el("input", {
      type: "checkbox",
      id: "set-now",
      "data-keep": "set-now",
      onchange: () => (box.checked ? R.edit.goOn(0) : R.edit.atHome()),
    });
    box.checked = on;
    const tick = el("label.setting-tick", {}, box, el("span", {}, "I am under way"));
    if (!on) return [tick, R.plan && R.fromPhone.field()];
    const [date, time] = String(T.get("now.time")).split("T");
    return [
      tick,
      numberField("now.at_km", `You are at ${imperial() ? "mile" : "km"}`, {
        kind: asKm,
        min: 0,
        max: R.plan ? Math.floor(R.length / 1000 - 1.5) : undefined,
        step: imperial() ? KM_PER_MI * 5 : 5,
      }),
      dateField("now.date", "Today", date, (to, words) => T.change({ "now.time": `${to}T${time}` }, words)),
      timeField("now.clock", "Clock there", time, (to, words) => T.change({ "now.time": `${date}T${to}` }, words)),
      numberField("now.food_meals", "Meals on board, each rider", { min: 0, max: 300 }),
      numberField("now.fuel_km", "Fuel still lasts", {
        unit: F.distanceUnit(),
        kind: asKm,
        min: 0,
        max: 3000,
        step: imperial() ? KM_PER_MI * 10 : 10,
        empty: "not known",
      }),
      numberField("now.water_l", "Drinking water, all riders", {
        unit: imperial() ? "gal" : "L",
        kind: asLitres,
        min: 0,
        max: 500,
        step: imperial() ? L_PER_GAL / 4 : 1,
        empty: "not known",
      }),
      T.get("cooler.kind") !== "none" && numberField("now.ice_kg", "Ice in the cooler", inKg({ max: 200 })),
      R.plan && R.fromPhone.field(),
    ];
  }

  const CORRIDORS = [1, 2, 3, 5, 7.5, 10, 15, 20, 30, 50];
  const group = (title, ...fields) =>
    el("fieldset.settings-group", {}, el("legend", {}, title), el("div.settings-grid", {}, fields));

  R.settings = () => {
    const cooled = T.get("cooler.kind") !== "none";
    const ofTrip = (path) => (value, words) => T.change({ [path]: value }, words);
    return [
      group(
        "When",
        dateField(
          "start.date",
          "First day",
          T.get("start.date") ?? (R.plan ? R.plan.trip.start_date : ""),
          ofTrip("start.date"),
        ),
        timeField("pace.depart", "Leave each morning", T.get("pace.depart"), ofTrip("pace.depart")),
        timeField("pace.latest_camp", "In camp by", T.get("pace.latest_camp"), ofTrip("pace.latest_camp")),
        restField(),
      ),
      group("Under way", underWay()),
      group(
        "How you ride",
        numberField("pace.speed_kmh", "Average moving speed", {
          unit: imperial() ? "mph" : "km/h",
          kind: asKm,
          min: 3,
          max: 150,
          step: imperial() ? KM_PER_MI * 5 : 5,
          empty: "by the roads",
        }),
        numberField("fuel.range_km", "Full tank lasts", {
          unit: F.distanceUnit(),
          kind: asKm,
          min: 20,
          max: 3000,
          step: imperial() ? KM_PER_MI * 10 : 10,
          empty: "not said",
        }),
        (((R.plan || {}).route || {}).breaks || []).length + (T.get("jumps.kind") === "unknown" ? 0 : 1) > 0 &&
          choiceField("jumps.kind", "Where the line jumps", [
            ["unknown", "not said"],
            ["ferry", "a ferry"],
            ["ridden", "we ride"],
          ]),
        tickField("pace.even_days", "Spread the days evenly"),
        tickField("map.roads", "Detours and times by the roads"),
        tickField("night.camps", "End days at a camp, if one is near"),
        T.get("night.camps") &&
          numberField("night.tolerance_km", "A day’s end may move by", {
            unit: F.distanceUnit(),
            kind: asKm,
            min: 0,
            max: 500,
            step: imperial() ? KM_PER_MI * 5 : 5,
          }),
      ),
      group(
        "Who eats",
        numberField("party.people", "Riders", { min: 1, max: 40 }),
        choiceField("party.diet", "All of you eat", [
          ["any", "everything"],
          ["vegetarian", "vegetarian"],
          ["vegan", "vegan"],
        ]),
        R.kitchenFields.diets(),
        numberField("food.kcal_per_day", "Each eats a day", { unit: "kcal", min: 1000, max: 6000, step: 100 }),
        appetites(),
        mealsOut(),
        R.kitchenFields.bikes(),
      ),
      group(
        "Food on board",
        choiceField("food.style", "How often to shop", [
          ["fresh", "often, fresh"],
          ["balanced", "balanced"],
          ["few", "as rarely as can be"],
        ]),
        !R.edit.underWay() &&
          numberField("start.food_meals", "Meals from home, each rider", { min: 0, max: 300, empty: "as needed" }),
        tickField("food.weigh_at_home", "From home only the amounts needed"),
        !R.edit.underWay() && tickField("food.freezer", "Stew and patties from the freezer at home"),
        numberField("food.spare_meals", "Spare meals, each rider", { min: 0, max: 30 }),
        numberField("food.carry_limit_days", "Carry at most (days)", { min: 1, max: 30, step: 0.5 }),
        numberField("food.carry_habit_days", "Usually carry (days)", { min: 0, max: 30, step: 0.5 }),
        choiceField(
          "map.corridor_km",
          "Shops up to this far off the route",
          CORRIDORS.map((km) => [km, F.distance(km * 1000)]),
        ),
      ),
      group(
        "Cooking, water, animals",
        tickField("food.stove", "We have a stove"),
        tickField("food.fire", "We cook over open fire"),
        tickField("food.fire_ban", "No open fire allowed"),
        tickField("food.untreated_water", "Use springs (treat the water)"),
        choiceField("region.bears", "Bears on the way", [
          ["unknown", "not known"],
          ["yes", "yes"],
          ["no", "no"],
        ]),
      ),
      group(
        "Cooler and weather",
        choiceField("cooler.kind", "Cooler", [
          ["none", "none"],
          ["bag", "insulated bag"],
          ["soft", "soft-sided"],
          ["hard", "hard-sided"],
        ]),
        cooled && numberField("cooler.volume_l", "Inside, litres", { min: 1, max: 200, step: 1 }),
        cooled &&
          choiceField("cooler.colour", "Its colour", [
            ["light", "light"],
            ["middle", "middle"],
            ["dark", "dark"],
          ]),
        cooled && numberField("cooler.packs_kg", "Reusable packs", inKg({ max: 50 })),
        cooled && R.kitchenFields.campFreezer(),
        numberField("weather.low_c", "Nights down to", {
          unit: imperial() ? "°F" : "°C",
          kind: asC,
          min: -40,
          max: 50,
          empty: "not said",
        }),
        numberField("weather.high_c", "Days up to", {
          unit: imperial() ? "°F" : "°C",
          kind: asC,
          min: -40,
          max: 55,
          empty: "not said",
        }),
        (T.get("weather.days") || []).length > 0 &&
          el(
            "p.quiet.setting-note",
            {},
            `${F.plural(T.get("weather.days").length, "day")} of this trip ` +
              `${T.get("weather.days").length === 1 ? "has its" : "have their"} own weather, from the trip file.`,
          ),
      ),
      group("Shown in", el("div.settings-switches", {}, R.switches())),
      R.edit.changes(),
    ];
  };
})(window.Resupply);
