// Where the route does not allow the limit, and which daily distance suits it.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const W = {};

  W.sections = () =>
    [
      R.changed.section(),
      (R.plan.shortfalls || []).length > 0 && {
        id: "limit",
        title: "Over the carry limit",
        short: "Over the limit",
        draw: shortfalls,
      },
      R.plan.naive &&
        (R.plan.naive.shut || []).length > 0 && {
          id: "naive",
          title: "Without opening hours",
          short: "Without hours",
          draw: naive,
        },
      R.plan.sweep && { id: "daily", title: "Which daily distance", short: "Daily distance", draw: sweep },
      R.more("whatif"),
    ].filter(Boolean);

  function shortfalls() {
    return R.plan.shortfalls.map((short) =>
      el(
        "div.longest.alarm",
        {},
        el(
          "p.big-line",
          {},
          G.icon("alarm", 20),
          `${F.at(short.start_m)} to ${F.at(short.end_m)}: ${F.days(short.days)}, limit ${F.days(short.limit_days)}`,
        ),
        el("p", {}, F.words(short.words)),
        (short.remedies || []).length > 0 &&
          el(
            "div",
            {},
            el("h4", {}, "What would help"),
            el(
              "ul.remedies",
              {},
              short.remedies.map((remedy) => el("li", {}, F.words(remedy.words), el("span.quiet", {}, cost(remedy)))),
            ),
          ),
        el(
          "button.button",
          { type: "button", onclick: () => R.view.fit(short.start_m, short.end_m) },
          "Show on the map",
        ),
      ),
    );
  }
  function cost(remedy) {
    const parts = [];
    if (typeof remedy.minutes === "number")
      parts.push(
        remedy.minutes === 0
          ? "no extra time"
          : `${Math.abs(remedy.minutes)} min ${remedy.minutes > 0 ? "more" : "less"} at shops`,
      );
    if (typeof remedy.excess_meals === "number")
      parts.push(remedy.excess_meals > 0 ? `still ${F.plural(remedy.excess_meals, "meal")} over` : "within the limit");
    return parts.length ? ` (${parts.join(", ")})` : "";
  }

  // A plan that ignores opening hours, so that the rider sees what the hours change.
  function naive() {
    const block = R.plan.naive;
    return [
      el("p.lead", {}, F.words(block.words)),
      el(
        "ol.plain-list",
        {},
        block.shut.map((door) =>
          el(
            "li.line-card",
            {},
            el(
              "span.line-main",
              {},
              G.stateGlyph("shut", 18),
              el("b", { dir: "auto" }, door.name),
              el("span.quiet", {}, `${F.at(door.chainage_m)}, ${F.when(door.arrive)}`),
            ),
            el("p", {}, F.words(door.state_words)),
          ),
        ),
      ),
    ];
  }

  // One chart per start date; several start dates are chosen between.
  function sweep() {
    const { rows, words } = R.plan.sweep;
    const choose = R.chooseDaily ? (row) => R.chooseDaily(row) : null;
    const starts = [...new Set(rows.map((row) => row.start_date || ""))];
    const chosen = rows.find((row) => row.chosen) || rows[0];
    const box = el("div", {});
    const pick = el(
      "select",
      { onchange: () => fill(pick.value) },
      starts.map((start) => el("option", { value: start }, start ? F.date(start) : "as planned")),
    );
    const fill = (start) => {
      const some = rows.filter((row) => (row.start_date || "") === start);
      R.fill(box, R.charts.sweep(some, choose), sweepTable(some, choose));
    };
    pick.value = chosen ? chosen.start_date || "" : "";
    fill(pick.value);
    return [
      el("p.lead", {}, F.upper(F.words(words))),
      starts.length > 1 && el("label.field", {}, el("span", {}, "Start on"), pick),
      el(
        "p.chart-key",
        {},
        el("span.key-bar", {}, "food carried at most"),
        el("span.key-over", {}, "over your limit"),
        el("span.key-chosen", {}, "this plan"),
        el("span.key-extra", {}, "extra minutes"),
        el("span.key-best", {}, "best for one goal"),
      ),
      box,
    ];
  }

  function sweepTable(rows, choose) {
    const doubt = rows.some((row) => typeof row.doubtful_stops === "number");
    const heads = [
      `${F.distanceUnit()} a day`,
      "Days",
      "Stops",
      "Most food",
      "Extra",
      "Shut",
      ...(doubt ? ["Doubtful"] : []),
      "",
    ];
    const daily = (row) => F.number(F.inUnits(row.daily_m), 0);
    return el(
      "details",
      { open: rows.length <= 12 },
      el("summary", {}, `All ${rows.length} distances as a table`),
      R.scroll(
        el(
          "table",
          {},
          el("caption", {}, "For each daily distance"),
          el(
            "thead",
            {},
            el(
              "tr",
              {},
              heads.map((h) => el("th", { scope: "col" }, h)),
            ),
          ),
          el(
            "tbody",
            {},
            rows.map((row) =>
              el(
                `tr${row.chosen ? ".chosen-row" : ""}`,
                {},
                el(
                  "th",
                  { scope: "row" },
                  choose ? el("button.link", { type: "button", onclick: () => choose(row) }, daily(row)) : daily(row),
                ),
                el("td.n", {}, row.days),
                el("td.n", {}, row.stops),
                el("td.n", {}, F.days(row.max_carry_days), row.excess_meals > 0 && el("span.over-word", {}, " over")),
                el("td.n", {}, F.hours(row.extra_s)),
                el("td.n", {}, row.shut_on_arrival),
                doubt && el("td.n", {}, row.doubtful_stops),
                el("td", {}, [row.chosen ? "this plan" : null, ...row.best].filter(Boolean).join(", ")),
              ),
            ),
          ),
        ),
      ),
    );
  }

  R.whatif = W;
})(window.Resupply);
