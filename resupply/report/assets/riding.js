// "Where am I?" told in full: how far from the plan's time, what is on board, what still fits today,
// what was ticked off, and handing it back. All figures are looked up (on_board.js).
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const B = R.board;
  const T = R.ticks;
  const D = {};
  // What the rider has corrected by hand, kept until the page is closed or the place changes much.
  let own = {};
  const SAME_TIME_S = 300;

  const caution = (text) => el("p.caution", {}, G.icon("caution", 16), el("span", { dir: "auto" }, text));
  const now_s = () => Date.now() / 1000;
  // The wall clock where the rider is, by the plan's own zone of that day.
  D.local = (chainage, ms = Date.now()) => {
    const leg = R.legAt(chainage) || R.plan.legs[0];
    return F.later(leg.depart, Math.floor((ms - Date.parse(leg.depart)) / 60000));
  };

  D.late = (chainage) => {
    const behind = B.behind(R.plan.legs, chainage, now_s());
    const far = F.hours(Math.abs(behind));
    if (Math.abs(behind) > 2 * 86400) return caution("By this device’s clock it is not the days of the plan.");
    if (Math.abs(behind) < SAME_TIME_S) return el("p.road-late", {}, "As planned by the clock.");
    return el("p.road-late", {}, el("b", {}, far), behind > 0 ? " behind the plan" : " ahead of the plan");
  };

  const names = (stops) => stops.map((stop) => R.placeName(stop.place)).join(", ");
  D.food = (chainage) => {
    if (!R.tracks.food.present()) return null;
    const told = B.food(R.plan, chainage, now_s(), T.found());
    if (!told) return null;
    const { meals, assumed, next, out } = told;
    const left =
      meals > 0
        ? `${F.plural(meals, "meal")} each on board (${F.days(meals / R.mealsPerDay())})`
        : "by the plan nothing is left on board";
    const until = next
      ? `to stop ${next.number}, ${F.distance(Math.max(next.chainage_m - chainage, 0))} on, ${F.when(next.arrive)}`
      : "to the end of the route";
    return [
      el(
        "p",
        { id: "road-food" },
        el("b", {}, "Food: "),
        out ? `${left}, too little ${until}.` : meals > 0 ? `${left}. It lasts ${until}.` : `${left} ${until}.`,
      ),
      out && caution(`The food runs out before ${F.at(out.chainage_m)}, ${F.when(at(out.at_s))}. Buy sooner.`),
      assumed.length > 0 &&
        el("p.quiet", { dir: "auto" }, `Counted as bought as planned, not ticked: ${names(assumed)}.`),
    ];
  };
  // A time of the plan's tables as local text.
  const at = (second) => F.later(R.plan.legs[0].depart, second / 60 - Date.parse(R.plan.legs[0].depart) / 60000);

  D.rest = (chainage) => {
    const found = T.found();
    const ice = B.ice(R.plan, chainage, now_s(), found);
    const fuel = B.fuel(R.plan, chainage, now_s(), found);
    const water = B.water(R.plan, chainage, now_s(), found);
    return [
      ice &&
        el(
          "p",
          { id: "road-ice" },
          el("b", {}, "Ice: "),
          ice.kg > 0.05 ? `about ${F.mass(ice.kg)} left` : "none left",
          ice.kg > 0.05 && (ice.gone ? `, gone ${F.when(ice.gone)}` : ", lasts as planned"),
          ice.missing > 0 && ` (${F.mass(ice.missing)} that was planned is missing)`,
          ".",
        ),
      R.plan.fuel &&
        el(
          "p",
          { id: "road-fuel" },
          el("b", {}, "Fuel: "),
          fuel ? `goes about ${F.distance(fuel.left_m)}` : "not known how far it goes",
          fuel && fuel.next && `; next filling ${fuel.next.name}, ${F.distance(fuel.next.chainage_m - chainage)} on`,
          ".",
        ),
      fuel &&
        fuel.next &&
        fuel.left_m < fuel.next.chainage_m - chainage &&
        caution(`The fuel does not reach ${fuel.next.name}.`),
      water && D.water(chainage, water),
    ];
  };
  const SPARE_L = 0.1; // as the plan rounds

  D.water = (chainage, { litres, needed, tonight, last, next, ticked }) => {
    const to_m = next ? next.start_m : R.length;
    const until = next ? `the next, ${R.placeName(next.place)}` : "the end of the route";
    const dark = ((R.plan.coverage || {}).unknown || []).some((one) => one.end_m > chainage && one.start_m < to_m);
    return [
      el(
        "p",
        { id: "road-water", dir: "auto" },
        el("b", {}, "Water: "),
        litres === null
          ? "not known what is on board"
          : litres < 0.05
            ? "by the plan none is left"
            : `about ${F.volume(litres)} left for all`,
        litres >= 0.05 && tonight > 0 && `, ${F.volume(tonight)} of it for this camp`,
        `. To ${until}, ${F.distance(to_m - chainage)} on, ${F.volume(needed)} is needed.`,
      ),
      litres !== null && litres < needed - SPARE_L && caution("That water does not last. Fill up sooner."),
      dark && el("p.quiet", {}, "On part of that way the map is missing: there may be water, or none."),
      last.pass !== null &&
        !ticked &&
        el("p.quiet", { dir: "auto" }, `Counted as filled as planned, not ticked: ${R.placeName(last.place)}.`),
    ];
  };

  // Food shops ahead on this day, with the state of their door for a rider who rides on now.
  D.fits = (chainage, leg, ridingOn) => {
    if (!leg) return null;
    const found = T.found();
    const shops = (R.plan.passes || []).filter(
      (one) =>
        one.chainage_m > chainage + 50 &&
        one.leg === leg.number &&
        !found.shut.has(one.place) &&
        G.isShop(R.place(one.place)),
    );
    const rows = shops.map((one) => ({ one, ...ridingOn(chainage, leg, one, one) }));
    const open = rows.filter(({ state }) => ["open", "tight", "open_unless_holiday"].includes(state)).slice(0, 4);
    const shut = rows.filter(({ state }) => state === "shut").length;
    if (!rows.length) return el("p", { id: "road-fits" }, "No food shop is known ahead today.");
    return el(
      "div.road-fits",
      { id: "road-fits" },
      el("p.over", {}, "What still fits today"),
      open.length
        ? el(
            "ul.plain",
            {},
            open.map(({ one, at: there, doors, state }) => {
              const opening = doors.open.find(([from, to]) => there >= from && there < to);
              const last = opening && opening[1] < doors.known_to_s ? opening[1] : null;
              return el(
                "li",
                { dir: "auto" },
                el("b", {}, R.placeName(one.place)),
                ` in ${F.distance(one.chainage_m - chainage)}, there ${F.time(at(there))} `,
                G.badge({ state }),
                last && ` shuts ${F.time(at(last))}, ${F.hours(last - there)} after`,
              );
            }),
          )
        : el("p", {}, "None whose hours are known is open when you come by."),
      shut > 0 && el("p.quiet", {}, `${F.plural(shut, "shop")} ahead today ${shut === 1 ? "is" : "are"} shut by then.`),
      rows.length > open.length + shut &&
        el("p.quiet", {}, "Of others the hours then are not known: that is not open."),
    );
  };

  // ---- Ticks ---------------------------------------------------------------------------------
  function tick(kind, about) {
    const what = about.place || about.meal;
    const on = T.has(kind, what);
    return el(
      `button.button.tick-button${on ? ".on" : ""}`,
      {
        type: "button",
        "aria-pressed": String(on),
        "data-keep": `tick-${kind}-${what}`,
        onclick: () => {
          const ms = Date.now();
          const where = about.at_m ?? (typeof R.road.last === "number" ? R.road.last : R.plan.legs[0].start_m);
          T.set(kind, about, !on, { at_ms: ms, time: D.local(where, ms).slice(0, 16) });
        },
      },
      on && el("span", { "aria-hidden": "true" }, "✓ "),
      T.WORDS[kind],
    );
  }
  const keptNote = () =>
    T.kept ? null : el("p.caution.not-kept", {}, G.icon("caution", 16), el("span", {}, T.keptWords()));

  // Under a place in its sheet; the live page changes the plan itself there.
  D.ofPlace = (crossing) => {
    if (R.actions.place) return null;
    const place = R.place(crossing.place);
    const about = { place: crossing.place, name: R.placeName(crossing.place), at_m: crossing.chainage_m };
    const kinds = [
      (G.isShop(place) || "fuel" in (place.supplies || {})) && "bought",
      "shut",
      (G.isShop(place) || "ice" in (place.supplies || {})) && "had_ice",
      "ice" in (place.supplies || {}) && "no_ice",
      (G.isShop(place) || ["water", "camp"].some((kind) => kind in (place.supplies || {}))) && "filled",
    ].filter(Boolean);
    return el(
      "div.card-row.ticks",
      { role: "group", "aria-label": "What you found here" },
      el("h3", {}, "What you found"),
      el(
        "p.tick-buttons",
        {},
        kinds.map((kind) => tick(kind, about)),
      ),
      keptNote(),
    );
  };

  // The meals of today and what was ticked so far.
  D.meals = (chainage) => {
    const today = D.local(chainage).slice(0, 10);
    const day = R.plan.menu && R.plan.menu.days.find((one) => one.date === today);
    if (!day || !day.meals.length) return null;
    return el(
      "div",
      { id: "road-meals" },
      el("p.over", {}, "Today’s meals"),
      day.meals.map((meal) => {
        const name = F.upper(meal.kind) + (meal.dish ? `: ${meal.dish.name}` : "");
        return el(
          "p.road-meal",
          { dir: "auto" },
          el("span", {}, name),
          " ",
          tick("eaten", { meal: B.mealKey(meal), name }),
        );
      }),
    );
  };

  // ---- Handing back --------------------------------------------------------------------------
  // By key: words, digits after the point, and metric to what the rider types: [factor, unit].
  const { KM_PER_MI, KG_PER_LB, L_PER_GAL } = R.factors;
  const STOCK = {
    food_meals: { words: "Meals each on board", digits: 0 },
    ice_kg: { words: "Ice", digits: 1, metric: [1, "kg"], imperial: [KG_PER_LB, "lb"] },
    fuel_km: { words: "Fuel still goes", digits: 0, metric: [1, "km"], imperial: [KM_PER_MI, "mi"] },
    water_l: { words: "Drinking water for all", digits: 1, metric: [1, "L"], imperial: [L_PER_GAL, "gal"] },
  };
  function reckoned(chainage) {
    const found = T.found();
    const [food, ice, fuel, water] = [B.food, B.ice, B.fuel, B.water].map((one) =>
      one(R.plan, chainage, now_s(), found),
    );
    return {
      food_meals: food ? food.meals : null,
      ice_kg: ice ? Math.round(ice.kg * 10) / 10 : null,
      fuel_km: fuel ? Math.floor(fuel.left_m / 1000) : null,
      // Never told as more than there is.
      water_l: water && water.litres !== null ? Math.floor(water.litres * 10) / 10 : null,
    };
  }
  D.told = (chainage) =>
    R.handOver.make({
      plan: R.plan,
      time: D.local(chainage).slice(0, 16),
      at_m: chainage,
      position: R.road.position || null,
      stock: { ...reckoned(chainage), ...own },
      ticks: T.all(),
    });

  function save(chainage) {
    const text = `${JSON.stringify(D.told(chainage), null, 1)}\n`;
    R.saveAs(new Blob([text], { type: "application/json" }), R.handOver.FILE);
  }

  function showLink(box, chainage) {
    const text = R.handOver.link(D.told(chainage), location.href);
    const area = el("textarea.link-text", {
      readonly: true,
      rows: 3,
      "aria-label": "Link to hand over",
      id: "hand-link",
    });
    area.value = text;
    const said = el("p.quiet", { role: "status" }, "Copy it, or send it to yourself.");
    R.fill(box, area, said);
    area.select();
    if (navigator.clipboard)
      navigator.clipboard.writeText(text).then(
        () => R.fill(said, "Copied."),
        () => {},
      );
  }

  D.handOver = (chainage) => {
    const stock = { ...reckoned(chainage), ...own };
    const box = el("div");
    return el(
      "details.hand-over",
      { id: "hand-over" },
      el("summary", {}, "Hand over"),
      el(
        "p",
        {},
        `Where you are, what is on board and ${F.plural(T.all().length, "tick")}, for the next plan: `,
        el("code", {}, "resupply here"),
        " or the live page reads it.",
      ),
      el("p.quiet", {}, T.keptWords()),
      el(
        "div.hand-stock",
        {},
        Object.entries(STOCK).map(([key, { words, digits, ...units }]) => {
          const [factor, unit] = units[R.prefs.units] || [1, ""];
          const input = el("input", {
            type: "number",
            min: "0",
            step: digits ? 0.1 : 1,
            inputmode: "decimal",
            id: `stock-${key}`,
            placeholder: "not known",
            onchange: () => {
              const value = input.value === "" ? null : Number(input.value) * factor;
              own[key] = value !== null && Number.isFinite(value) && value >= 0 ? value : null;
              if (key === "food_meals" && own[key] !== null) own[key] = Math.floor(own[key]);
            },
          });
          const scale = 10 ** digits;
          input.value = stock[key] === null ? "" : String(Math.floor((stock[key] / factor) * scale + 1e-6) / scale);
          return el("label", {}, el("span", {}, [words, unit].filter(Boolean).join(", ")), input);
        }),
      ),
      el(
        "p.tick-buttons",
        {},
        el("button.button.strong", { type: "button", id: "hand-file", onclick: () => save(chainage) }, "Save the file"),
        el("button.button", { type: "button", id: "hand-show", onclick: () => showLink(box, chainage) }, "Make a link"),
      ),
      box,
    );
  };

  D.panel = (chainage, opened) => {
    const over = D.handOver(chainage);
    over.open = opened;
    return [keptNote(), D.meals(chainage), over];
  };

  // ---- What is heard -------------------------------------------------------------------------
  R.on("plan", (plan) => T.start(plan));
  let ownAt = null;
  R.on("found", (chainage) => {
    if (ownAt === null || Math.abs(chainage - ownAt) > 1000) [own, ownAt] = [{}, chainage];
  });
  R.on("ticks", () => {
    const held = R.held();
    if (typeof R.road.last === "number") R.road.again();
    else R.card.redraw();
    if (held && !held.isConnected) {
      const node = R.find(`[data-keep="${CSS.escape(held.dataset.keep)}"]`);
      if (node) node.focus({ preventScroll: true });
    }
  });
  addEventListener("storage", (event) => (event.key === null || event.key.startsWith("resupply:found:")) && T.look());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && T.look());

  R.riding = D;
})(window.Resupply);
