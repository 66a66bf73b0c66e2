// Cautions, care with their sources, how to read it, where the data is from.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const N = {};
  N.sections = () =>
    [
      { id: "cautions", title: "Cautions", draw: cautions },
      R.plan.care && { id: "care", title: "Food care", draw: care },
      { id: "reading", title: "How to read this", draw: reading },
      { id: "data", title: "Data and sources", draw: data },
    ].filter(Boolean);

  function cautions() {
    const rows = [...new Set([...(R.plan.summary.cautions || []), ...(R.plan.route.warnings || [])].map(F.words))];
    if (!rows.length) return el("p", {}, "None beyond those shown beside the days and stops.");
    return el(
      "ul.caution-list",
      {},
      rows.map((text) => el("li.caution", {}, G.icon("caution", 18), el("span", {}, text))),
    );
  }

  function care() {
    const { notes, temperatures, boil_min, sources } = R.plan.care;
    return [
      el(
        "dl.care",
        {},
        (notes || []).map((note) => [
          el("dt", {}, note.title),
          el("dd", {}, el("details", {}, el("summary", {}, "Read"), el("p", {}, F.words(note.words)))),
        ]),
      ),
      typeof boil_min === "number" &&
        el("p", {}, `Boil untreated water for ${F.plural(boil_min, "minute")} on this route.`),
      (temperatures || []).length > 0 &&
        R.scroll(
          el(
            "table",
            {},
            el("caption", {}, "Hot enough inside"),
            el(
              "tbody",
              {},
              temperatures.map((row) =>
                el(
                  "tr",
                  {},
                  el("th", { scope: "row" }, row.food),
                  el(
                    "td",
                    {},
                    row.temp_c === null
                      ? row.words
                      : [
                          R.prefs.units === "imperial"
                            ? `${F.number(row.temp_f, 0)} °F`
                            : `${F.number(row.temp_c, 0)} °C`,
                          row.rest_min && `then rest ${F.number(row.rest_min, 0)} min`,
                          row.words,
                        ]
                          .filter(Boolean)
                          .join(", "),
                  ),
                ),
              ),
            ),
          ),
        ),
      (sources || []).length > 0 &&
        el(
          "details",
          {},
          el("summary", {}, "Where this is from, and how sure it is"),
          el(
            "dl.care",
            {},
            sources.map((row) => [el("dt", {}, row.source), el("dd", {}, row.backs.join("; "))]),
          ),
        ),
    ];
  }

  function reading() {
    return el(
      "ul",
      {},
      ((R.plan.explain || {}).rules || []).map((text) => el("li", {}, F.words(text))),
    );
  }

  function data() {
    const { coverage, attribution, trip, made_with, route } = R.plan;
    return [
      coverage && el("p.lead", {}, F.words(coverage.words)),
      R.popups.facts([
        ["Map data", coverage ? coverage.source : null],
        ["Date of the data", coverage && coverage.data_date ? F.date(coverage.data_date, true) : "not stated"],
        ["Route file", route.name],
        ["Time zone", trip.time_zone],
        ["Holidays", trip.country],
        ["Looked for shops within", F.short(trip.corridor_m)],
        ["Average speed", F.speed(trip.speed_kmh)],
        ["Made with", made_with],
      ]),
      trip.settings &&
        el(
          "details",
          {},
          el("summary", {}, "Settings of the trip file"),
          R.scroll(
            el(
              "table",
              {},
              el("caption", {}, "As read"),
              el(
                "tbody",
                {},
                Object.entries(trip.settings).map(([key, value]) =>
                  el("tr", {}, el("th", { scope: "row" }, el("code", {}, key)), el("td", {}, shown(value))),
                ),
              ),
            ),
          ),
        ),
      el(
        "p",
        {},
        N.credit(),
        attribution && attribution.data_date ? `, data of ${F.date(attribution.data_date, true)}` : "",
      ),
      el("p.quiet", {}, "Map drawn with Leaflet. A plan is an estimate: look at the shop's own notice."),
    ];
  }

  // A table or a list of tables as a rider would write it.
  const shown = (value) => {
    if (Array.isArray(value)) return value.map(shown).join("; ");
    return value && typeof value === "object"
      ? Object.entries(value)
          .map(([key, one]) => `${key} ${shown(one)}`)
          .join(", ")
      : String(value);
  };

  // The one link of the page; only an https address is ever made a link.
  N.credit = () => {
    const { attribution } = R.plan;
    if (!attribution) return null;
    const safe = /^https:\/\//.test(attribution.url || "");
    return safe
      ? el("a", { href: attribution.url, rel: "noopener noreferrer", target: "_blank" }, attribution.text)
      : el("span", {}, attribution.text);
  };

  R.notes = N;
})(window.Resupply);
