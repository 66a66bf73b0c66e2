// Stops and carry, what else is on the way, and what to do if a shop lets you down.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const S = {};

  S.sections = () => [
    { id: "stops", title: "Stops and carry", short: "Stops", draw: stops },
    { id: "downs", title: "If a shop lets you down", short: "If one is shut", draw: letDown },
    { id: "places", title: "Everything on the way", short: "All places", draw: everything },
  ];

  function stops() {
    const start = R.plan.start_carry;
    return [
      styles(),
      start &&
        el(
          "p.start-carry",
          {},
          el("b", {}, "At the start: "),
          F.words(start.words),
          start.kg_words && el("span.quiet", {}, ` ${F.words(start.kg_words)}`),
        ),
      el("ol.stop-list", {}, (R.plan.stops || []).map(stopCard)),
      (R.plan.stops || []).length === 0 && el("p", {}, "No shop stop is planned on this route."),
    ];
  }

  const STYLES = { fresh: "Fresh", balanced: "Balanced", few: "Few stops" };

  // Three ways to shop, side by side; on the live page one tap plans the other.
  function styles() {
    const rows = R.plan.styles || [];
    if (!rows.length) return null;
    const choose = R.chooseStyle || null;
    return el(
      "div.styles",
      { role: "group", "aria-label": "Ways to shop" },
      rows.map((row) =>
        el(
          `button.style-choice`,
          {
            type: "button",
            "data-keep": `style-${row.style}`,
            "aria-pressed": String(row.chosen),
            disabled: !choose && !row.chosen,
            onclick: () => choose && !row.chosen && choose(row.style, STYLES[row.style]),
          },
          el("b", {}, STYLES[row.style]),
          el("span", {}, `${F.plural(row.stops, "stop")}, ${F.hours(row.minutes * 60)}`),
          el("span", {}, `at most ${F.load(row.most_meals)}`),
          el("span", {}, `${row.fresh_dinners} of ${F.plural(row.dinners, "dinner")} fresh`),
          el("span", {}, `${Math.round(row.fail_chance * 100)} % that a door is shut`),
        ),
      ),
    );
  }

  function stopCard(stop) {
    const place = R.place(stop.place);
    const crossing = R.passById.get(stop.pass);
    return el(
      "li.stop-card",
      {},
      el(
        "div.stop-head",
        {},
        el("b.num.num-big", { "aria-label": `Stop ${stop.number}` }, stop.number),
        el(
          "div",
          {},
          el("h3", { dir: "auto" }, R.placeName(stop.place)),
          el("p.quiet", {}, `${place.kind_words || ""} · ${F.at(stop.chainage_m)}, day ${stop.leg}`),
        ),
        G.badge(stop),
      ),
      el("p.carry", {}, F.words(stop.carry_words), weight(stop)),
      (stop.ice || []).map((buy) =>
        el("p.buy-ice", {}, G.supplyGlyph("ice", 18), el("span", {}, el("b", {}, "Ice: "), F.words(buy.words))),
      ),
      R.popups.facts([
        ["Arrive, leave", `${F.when(stop.arrive)}, ${F.time(stop.leave)}`],
        stop.from_camp && ["From camp", "there and back, at the hour you choose"],
        ["Then", F.words(stop.state_words)],
        ["Hours", crossing ? R.popups.hours(crossing) : null],
        ["Detour", crossing ? R.popups.detour(crossing) : F.short(stop.detour_m)],
        [
          "Next shop stop",
          stop.to_chainage_m
            ? `${F.at(stop.to_chainage_m)}, ${F.distance(Math.max(stop.to_chainage_m - stop.on_board_m, 0))} on`
            : null,
        ],
      ]),
      el("p.why", {}, el("b", {}, "Why here: "), F.words(stop.why)),
      stop.why_not_previous && el("p.why", {}, F.words(stop.why_not_previous)),
      el("button.button", { type: "button", onclick: () => R.view.openStop(stop) }, "Show on the map"),
    );
  }

  const weight = (stop) => {
    const said = stop.carry_kg_words
      ? F.words(stop.carry_kg_words)
      : stop.carry_kg
        ? `About ${F.mass(stop.carry_kg)}.`
        : null;
    return said && el("span.quiet", {}, ` ${said}`);
  };

  const FALLBACK = { shop: "Next shop", meal_out: "A meal out", none: "Nothing" };

  function letDown() {
    const { spare } = R.plan;
    return [
      spare &&
        el(
          "div.longest",
          {},
          el("p.big-line", {}, `Spare: ${F.plural(spare.meals, "meal")}${spare.kg ? `, ${F.mass(spare.kg)}` : ""}`),
          el("p", {}, F.words(spare.words)),
        ),
      el(
        "ol.plain-list",
        {},
        (R.plan.stops || []).map((stop) => {
          /** @type {Partial<FallbackRow>} */
          const fallback = stop.fallback || { kind: "none" };
          return el(
            "li.fall-card",
            {},
            el(
              "h3",
              {},
              el("b.num", {}, stop.number),
              el("span", { dir: "auto" }, ` ${R.placeName(stop.place)} is shut`),
            ),
            stop.if_shut && el("p", {}, F.words(stop.if_shut.words)),
            // Its state when it is reached late, not when the plan passes it.
            el(
              "p",
              {},
              el("b", {}, `${FALLBACK[fallback.kind] || "Next"}: `),
              F.words(fallback.words),
              fallback.kind !== "none" && fallback.state && [" ", G.badge({ state: fallback.state })],
            ),
            stop.meal_out && el("p", {}, el("b", {}, "Or a meal out: "), F.words(stop.meal_out.words)),
          );
        }),
      ),
    ];
  }

  // Every pass in riding order, for those who read rather than look.
  function everything() {
    const passes = R.plan.passes || [];
    const body = el("tbody");
    const pick = el(
      "select",
      { onchange: fill },
      el("option", { value: "shops" }, "Shops"),
      Object.keys(G.supplies)
        .filter((s) => s !== "mark")
        .map((s) => el("option", { value: s }, G.supplyWord(s))),
      el("option", { value: "all" }, "All places"),
    );
    const more = el("button.button", { type: "button", onclick: () => fill(null, Infinity) });
    function fill(_, limit = 60) {
      const wanted = passes.filter((crossing) => {
        const place = R.place(crossing.place);
        return (
          pick.value === "all" || (pick.value === "shops" ? G.isShop(place) : pick.value in (place.supplies || {}))
        );
      });
      R.fill(
        body,
        wanted.slice(0, limit).map((crossing) => {
          const stop = R.stopByPass.get(crossing.id);
          return el(
            "tr",
            {},
            el("td.n", {}, F.number(F.inUnits(crossing.chainage_m), 0)),
            el(
              "th",
              { scope: "row" },
              stop && el("b.num", {}, stop.number),
              el(
                "button.place-link",
                { type: "button", dir: "auto", onclick: () => R.view.openPass(crossing) },
                R.placeName(crossing.place),
              ),
              el(
                "span.quiet",
                {},
                ` ${R.place(crossing.place).kind_words || ""}, ` +
                  R.popups.offset(crossing).replace(", straight line", ""),
              ),
            ),
            el("td", {}, F.when(crossing.eta)),
            el("td", {}, G.badge(crossing)),
          );
        }),
      );
      more.hidden = wanted.length <= limit;
      R.fill(more, `Show all ${wanted.length}`);
    }
    fill();
    return [
      el("label.field", {}, el("span", {}, "Show"), pick),
      R.scroll(
        el(
          "table",
          {},
          el("caption", {}, "In riding order; distances off the road as the crow flies"),
          el(
            "thead",
            {},
            el(
              "tr",
              {},
              [F.distanceUnit(), "Place", "You pass", "Then"].map((h) => el("th", { scope: "col" }, h)),
            ),
          ),
          body,
        ),
      ),
      more,
    ];
  }

  R.stops = S;
})(window.Resupply);
