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
      start && el("p.start-carry", {}, F.words(start.words)),
      el("ol.stop-list", {}, (R.plan.stops || []).map(stopCard)),
      (R.plan.stops || []).length === 0 && el("p", {}, "No shop stop is planned on this route."),
    ];
  }

  // A stop in three lines; the rest of it is in its sheet.
  function stopCard(stop) {
    return el(
      "li.stop-card",
      {},
      el(
        "button.stop-button",
        { type: "button", "data-keep": `stop-${stop.place}`, onclick: () => R.view.openStop(stop) },
        el("b.num", { "aria-label": `Stop ${stop.number}` }, stop.number),
        el(
          "span.stop-words",
          {},
          el("b", { dir: "auto" }, R.placeName(stop.place)),
          el("span.quiet", {}, ` ${F.at(stop.chainage_m)} · ${F.when(stop.arrive)}`),
        ),
        G.badge(stop),
      ),
      el("p.carry", {}, F.words(stop.carry_words)),
      (stop.ice || []).map((buy) => el("p.buy-ice", {}, G.supplyGlyph("ice", 16), el("span", {}, F.words(buy.words)))),
      el(
        "details",
        {},
        el("summary", {}, "Why here"),
        el("p", {}, F.words(stop.why)),
        stop.why_not_previous && el("p", {}, F.words(stop.why_not_previous)),
        stop.carry_kg_words && el("p.quiet", {}, F.words(stop.carry_kg_words)),
      ),
    );
  }

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
              F.words(fallback.words),
              fallback.kind !== "none" && fallback.state && [" ", G.badge({ state: fallback.state })],
            ),
            stop.meal_out && el("p", {}, F.words(stop.meal_out.words)),
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
    const fold = el("details", {}, el("summary", {}, `All ${F.number(passes.length)} places`));
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
    fold.append(
      el("label.field", {}, el("span", {}, "Show"), pick),
      R.scroll(
        el(
          "table",
          {},
          el("caption", {}, "In riding order; distances from the route as the crow flies"),
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
    );
    return fold;
  }

  R.stops = S;
})(window.Resupply);
