// "What has changed?": each change for which a plan is on board, with what it comes to before it is
// chosen. All figures stand in the plans; here they are only put side by side.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const C = {};
  const STYLES = { fresh: "Fresher food", balanced: "Balanced", few: "Few shops" };
  const GROUPS = [
    ["shut", "A shop is shut"],
    ["rest", "We rest, or wait for the weather"],
    ["distance", "Shorter or longer days"],
    ["no_ice", "No ice there"],
    ["style", "Shop otherwise"],
  ];
  // The plan that was shown when the sheet was opened, what was asked for, and which groups are open.
  let before = null;
  let asked = null;
  let opened = false;

  const pocket = () => R.pocket;
  const made = () => R.pocket.made();
  C.has = () => Boolean(pocket().index && pocket().index.plans.length);

  const placeName = (id) => {
    const place = made().places[id] || {};
    return place.name || place.kind_words || "Unnamed place";
  };

  // A change in a few words, as a rider says it.
  C.words = (one) => {
    if (one.kind === "shut") return `${placeName(one.place)} is shut`;
    if (one.kind === "no_ice") return `No ice at ${placeName(one.place)}`;
    if (one.kind === "style") return STYLES[one.style];
    if (one.kind === "distance")
      return `${one.daily_m < made().trip.daily_m ? "Shorter" : "Longer"} days, ${F.distance(one.daily_m)}`;
    const leg = made().legs.find((row) => row.number === one.night);
    return `We rest on ${F.date(restOn(leg))}`;
  };
  // The first day after a night that is not ridden in this plan and is in the one as made.
  function restOn(leg) {
    const next = made().legs.find((row) => row.number === leg.number + 1);
    const date = new Date(Date.parse(leg.date) + (1 + next.rest_days_before) * 864e5);
    return date.toISOString().slice(0, 10);
  }

  // Stops of a plan that another does not make: another shop, or the same one on another pass.
  const stops = (one) => one.stops_m.map((at, i) => ({ at, place: one.stops_at[i] }));
  const iceStops = (one) => one.ice_m.map((at, i) => ({ at, place: one.ice_at[i] }));
  const same = (a, b) => a.place === b.place && Math.abs(a.at - b.at) < 500;
  const others = (some, all) => some.filter((stop) => !all.some((one) => same(stop, one)));
  const named = (some) => some.map((stop) => `${placeName(stop.place)} (${F.at(stop.at)})`).join(" and ");
  // "km 394, 656": the unit once.
  const places = (all) => all.map((at, i) => (i ? F.at(at).replace(/^\D+/, "") : F.at(at))).join(", ");

  function shops(one, now) {
    const [come, gone] = [others(stops(one), stops(now)), others(stops(now), stops(one))];
    if (!come.length && !gone.length) return "same shops";
    if (!come.length)
      return `no shop at ${gone.length > 2 ? `${gone.length} places` : places(gone.map((stop) => stop.at))}`;
    const all = one.stops_m.length;
    if (come.length > 2)
      return come.length === all ? `${all} other shops` : `${all} shops, ${come.length} of them others`;
    return `${named(come)}${gone.length ? " instead" : " too"}`;
  }
  // Where ice is bought when it is not where it was likely.
  function otherIce(one, now) {
    const come = others(iceStops(one), iceStops(now));
    if (come.length) return come.length > 2 ? `ice at ${come.length} other places` : `ice at ${named(come)}`;
    return one.ice_m.length > 0 && (one.ice_m.length > 2 ? "no other ice" : `ice only at ${named(iceStops(one))}`);
  }
  const days = (one, now) => Math.round((Date.parse(one.last_date) - Date.parse(now.last_date)) / 864e5);
  function home(one, now) {
    const late = days(one, now);
    return (
      late && `home ${Math.abs(late) === 1 ? "a day" : `${Math.abs(late)} days`} ${late > 0 ? "later" : "earlier"}`
    );
  }
  const meals = (one) => `${F.plural(one.most_meals, "meal")}${one.spare_meals ? ` + ${one.spare_meals} spare` : ""}`;

  // What a change comes to, against the plan as made; the camp of a rest first.
  C.effect = (one) => {
    const now = pocket().index.plan;
    const leg = one.kind === "rest" && made().legs.find((row) => row.number === one.night);
    const camp = leg && leg.night && leg.night.name;
    return F.upper(
      [
        camp && `a day at ${camp}`,
        shops(one, now),
        home(one, now),
        one.most_meals !== now.most_meals && `at most ${meals(one)}`,
        one.kind === "no_ice" && otherIce(one, now),
        one.ice_kg !== now.ice_kg && one.ice_kg !== null && (one.ice_kg ? `${F.mass(one.ice_kg)} of ice` : "no ice"),
      ]
        .filter(Boolean)
        .join(", "),
    );
  };

  const here = () => (R.road && typeof R.road.last === "number" ? R.road.last : null);
  // A plan that would have begun behind the rider is told as such.
  const late = (one) => here() !== null && one.from_m !== null && one.from_m < here() - 500;

  // A day in camp that nobody foresaw is fed from what is spare.
  function spared(one) {
    const leg = one.kind === "rest" && made().legs.find((row) => row.number === one.night);
    const spare = made().spare ? made().spare.meals : 0;
    const camps = leg && leg.end_m > here() - 2000 && spare >= R.mealsPerDay();
    return camps ? ` Your ${spare} spare meals each feed that day.` : "";
  }

  function row(one) {
    const chosen = pocket().current === (one ? one.key : null);
    return el(
      `button.change-row${asked && one && asked === one.key ? ".asked" : ""}`,
      {
        type: "button",
        role: "radio",
        "aria-checked": String(chosen),
        "data-keep": `change-${one ? one.key : "none"}`,
        onpointerdown: () => one && pocket().ready(one.key),
        onclick: () => choose(one ? one.key : null),
      },
      el("span.change-mark", { "aria-hidden": "true" }, chosen && G.icon("tick", 16)),
      el(
        "span.change-words",
        {},
        el("b", { dir: "auto" }, one ? C.words(one) : "Nothing: the plan as made"),
        one && el("span", { dir: "auto" }, C.effect(one)),
        one &&
          one.excess_meals > pocket().index.plan.excess_meals &&
          caution(`${F.plural(one.excess_meals, "meal")} over your limit`),
        one && late(one) && caution(`It differs from ${F.at(one.from_m)} on, which is behind you.${spared(one)}`),
      ),
    );
  }
  const caution = (text) => el("span.caution", {}, G.icon("caution", 14), el("span", {}, text));

  function choose(key) {
    asked = null;
    // Another plan has the sheet drawn anew, too.
    if (!pocket().show(key)) R.card.redraw();
  }

  // What a rider is likely to ask: the next shop, tonight, a shorter day, the next ice.
  function likely() {
    const { plans } = pocket().index;
    const at = here();
    const now = Date.now();
    const chainage = (one) =>
      (made().passes.find((pass) => pass.place === one.place && pass.role !== "other") || {}).chainage_m;
    const ahead = (one) => at === null || chainage(one) > at - 2000;
    const leg =
      (at !== null && made().legs.find((row) => row.end_m > at)) ||
      made().legs.find((row) => Date.parse(row.arrive) > now) ||
      made().legs[0];
    const shorter = plans.filter((one) => one.kind === "distance" && one.daily_m < made().trip.daily_m);
    const found = [
      plans.find((one) => one.kind === "shut" && ahead(one)),
      plans.find((one) => one.kind === "rest" && one.night >= leg.number),
      shorter.reduce(
        (a, b) =>
          a && Math.abs(a.daily_m / made().trip.daily_m - 0.8) < Math.abs(b.daily_m / made().trip.daily_m - 0.8)
            ? a
            : b,
        null,
      ),
      plans.find((one) => one.kind === "no_ice" && ahead(one)),
    ];
    const more = [asked, pocket().current].map((key) => pocket().plan(key));
    return [...new Set([...found, ...more])].filter(Boolean);
  }

  function groups(shown) {
    const { plans, left_out: out } = pocket().index;
    return GROUPS.map(([kind, title]) => {
      const some = plans.filter((one) => one.kind === kind);
      const missing = out.filter((one) => one.kind === kind);
      if (!some.length && !missing.length) return null;
      if (kind === "distance") some.sort((a, b) => a.daily_m - b.daily_m);
      return el(
        "section.change-group",
        {},
        el("h3", {}, title),
        some.filter((one) => !shown.includes(one)).map(row),
        missing.length > 0 &&
          el("p.quiet.card-row", { dir: "auto" }, `Not on board: ${missing.map(C.words).join(", ")}.`),
      );
    });
  }

  // Two changes at once are no plan of the file: what is shown is the nearest that is.
  function both() {
    const [old, now] = [pocket().plan(before), pocket().plan(pocket().current)];
    if (!old || !now || old === now) return null;
    return el(
      "p.caution.card-row",
      {},
      G.icon("caution", 16),
      el(
        "span",
        { dir: "auto" },
        `“${C.words(old)}” and “${C.words(now)}” together is not on board. ` +
          "Shown is the nearest that is: the second alone.",
      ),
    );
  }

  function table() {
    const [now, then] = [pocket().index.plan, pocket().plan(pocket().current)];
    if (!then) return null;
    /** @type {[string, (one: any) => string][]} */
    const rows = [
      [
        "Shops",
        (one) => (one.stops_m.length > 4 ? F.plural(one.stops_m.length, "stop") : places(one.stops_m) || "none"),
      ],
      ["None open", (one) => (one.longest_m === null ? "not known" : `for ${F.distance(one.longest_m)}`)],
      ["Most meals", (one) => meals(one).replace(/ meals?/, "")],
      ["Ice to buy", (one) => (one.ice_kg === null ? "no cooler" : F.mass(one.ice_kg))],
      ["At shops", (one) => (one.minutes === null ? "not known" : F.hours(one.minutes * 60))],
      ["Home", (one) => F.date(one.last_date)],
    ];
    return el(
      "div.card-row",
      {},
      el(
        "table.change-table",
        {},
        el(
          "thead",
          {},
          el("tr", {}, el("td", {}), el("th", { scope: "col" }, "As made"), el("th", { scope: "col" }, "With it")),
        ),
        el(
          "tbody",
          {},
          rows.map(([name, told]) =>
            el(
              "tr",
              {},
              el("th", { scope: "row" }, name),
              el("td", {}, told(now)),
              el(`td${told(now) === told(then) ? "" : ".other"}`, {}, told(then)),
            ),
          ),
        ),
      ),
      el(
        "p.quiet",
        {},
        then.from_m === null ? "What you do stays the same." : `The two differ from ${F.at(then.from_m)} on.`,
      ),
    );
  }

  let note = null;
  C.open = ({ key = null, words = null } = {}) => {
    if (!C.has()) return;
    if (!R.card.shown || R.card.shown.key !== "changed") before = pocket().current;
    [asked, note] = [key, words];
    R.card.open({ key: "changed", tab: "change", draw: sheet });
    pocket().prepare(likely().map((one) => one.key));
    const node = key && R.find(`[data-keep="change-${CSS.escape(key)}"]`);
    if (node) node.focus();
  };

  function sheet() {
    const shown = likely();
    const changed = pocket().current !== before;
    return {
      title: "What has changed?",
      over: `${F.plural(pocket().index.plans.length, "plan")} on board, one change each`,
      body: [
        note && el("p.card-row", { dir: "auto" }, note),
        el(
          "div.changes",
          { role: "radiogroup", "aria-label": "What has changed?" },
          row(null),
          shown.map(row),
          both(),
          table(),
          opened
            ? groups(shown)
            : el(
                "button.change-row",
                {
                  type: "button",
                  id: "something-else",
                  onclick: () => {
                    opened = true;
                    R.card.redraw();
                  },
                },
                el("span.change-mark", { "aria-hidden": "true" }),
                el("span.change-words", {}, el("b", {}, "Something else…")),
              ),
        ),
      ],
      foot: changed && [
        el(
          "button.button.strong",
          { type: "button", onclick: R.card.close },
          pocket().current ? "Ride this plan" : "Ride the plan as made",
        ),
        el("button.button", { type: "button", onclick: () => choose(before) }, "Keep the old one"),
      ],
    };
  }

  // What was found on the way (a tick elsewhere on the page): the sheet opens at the plan for it.
  const FOUND = { shut: "is shut", no_ice: "has no ice" };
  document.addEventListener("resupply-found", (event) => {
    const { kind, place } = /** @type {CustomEvent} */ (event).detail || {};
    if (!FOUND[kind] || !pocket() || !C.has()) return;
    const one = pocket().find(kind, "place", place);
    const stop = (R.plan.stops || []).find((row) => row.place === place);
    const then = kind === "shut" && stop ? ` ${F.words(stop.fallback.words)}` : "";
    if (one) {
      // Who stands before the door cannot ride back to where that plan begins.
      const early = stop && one.from_m !== null && one.from_m < stop.chainage_m - 500;
      const words = early && `That plan differs from ${F.at(one.from_m)} on.${then && ` From here:${then}`}`;
      return C.open({ key: one.key, words: words || null });
    }
    const why =
      pocket().leftOut(kind, "place", place) || stop
        ? `That ${placeName(place)} ${FOUND[kind]} is not on board as a plan.${then} ` +
          "The nearest that is on board stays shown."
        : `The plan does not count on ${placeName(place)}: nothing changes.`;
    return C.open({ words: why });
  });

  // In the part "Change", and among the answers.
  C.section = () =>
    C.has() && {
      id: "changed",
      title: "What has changed?",
      short: "What has changed?",
      draw: () => [
        el(
          "p.lead",
          {},
          `${F.plural(pocket().index.plans.length, "other plan")} on board, ` +
            "each for one thing that is other than planned.",
        ),
        el(
          "button.button.strong",
          { type: "button", id: "open-changes", onclick: () => C.open() },
          "What has changed?",
        ),
      ],
    };
  C.chip = () =>
    C.has() && el("button.chip", { type: "button", id: "chip-changed", onclick: () => C.open() }, "What has changed?");

  R.changed = C;
})(window.Resupply);
