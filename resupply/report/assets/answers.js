// The three answers that stand first, the one line on what could go wrong most, the ways to shop.
// All of it is the plan's own; here it is only chosen which shop is the next one by now.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const Y = {};

  Y.title = () => {
    const { trip, route, legs } = R.plan;
    R.fill(R.byId("trip-name"), trip.name || route.name || "Trip");
    document.title = `${trip.name || route.name || "Trip"} · resupply`;
    const here_m = legs[0].start_m;
    const end = legs.length ? legs.at(-1).date : trip.start_date;
    const far = here_m > 0 ? `${F.distance(route.length_m - here_m)} to go` : F.distance(route.length_m);
    R.fill(R.byId("trip-line"), `${far} · ${F.dates(trip.start_date, end)}`);
  };

  // Of a trip that is being ridden what counts is ahead: by the place that was found, else by the
  // device's clock.
  Y.next = () => {
    const shops = (R.plan.answers || {}).shops || [];
    const here = R.road ? R.road.last : null;
    const found = R.ticks.found();
    const now = Date.now();
    const { legs } = R.plan;
    const riding = now > Date.parse(legs[0].depart) && now < Date.parse(legs.at(-1).arrive);
    const ahead = (one) => {
      const { place } = R.passById.get(one.pass) || {};
      if (found.shut.has(place) || found.bought.has(place)) return false;
      if (!one.until) return true;
      if (here !== null && here !== undefined) return one.start_m > here + 50;
      return !riding || Date.parse(one.until) > now;
    };
    return shops.find(ahead) || shops.at(-1) || null;
  };

  // A figure to be read from afar: "446 km" is a large number over its unit.
  function stone(figure, tone, unit) {
    const [number, ...rest] = F.words(figure).split(" ");
    return el(
      `span.stone.stone-${tone}`,
      {},
      el("b", {}, number),
      el("i", {}, [...rest, unit].filter(Boolean).join(" ")),
    );
  }

  const door = (one) =>
    one.state &&
    one.state_words &&
    el(
      `span.state.tone-${G.tone(one.state)}`,
      {},
      G.stateGlyph(one.state, 14),
      el("span", {}, F.words(one.state_words)),
    );

  const row = (id, one, tone, unit, onclick) =>
    el(
      "button.answer",
      { type: "button", id, onclick, "data-keep": id },
      stone(one.figure, tone, unit),
      el(
        "span.answer-words",
        {},
        el("span.answer-question", {}, F.words(one.question)),
        el("span.answer-said", { dir: "auto" }, F.words(one.answer)),
        el("span.answer-detail", { dir: "auto" }, door(one), one.state_words && " · ", F.words(one.detail)),
      ),
      G.icon("go", 16),
    );

  function three(told) {
    const next = Y.next();
    return el(
      "div.answers",
      {},
      next && row("answer-shop", next, "next", "", () => openShop(next)),
      row("answer-stretch", told.stretch, told.stretch.tone === "plain" ? "calm" : "gap", "", openStretch),
      row("answer-ice", told.ice, "calm", "ice", () => openIce(told.ice)),
    );
  }

  const openShop = (one) =>
    one.pass && R.passById.has(one.pass) ? R.view.openPass(R.passById.get(one.pass)) : lists();
  const lists = () => R.tabs.open("lists", "stops");
  function openStretch() {
    const { start_m: from, end_m: to } = R.plan.answers.stretch;
    R.card.open({ key: "stretch", draw: R.days.stretch, tab: "days" });
    R.view.fit(from, to);
  }
  const openIce = (one) =>
    one.pass && R.passById.has(one.pass)
      ? R.view.openPass(R.passById.get(one.pass))
      : R.tabs.open("kitchen", R.plan.ice ? "ice" : undefined);

  function worst(told) {
    if (!told.worst) return null;
    const { words, start_m: from, end_m: to } = told.worst;
    return el(
      "button.worst",
      {
        type: "button",
        id: "answer-worst",
        onclick: () => {
          if (to) R.view.fit(from, to);
          R.tabs.open("lists", "downs");
        },
      },
      G.icon("caution", 20),
      el("span", { dir: "auto" }, F.words(words)),
    );
  }

  // "2 h 21": three of them stand side by side on a phone. From ten hours on the minutes say nothing.
  const took = (minutes) =>
    minutes < 60
      ? `${minutes} min`
      : minutes < 600
        ? F.hours(minutes * 60).replace(" min", "")
        : `${Math.round(minutes / 60)} h`;
  // The cooler may still ask for other stops.
  const about = (one) => (one.approximate ? "≈" : "");
  const shops = (one) => about(one) + F.plural(one.stops, "shop");
  const eaten = ({ most_meals: most }) =>
    R.plan.spare.meals ? `${most}+${R.plan.spare.meals} spare` : F.plural(most, "meal");
  const comesTo = (one) => [
    `${shops(one)} · ${took(one.minutes)}`,
    `max ${about(one)}${eaten(one)}`,
    ...(one.dinners ? [`fresh ${about(one)}${one.fresh_dinners}/${one.dinners}`] : []),
    ...(one.stops ? [`shut ${about(one)}${Math.round(one.fail_chance * 100)} %`] : []),
  ];
  const STYLES = { fresh: "Fresh", balanced: "Balanced", few: "Few" };

  // Three ways to shop, side by side; on the live page one tap plans the other. In a file the
  // others show what they would mean.
  Y.styles = () => {
    const rows = R.plan.styles || [];
    if (!rows.length) return null;
    const chosen = rows.find((one) => one.chosen);
    const same = (one) =>
      chosen &&
      one !== chosen &&
      ["stops", "most_meals", "minutes", "fresh_dinners", "fail_chance"].every((key) => one[key] === chosen[key]);
    return el(
      "div.styles",
      { role: "group", "aria-label": "How often to shop" },
      rows.map((one) =>
        el(
          "button.style-choice",
          {
            type: "button",
            "data-keep": `style-${one.style}`,
            "aria-pressed": String(one.chosen),
            disabled: !R.chooseStyle && !one.chosen,
            title: F.words(one.words),
            onclick: () => R.chooseStyle && !one.chosen && R.chooseStyle(one.style, STYLES[one.style]),
          },
          el("b", {}, STYLES[one.style], one.chosen && el("span.tick-mark", { "aria-hidden": "true" }, " ✓")),
          ticks(one.stops),
          (same(one) ? [`${about(one)}same stops`] : comesTo(one)).map((said) => el("span", {}, said)),
        ),
      ),
    );
  };

  const ticks = (count) =>
    svg(
      "svg.style-line",
      { viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true", focusable: "false" },
      svg("path", { d: "M0 9H100", "vector-effect": "non-scaling-stroke" }),
      Array.from({ length: Math.min(count, 24) }, (_, i) =>
        svg("rect", { x: ((i + 1) * 100) / (Math.min(count, 24) + 1) - 1.2, y: 2, width: 2.4, height: 7 }),
      ),
    );

  Y.panel = () => {
    const told = R.plan.answers;
    const { summary } = R.plan;
    const cautions = summary.cautions || [];
    const unknown = (R.plan.coverage || {}).unknown || [];
    return [
      told && three(told),
      told && worst(told),
      unknown.length > 0 && R.more("unmapped"),
      Y.styles(),
      el(
        "div.after",
        {},
        el("p.headline", { dir: "auto" }, F.words(summary.headline)),
        el(
          "p.jump",
          {},
          el("button.chip", { type: "button", id: "open-road", onclick: R.road.open }, "Where am I?"),
          R.changed.chip(),
          cautions.length > 0 &&
            el(
              "button.chip",
              { type: "button", id: "open-cautions", onclick: () => R.tabs.open("notes", "cautions") },
              `${F.plural(cautions.length, "caution")}`,
            ),
          el("button.chip", { type: "button", id: "open-notes", onclick: () => R.tabs.open("notes") }, "Sources"),
        ),
        el("details.figures", {}, el("summary", {}, "All figures"), facts(summary)),
      ),
    ];
  };

  const TONES = { caution: "Caution", alarm: "Act on this" };
  const facts = (summary) =>
    el(
      "dl.key-facts",
      {},
      (summary.facts || []).map((fact) =>
        el(
          `div.key-fact.tone-${fact.tone || "plain"}`,
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
    );

  R.answers = Y;
})(window.Resupply);
