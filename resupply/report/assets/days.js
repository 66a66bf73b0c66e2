// Days and gaps.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const Y = {};

  Y.sections = () => [
    { id: "days", title: "Days", draw: days },
    { id: "gaps", title: "Long stretches", short: "Stretches", draw: gaps },
  ];

  function days() {
    return [
      el("ol.day-list", {}, R.plan.legs.map(day)),
      el(
        "details",
        {},
        el("summary", {}, "Food, cold and height by distance"),
        R.charts.fitted(rows, "The rows by distance"),
      ),
    ];
  }
  const rows = (width) => R.tracks.picture(width, [0, R.length], "hatch-days", R.tracks.all).root;

  // A day in two lines; a tap reads it.
  function day(leg) {
    const visits = R.visits().filter((visit) => visit.leg === leg.number);
    return el(
      `li.day-card.${G.dayClass(leg.number)}`,
      {},
      leg.rest_days_before > 0 && el("p.rest-day", {}, `${F.waited(leg)} before`),
      el(
        "button.day-button",
        { type: "button", "data-keep": `day-${leg.number}`, onclick: () => R.strip.show(leg.number, { open: true }) },
        el("b.day-number", { "aria-hidden": "true" }, leg.number),
        el(
          "span.day-words",
          {},
          el("span.spoken", {}, `Day ${leg.number}, `),
          el("b", {}, F.date(leg.date)),
          el("span.quiet", {}, ` ${F.distance(leg.length_m)} · ${F.time(leg.depart)}–${F.time(leg.arrive)}`),
        ),
        el(
          "span.day-pins",
          { "aria-hidden": "true" },
          visits.map((visit) => G.pin(visit.kind, { scale: 0.62, bare: visit.bare, state: visit.state })),
        ),
      ),
      (leg.cautions || [])
        .slice(0, 1)
        .map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))),
    );
  }

  // The day in the sheet: what is done when, in riding order.
  Y.open = (number) =>
    R.card.open({
      key: `day-${number}`,
      tab: "days",
      draw: () => {
        const leg = R.plan.legs.find((one) => one.number === number);
        return leg ? sheet(leg) : null;
      },
    });

  function sheet(leg) {
    const [low, high] = weatherOf(leg);
    const weather = isNumber(low) && isNumber(high) ? ` · ${F.degrees(low)}–${F.temp(high)}` : "";
    return {
      pin: el(`b.day-number.day-number-big.${G.dayClass(leg.number)}`, { "aria-hidden": "true" }, leg.number),
      title: F.date(leg.date),
      over: `${F.distance(leg.length_m)} · ${F.time(leg.depart)} to ${F.time(leg.arrive)}${weather}`,
      body: [
        (leg.cautions || []).map((text) =>
          el("p.caution.card-row", {}, G.icon("caution", 16), el("span", {}, F.words(text))),
        ),
        el(
          `ol.day-line.${G.dayClass(leg.number)}`,
          {},
          moment(leg.depart, leg.start_m, null, "Leave", setOff(leg)),
          R.visits()
            .filter((visit) => visit.leg === leg.number)
            .map(visited),
        ),
        (leg.facts || []).map((fact) => R.card.row(fact.label, F.words(fact.words))),
        toEat(leg),
        tomorrow(leg),
        R.more("day", leg),
        el(
          "details.card-row.card-more",
          {},
          el("summary", {}, "More of the day"),
          Y.facts([
            ["Night", leg.night ? F.words(leg.night.words) : null],
            ["Water", waterOf(leg)],
            ["Fuel", fuelOf(leg) || null],
            ["Sun", leg.sunrise && leg.sunset ? `up ${F.time(leg.sunrise)}, down ${F.time(leg.sunset)}` : null],
            ["Surface", surface(leg.surface)],
            ["Riding", F.hours(leg.ride_s)],
          ]),
        ),
      ],
      foot: [
        el("button.button.strong", { type: "button", onclick: () => R.tabs.open("lists") }, "Lists"),
        el("button.button", { type: "button", onclick: () => R.strip.show(0) && R.card.close() }, "Whole route"),
      ],
    };
  }

  const setOff = (leg) => (leg.rest_days_before > 0 ? `after ${F.waited(leg)}` : "");

  const moment = (when, at_m, pin, name, said, onclick) =>
    el(
      "li",
      {},
      el("span.line-time", {}, el("b", {}, F.time(when)), el("span.quiet", {}, F.at(at_m))),
      el("span.line-pin", { "aria-hidden": "true" }, pin || el("i.line-dot", {})),
      el(
        "span.line-words",
        {},
        onclick
          ? el("button.place-link", { type: "button", dir: "auto", onclick }, name)
          : el("b", { dir: "auto" }, name),
        said && el("span.line-said", { dir: "auto" }, said),
      ),
    );

  function visited(visit) {
    const pin = G.pin(visit.kind, { scale: 0.86, next: visit.next, bare: visit.bare, state: visit.state });
    return moment(visit.when, visit.chainage_m, pin, visit.name, doing(visit), () => R.labels.open(visit));
  }

  // What is done at a visit: the state of its door, then what to buy or fill.
  function doing(visit) {
    if (visit.night) return visit.bare ? "no camp known here" : "camp";
    const kg = visit.ice && (visit.ice.buy || []).reduce((sum, buy) => sum + buy.kg, 0);
    const parts = [
      visit.stop && `buy ${F.plural(visit.stop.carry_meals, "meal")} each`,
      kg && `${F.mass(kg)} of ice`,
      [visit.kind, ...visit.also].includes("fuel") && "fill up",
      [visit.kind, ...visit.also].includes("water") && "water",
      visit.meal && `${visit.meal.meal} out`,
    ];
    return [G.badge(visit), ` · ${parts.filter(Boolean).join(", ")}`];
  }

  function toEat(leg) {
    const day = ((R.plan.menu || {}).days || []).find((one) => one.date === leg.date);
    if (!day) return null;
    const dish = (kind) =>
      day.meals.filter((meal) => meal.kind === kind).map((meal) => (meal.dish ? meal.dish.name : "no dish fits"));
    const rest = [...dish("breakfast"), ...dish("lunch")].join(" · ");
    return R.card.row("To eat", dish("dinner").join(", ") || null, rest && el("p", { dir: "auto" }, rest));
  }

  function tomorrow(leg) {
    const next = (R.plan.answers || {}).stretch;
    if (!next || next.tone === "plain" || next.start_m > leg.end_m || next.end_m <= leg.end_m) return null;
    return R.card.row(
      "Tomorrow",
      "No open shop at first",
      el("p", {}, F.words(next.answer), ", ", F.words(next.detail)),
    );
  }

  // The longest stretch in the sheet, with what helps.
  Y.stretch = () => {
    const told = (R.plan.answers || {}).stretch;
    const { longest } = (R.plan.gaps || {}).groceries || {};
    if (!told || !longest) return null;
    return {
      title: F.words(told.figure),
      over: F.words(told.question),
      body: [
        R.card.row(null, F.words(told.answer), el("p", {}, F.words(told.detail))),
        R.card.row(`${longest.from_words} to ${longest.to_words}`, null, el("p", {}, F.words(longest.words))),
        (R.plan.shortfalls || []).map((short) =>
          R.card.row(
            "What helps",
            null,
            el(
              "ul.remedies",
              {},
              (short.remedies || []).map((one) => el("li", {}, F.words(one.words))),
            ),
          ),
        ),
      ],
      foot: [el("button.button", { type: "button", onclick: () => R.tabs.open("days", "gaps") }, "All long stretches")],
    };
  };

  // Where to fill up, as the plan of the fuel has it: where the route is left, and when.
  const doubt = (stop) => {
    const told = G.states()[G.state(stop)].doubt;
    return told ? `, ${told}` : "";
  };
  Y.fuelOf = fuelOf;
  function fuelOf(leg) {
    const stops = ((R.plan.fuel || {}).stops || []).filter((stop) => stop.leg === leg.number);
    return stops.map((stop) => `${stop.name}, ${F.at(stop.chainage_m)}${doubt(stop)}`).join("; ");
  }
  // Weather and water are kept by date of the trip, rest days included.
  function weatherOf(leg) {
    if (isNumber(leg.low_c)) return [leg.low_c, leg.high_c];
    const row = (((R.plan.cold || {}).weather || {}).days || []).find((day) => day.date === leg.date);
    return row ? [row.low_c, row.high_c] : [null, null];
  }
  function waterOf(leg) {
    const row = ((R.plan.water || {}).litres_by_day || []).find((one) => one.leg === leg.number);
    // What holds for every day is said once, beside the table under Cold.
    if (row) return `${F.volume(row.litres)} in all: ${F.words(row.words)}`;
    const date = 1 + Math.round((Date.parse(leg.date) - Date.parse(R.plan.legs[0].date)) / 86400e3);
    const need = ((R.plan.load || {}).water || []).find((one) => one.day === date);
    return need ? `${F.volume(need.drink_l)} to drink, ${F.volume(need.cook_l)} to cook, for all of you` : null;
  }
  const isNumber = (value) => typeof value === "number";
  Y.facts = (rows) => R.popups.facts(rows);

  function surface(s) {
    if (!s) return null;
    const parts = [
      ["paved_m", "paved"],
      ["gravel_m", "gravel"],
      ["track_m", "track"],
      ["unknown_m", "not known"],
    ];
    return parts
      .filter(([key]) => s[key] > 500)
      .map(([key, word]) => `${F.distance(s[key])} ${word}`)
      .join(", ");
  }

  function gaps() {
    const all = R.plan.gaps || {};
    const food = all.groceries;
    const unknown = (R.plan.coverage || {}).unknown || [];
    return [
      food &&
        (food.longest
          ? el(
              "div.longest",
              {},
              el(
                "p.big-line",
                {},
                `${F.distance(food.longest.length_m)} · ${F.mealsDays(food.longest.meals, food.longest.days)}`,
              ),
              el("p", {}, F.words(food.longest.words)),
              food.longest.crosses_unknown &&
                el(
                  "p.caution",
                  {},
                  G.icon("caution", 16),
                  el("span", {}, "Part of this stretch has no map data: there may be shops, or none."),
                ),
              showButton(food.longest),
            )
          : el("p", {}, "No gap between shops could be worked out.")),
      unknown.length > 0 &&
        el(
          "div.unknown-box",
          {},
          el("h4", {}, "Not known"),
          el(
            "ul",
            {},
            unknown.map((s) =>
              el("li", {}, `${F.at(s.start_m)} to ${F.at(s.end_m)}: no map data. ${F.words(s.reason)}`),
            ),
          ),
          R.more("unknown", unknown),
        ),
      R.pocket.current &&
        el("p.quiet", {}, "The longest is of the plan that is shown; the table is of the plan as made."),
      food && shopGaps(withMeal(food.all)),
      el(
        "details",
        {},
        el("summary", {}, "Longest without ice, water, fuel, camp"),
        R.scroll(
          el(
            "table",
            {},
            el("caption", {}, "Longest stretch without"),
            el(
              "thead",
              {},
              el(
                "tr",
                {},
                ["", "Distance", "Where", "On the way"].map((h) => el("th", { scope: "col" }, h)),
              ),
            ),
            el(
              "tbody",
              {},
              Object.entries(all).map(([supply, gap]) =>
                el(
                  "tr",
                  {},
                  el(
                    "th",
                    { scope: "row" },
                    el("span.supply-name", {}, G.supplyGlyph(supply), WITHOUT[supply] || G.supplyWord(supply)),
                  ),
                  gap.longest
                    ? [
                        el("td.n", {}, F.distance(gap.longest.length_m)),
                        el("td", {}, `${F.at(gap.longest.start_m)} to ${F.at(gap.longest.end_m)}`),
                      ]
                    : [el("td", {}, "not known"), el("td", {}, "")],
                  el("td.n", {}, F.plural(gap.count_passes, "pass", "passes")),
                ),
              ),
            ),
          ),
        ),
      ),
    ];
  }
  const WITHOUT = { groceries: "Full shop", small_groceries: "Any food shop" };
  // Only those into which a meal falls, the longest first.
  const withMeal = (all) => (all || []).filter((gap) => gap.meals > 0).sort((a, b) => b.length_m - a.length_m);
  const MOST = 6;
  function shopGaps(all) {
    if (!all.length) return el("p", {}, "No meal falls between two full shops you can use.");
    const body = el("tbody", {});
    const more = el("button.button", { type: "button", onclick: () => fill(all) }, `Show all ${all.length}`);
    const fill = (gaps) => {
      more.hidden = gaps.length === all.length;
      R.fill(
        body,
        gaps.map((gap) =>
          el(
            "tr",
            {},
            el(
              "th",
              { scope: "row" },
              el("span", { dir: "auto" }, gap.from_words),
              el("span.quiet", {}, " to "),
              el("span", { dir: "auto" }, gap.to_words),
            ),
            el("td.n", {}, F.distance(gap.length_m)),
            el("td.n", {}, F.hours(gap.ride_s)),
            el("td.n", {}, F.plural(gap.meals, "meal")),
          ),
        ),
      );
    };
    fill(all.slice(0, MOST));
    return [
      R.scroll(
        el(
          "table",
          {},
          el(
            "caption",
            {},
            all.length > MOST ? `The ${MOST} longest between full shops you can use` : "Between full shops you can use",
          ),
          el(
            "thead",
            {},
            el(
              "tr",
              {},
              ["From, to", "Distance", "Riding", "Food"].map((h) => el("th", { scope: "col" }, h)),
            ),
          ),
          body,
        ),
      ),
      more,
    ];
  }
  const showButton = (gap) =>
    el("button.button", { type: "button", onclick: () => R.view.fit(gap.start_m, gap.end_m) }, "Show on the map");

  R.days = Y;
})(window.Resupply);
