// Days and gaps.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const Y = {};

  Y.sections = () => [
    { id: "days", title: "Days", draw: days },
    { id: "gaps", title: "Gaps", draw: gaps },
  ];

  function days() {
    return el("ol.day-list", {}, R.plan.legs.map(day));
  }

  function day(leg) {
    const stops = (R.plan.stops || []).filter((stop) => stop.leg === leg.number);
    const ice = ((R.plan.ice || {}).stops || []).filter((stop) => stop.leg === leg.number);
    const fuel = fuelOf(leg);
    const water = waterOf(leg);
    const [low, high] = weatherOf(leg);
    return el(
      `li.day-card.${G.dayClass(leg.number)}`,
      {},
      leg.rest_days_before > 0 && el("p.rest-day", {}, `${F.waited(leg)} before this one`),
      el(
        "div.day-head",
        {},
        el(
          "h3",
          {},
          el(
            "button.day-button",
            { type: "button", onclick: () => R.strip.show(leg.number) },
            el("span.day-number", {}, `Day ${leg.number}`),
            el("span", {}, F.date(leg.date)),
          ),
        ),
        el("p.day-figures", {}, `${F.distance(leg.length_m)} · ${F.hours(leg.ride_s)} riding`),
      ),
      el(
        "p.day-line",
        {},
        `${F.time(leg.depart)} to about ${F.time(leg.arrive)} · ${F.at(leg.start_m)} to ${F.at(leg.end_m)}`,
      ),
      (leg.cautions || []).map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))),
      el(
        "ul.day-stops",
        {},
        stops.map((stop) =>
          el(
            "li",
            {},
            el(
              "button.stop-link",
              { type: "button", onclick: () => R.view.openStop(stop) },
              el("b.num", {}, stop.number),
              el("span", { dir: "auto" }, R.placeName(stop.place)),
            ),
            el("span.quiet", {}, ` ${F.at(stop.chainage_m)}, ${F.time(stop.arrive)} `),
            G.badge(stop),
          ),
        ),
        stops.length === 0 && el("li.quiet", {}, "No shop stop this day."),
      ),
      Y.facts([
        ["Night", leg.night ? F.words(leg.night.words) : null],
        [
          "Ice",
          ice.length
            ? ice.map((stop) => `${R.passName(stop.pass)} (${stop.confidence})`).join(", ")
            : R.plan.ice
              ? "none planned"
              : null,
        ],
        ["Fuel", fuel || null],
        ["Water", water],
        ...(leg.facts || []).map((fact) => [fact.label, F.words(fact.words)]),
        ["Weather", isNumber(low) && isNumber(high) ? `${F.temp(low)} to ${F.temp(high)}` : null],
        ["Surface", surface(leg.surface)],
      ]),
      R.more("day", leg),
    );
  }
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
      food && (food.all || []).length > 0 && shopGaps(food.all),
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
    ];
  }
  const WITHOUT = { groceries: "Full shop", small_groceries: "Any food shop" };
  // The longest ones in riding order; towns with many shops make many gaps of no length.
  const MOST = 10;
  function shopGaps(all) {
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
    const longest = [...all].sort((a, b) => b.length_m - a.length_m).slice(0, MOST);
    fill(all.filter((gap) => longest.includes(gap)));
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
