// Ice, and each cooler's temperature.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const K = {};

  K.sections = () =>
    [
      R.plan.cold && { id: "coolers", title: "Coolers", draw: coolers },
      R.plan.ice && { id: "ice", title: "Ice", draw: ice },
      R.plan.water && { id: "water", title: "Water", draw: water },
      R.plan.fuel && { id: "fuel", title: "Fuel", draw: fuel },
    ].filter(Boolean);

  function coolers() {
    const { cold } = R.plan;
    return [
      ((cold.weather || {}).problems || []).map((text) =>
        el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text))),
      ),
      (cold.coolers || []).map((cooler) =>
        el(
          "div.cooler",
          {},
          el(
            "h3",
            {},
            `${cooler.name.charAt(0).toUpperCase()}${cooler.name.slice(1)} cooler`,
            el("span.quiet", {}, ` ${cooler.kind}`),
          ),
          el("p.lead", {}, F.words(cooler.words)),
          (cooler.trace || []).length > 1 && [
            R.charts.cooler(cooler),
            el(
              "p.chart-key",
              {},
              ...keys(cooler),
              el("span.key-ambient", {}, "outside"),
              el("span.key-ice", {}, "ice left"),
              el("span.key-buy", {}, "ice bought"),
            ),
          ],
          el(
            "details",
            {},
            el("summary", {}, "More of this cooler"),
            R.popups.facts([
              [
                safety(cooler) ? "Must stay cold" : "Wanted cold",
                (cooler.needs || []).length
                  ? cooler.needs.map((need) => `${F.when(need.from)} to ${F.when(need.to)}`).join("; ")
                  : null,
              ],
              ["At its fullest", (cooler.room && F.words(cooler.room.words)) || null],
              ["Warmer than the limit", warm(cooler)],
              [
                "First without ice",
                cooler.ice_gone
                  ? F.when(cooler.ice_gone)
                  : unknown(cooler)
                    ? "not known"
                    : (cooler.trace || []).some((row) => row.ice_kg > 0)
                      ? "not before the end"
                      : "no ice is put in",
              ],
              typeof cooler.ua_w_per_k === "number"
                ? ["Heat leak", `${F.number(cooler.ua_w_per_k, 2)} W per degree: ${cooler.ua_source}`]
                : null,
            ]),
            (cooler.purchases || []).length > 0 && [
              el("h4", {}, "Ice"),
              el("ol.plain-list.buys", {}, cooler.purchases.map(purchase)),
            ],
          ),
          cooler.other_form && el("p", {}, F.words(cooler.other_form.words)),
        ),
      ),
      notes("Assumptions", cold.assumptions),
      notes("Sources", cold.sources),
    ];
  }
  // Without weather nobody can tell; that is never shown as fine.
  const unknown = (cooler) => (cooler.trace || []).some((row) => row.temp_c === null);
  function warm(cooler) {
    if (cooler.hours_above > 0) {
      const from = cooler.fails_at ? `, from ${F.when(cooler.fails_at)}` : "";
      const then = cooler.unknown_from ? "; then not known" : "";
      return `${F.number(cooler.hours_above, cooler.hours_above < 2 ? 1 : 0)} h in all${from}${then}`;
    }
    if (cooler.unknown_from) return `not known from ${F.when(cooler.unknown_from)}`;
    if (cooler.state === "no need") return null;
    return `never while ${safety(cooler) ? "food that spoils is inside" : "it is wanted cold"} (estimate)`;
  }

  // Drinks are a matter of comfort: nothing in their cooler spoils.
  const safety = (cooler) => cooler.safety !== false;
  const keys = (cooler) =>
    safety(cooler)
      ? [
          el("span.key-temp", {}, "inside, food that spoils in it"),
          el("span.key-idle", {}, "inside, nothing that spoils"),
        ]
      : [el("span.key-temp", {}, "inside, wanted cold"), el("span.key-idle", {}, "inside, other times")];

  // Ice that the map does not state is never shown without that word.
  function purchase(buy) {
    const likely = buy.confidence !== "stated";
    const said = buy.words
      ? F.words(buy.words)
      : `${buy.label}: ${F.plural(buy.bags, buy.kind === "block" ? "block" : "bag")}, ${F.mass(buy.kg)}`;
    return el(
      "li",
      {},
      el("p", {}, el("b", {}, F.when(buy.at)), likely && el("span.mark", {}, "ice likely, not stated")),
      el("p", { dir: "auto" }, said),
    );
  }

  const notes = (title, rows) =>
    (rows || []).length > 0 &&
    el(
      "details",
      {},
      el("summary", {}, title),
      el(
        "ul",
        {},
        rows.map((row) => el("li", {}, F.words(row))),
      ),
    );

  function ice() {
    const block = R.plan.ice;
    const card = (stop) =>
      el(
        "li.line-card",
        {},
        el(
          "span.line-main",
          {},
          G.supplyGlyph("ice", 18),
          el("b", { dir: "auto" }, R.passName(stop.pass)),
          el("span.quiet", {}, `${F.at(stop.chainage_m)}, ${F.when(stop.eta)}`),
        ),
        G.badge(stop),
        el("p", {}, F.words(stop.words)),
      );
    const spare = block.spare || [];
    return [
      el("p.lead", {}, F.words(block.words)),
      el("ol.plain-list", {}, (block.stops || []).map(card)),
      spare.length > 0 &&
        el("details", {}, el("summary", {}, "More places with ice"), el("ol.plain-list", {}, spare.map(card))),
      block.rule_words && el("p.quiet", {}, F.words(block.rule_words)),
    ];
  }

  // The days' own reasons in the table; what is said of every day once below it.
  function water() {
    return [
      el("p.lead", {}, F.words(R.plan.water.words)),
      R.plan.water.on_board && el("p", {}, F.words(R.plan.water.on_board.words)),
      R.scroll(
        el(
          "table",
          {},
          el("caption", {}, "Water by day"),
          el(
            "tbody",
            {},
            (R.plan.water.litres_by_day || []).map((row) =>
              el(
                "tr",
                {},
                el("th", { scope: "row" }, `Day ${row.leg}`),
                el("td.n", {}, F.volume(row.litres)),
                el("td", {}, F.words(row.words)),
              ),
            ),
          ),
        ),
      ),
      el("p", {}, F.words(R.plan.water.every_day)),
    ];
  }

  function fuel() {
    const block = R.plan.fuel;
    return [
      el("p.lead", {}, F.words(block.words)),
      block.tank_words && el("p", {}, F.words(block.tank_words)),
      (block.exceeded || []).map((stretch) =>
        el("p.caution", {}, G.icon("alarm", 16), el("span", {}, F.words(stretch.words))),
      ),
      el(
        "ol.plain-list",
        {},
        (block.stops || [])
          .map((stop) => R.passById.get(stop.pass))
          .filter(Boolean)
          .map((crossing) =>
            el(
              "li.line-card",
              {},
              el(
                "span.line-main",
                {},
                G.supplyGlyph("fuel", 18),
                el("b", { dir: "auto" }, R.placeName(crossing.place)),
                el("span.quiet", {}, `${F.at(crossing.chainage_m)}, ${F.when(crossing.eta)}`),
              ),
              G.badge(crossing),
            ),
          ),
      ),
    ];
  }

  R.cold = K;
})(window.Resupply);
