// The plan in short: title line, headline, a few facts, the first cautions.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const TONES = { caution: "Caution", alarm: "Act on this" };

  function draw() {
    const { trip, summary, route } = R.plan;
    R.fill(R.byId("trip-name"), trip.name || route.name || "Trip");
    document.title = `${trip.name || route.name || "Trip"} · resupply`;
    const last = R.plan.legs.at(-1);
    const here_m = R.plan.legs[0].start_m;
    const end = last ? last.date : trip.start_date;
    R.fill(
      R.byId("trip-line"),
      [
        here_m > 0
          ? `${F.distance(route.length_m - here_m)} of ${F.distance(route.length_m)} to go`
          : F.distance(route.length_m),
        F.plural(R.plan.legs.length, "riding day"),
        trip.start_date === end ? F.date(end, true) : `${F.date(trip.start_date)} to ${F.date(end, true)}`,
        F.plural(trip.people, "rider"),
      ].join(" · "),
    );
    R.fill(
      R.byId("summary"),
      el("p.headline", { dir: "auto" }, F.words(summary.headline)),
      (summary.cautions || []).length > 0 &&
        el(
          "p.first-caution",
          {},
          G.icon("caution", 18),
          el("span", {}, F.words(summary.cautions[0])),
          summary.cautions.length > 1 &&
            el(
              "button.link",
              { type: "button", onclick: () => R.tabs.open("notes", "cautions") },
              `${summary.cautions.length - 1} more`,
            ),
        ),
    );
    R.fill(
      R.byId("facts"),
      el(
        "dl.key-facts",
        {},
        (summary.facts || []).map((fact) =>
          el(
            `div.key-fact.tone-${fact.tone || "plain"}${F.words(fact.value_words).length > 46 ? ".wordy" : ""}`,
            {},
            el("dt", {}, fact.label),
            el(
              "dd",
              {},
              TONES[fact.tone] && el("span.tone-word", {}, G.icon(fact.tone, 16), TONES[fact.tone]),
              F.words(fact.value_words),
            ),
          ),
        ),
      ),
    );
  }

  R.summary = { draw };
})(window.Resupply);
