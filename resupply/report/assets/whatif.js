// Where the route does not allow the limit, and which daily distance suits it.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const W = {};

  W.sections = () => [
    (R.plan.shortfalls || []).length > 0 && { id: "limit", title: "Over the carry limit", draw: shortfalls },
    R.plan.sweep && { id: "daily", title: "Which daily distance", draw: sweep },
  ].filter(Boolean);

  function shortfalls() {
    return R.plan.shortfalls.map((short) => el("div.longest.alarm", {},
      el("p.big-line", {}, G.icon("alarm", 20), `${F.at(short.start_m)} to ${F.at(short.end_m)}: ${F.days(short.days)}, limit ${F.days(short.limit_days)}`),
      el("p", {}, F.words(short.words)),
      (short.remedies || []).length > 0 && el("div", {}, el("h4", {}, "What would mend it"),
        el("ul.remedies", {}, short.remedies.map((remedy) => el("li", {}, F.words(remedy.words), el("span.quiet", {}, cost(remedy)))))),
      el("button.button", { type: "button", onclick: () => R.view.fit(short.start_m, short.end_m) }, "Show on the map")));
  }
  function cost(remedy) {
    const parts = [];
    if (typeof remedy.minutes === "number") parts.push(remedy.minutes > 0 ? `${remedy.minutes} min more` : "no extra time");
    if (typeof remedy.excess_meals === "number") parts.push(remedy.excess_meals > 0 ? `still ${F.plural(remedy.excess_meals, "meal")} over` : "within the limit");
    return parts.length ? ` (${parts.join(", ")})` : "";
  }

  function sweep() {
    const { rows, words } = R.plan.sweep;
    const choose = R.chooseDaily ? (row) => R.chooseDaily(row.daily_m) : null;
    return [
      el("p.lead", {}, F.words(words)),
      R.charts.sweep(rows, choose),
      el("p.chart-key", {}, el("span.key-bar", {}, "food carried at most"), el("span.key-over", {}, "over your limit"), el("span.key-extra", {}, "extra minutes"), el("span.key-best", {}, "best for something")),
      el("details", { open: rows.length <= 12 }, el("summary", {}, `All ${rows.length} distances as a table`),
        el("div.scroll", {}, el("table", {}, el("caption", {}, "For each daily distance"),
          el("thead", {}, el("tr", {}, [`${F.distanceUnit()} a day`, "Days", "Most food", "Extra", "Shut", ""].map((h) => el("th", { scope: "col" }, h)))),
          el("tbody", {}, rows.map((row) => el(`tr${row.chosen ? ".chosen-row" : ""}`, {},
            el("th", { scope: "row" }, choose ? el("button.link", { type: "button", onclick: () => choose(row) }, F.number(F.inUnits(row.daily_m), 0)) : F.number(F.inUnits(row.daily_m), 0)),
            el("td.n", {}, row.days), el("td.n", {}, F.days(row.max_carry_days), row.excess_meals > 0 && el("span.over-word", {}, " over")), el("td.n", {}, F.hours(row.extra_s)), el("td.n", {}, row.shut_on_arrival),
            el("td", {}, [row.chosen ? "this plan" : null, ...row.best].filter(Boolean).join(", ")))))))),
    ];
  }

  R.whatif = W;
})(window.Resupply);
