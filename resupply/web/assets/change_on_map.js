// Changing the plan where it is shown: shops from their sheets, days from theirs.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const E = {};
  E.LEAST_M = 5000;

  // ---- Shops --------------------------------------------------------------------------------
  const list = (key) => T.get(`shops.${key}`) || [];
  E.isPinned = (id) => list("pinned").includes(id);

  function toggle(key, id, words) {
    const now = list(key);
    const keys = { [`shops.${key}`]: now.includes(id) ? now.filter((one) => one !== id) : [...now, id] };
    if (key === "gone") keys["shops.pinned"] = list("pinned").filter((one) => one !== id);
    R.edit.names.set(id, R.plan && R.plan.places[id] ? R.placeName(id) : E.names.get(id) || id);
    E.saveNames();
    T.change(keys, words);
    R.card.close();
    R.view.map.getContainer().focus({ preventScroll: true });
  }

  // Names of the places a change is about; a shop that is gone is not in the plan any more.
  E.names = new Map(R.store.get("names", []));
  E.saveNames = () => R.store.set("names", [...E.names].slice(-200));

  R.actions.place = (about) => {
    if (!T.state) return null;
    const id = about.place;
    const name = R.placeName(id);
    const shop = G.isShop(R.place(id));
    const pinned = E.isPinned(id);
    return el(
      "div.pop-actions",
      {},
      shop &&
        el(
          `button.button${pinned ? "" : ".strong"}`,
          {
            type: "button",
            "aria-pressed": String(pinned),
            onclick: () => toggle("pinned", id, pinned ? `${name}: no need to stop` : `stop at ${name}`),
          },
          G.icon("pin", 16),
          pinned ? "No need to stop here" : "I’ll stop here",
        ),
      el(
        "button.button",
        { type: "button", onclick: () => toggle("gone", id, `${name} is gone`) },
        G.icon("cross", 16),
        "It’s gone",
      ),
      E.underWay() && about.chainage_m < R.length - 1000 && hereButton(about.chainage_m, about.eta || about.arrive),
    );
  };

  // ---- Days ---------------------------------------------------------------------------------
  const daysRest = (day) => T.get(`pace.rest_days.${day}`) || 0;
  E.rest = (leg, by) => {
    const days = Math.max(0, Math.min(60, daysRest(leg.number) + by));
    T.change(
      { [`pace.rest_days.${leg.number}`]: days || null },
      days ? `${F.plural(days, "rest day")} after day ${leg.number}` : `no rest after day ${leg.number}`,
    );
  };

  // Kilometres of one day, of which a rider under way has some behind; the days after it go on
  // from there.
  E.behind = (leg) => leg.start_m - (leg.began_m ?? leg.start_m);
  E.setDay = (leg, metres, gesture) => {
    const left = Math.max(E.LEAST_M, Math.min(metres, R.length - leg.start_m - 1000));
    const km = Math.round((E.behind(leg) + left) / 100) / 10;
    const set = km * 1000 - E.behind(leg);
    T.change(
      { [`pace.own_km.${leg.number}`]: km },
      `day ${leg.number}: ${F.distance(set)}${E.behind(leg) > 0 ? " from here" : ""}`,
      gesture,
    );
    return set;
  };

  R.actions.day = (leg) => {
    if (!T.state || !R.plan) return null;
    if (leg === R.plan.legs.at(-1)) return null;
    const days = daysRest(leg.number);
    const own = T.get(`pace.own_km.${leg.number}`);
    const id = `day-${leg.number}-km-${(R.actions.day.count = (R.actions.day.count || 0) + 1)}`;
    const typed = el("input", {
      type: "number",
      inputmode: "decimal",
      id,
      min: "5",
      step: "any",
      "data-keep": `day-km-${leg.number}`,
      onchange: () => {
        const metres = (Number(typed.value) / F.inUnits(1000)) * 1000;
        if (typed.value !== "" && metres >= E.LEAST_M) E.setDay(leg, metres);
        else typed.reportValidity();
      },
    });
    typed.value = String(Math.round(F.inUnits(leg.length_m) * 10) / 10);
    return el(
      "div.day-actions",
      {},
      el(
        "span.day-action",
        {},
        el("label", { for: id }, "Ride"),
        el("span.setting-row", {}, typed, el("span.unit", {}, F.distanceUnit())),
        own !== undefined &&
          el(
            "button.link",
            {
              type: "button",
              "data-keep": `day-usual-${leg.number}`,
              onclick: () => T.change({ [`pace.own_km.${leg.number}`]: null }, `day ${leg.number} as the others`),
            },
            "as the others",
          ),
      ),
      el(
        "span.day-action",
        { role: "group", "aria-label": `Rest days after day ${leg.number}` },
        el("span", {}, days ? F.plural(days, "rest day") + " after it" : "Rest after it"),
        days > 0 &&
          el(
            "button.step",
            {
              type: "button",
              "aria-label": "One rest day less",
              "data-keep": `rest-less-${leg.number}`,
              onclick: () => E.rest(leg, -1),
            },
            "−",
          ),
        el(
          "button.step",
          {
            type: "button",
            "aria-label": "One rest day more",
            "data-keep": `rest-more-${leg.number}`,
            onclick: () => E.rest(leg, 1),
          },
          "+",
        ),
      ),
    );
  };

  // ---- Under way ----------------------------------------------------------------------------
  const NOW = ["at_km", "time", "food_meals", "ice_kg", "fuel_km", "water_l"];
  E.underWay = () => Boolean(T.state) && (T.get("now.at_km") ?? null) !== null;
  E.atHome = () => T.change(Object.fromEntries(NOW.map((key) => [`now.${key}`, null])), "not under way");

  // By this device's clock in the zone of the plan; of a trip not begun, as it is planned.
  E.goOn = (chainage, planned) => {
    const start = `${T.get("start.date") ?? R.plan.trip.start_date}T${T.get("pace.depart")}`;
    const { depart } = R.plan.legs[0];
    const now = F.later(depart, (Date.now() - Date.parse(depart)) / 60000);
    const time = [now, planned || start].map((iso) => `${iso.slice(0, 16)}:00`)[now < start ? 1 : 0];
    const km = Math.round(chainage / 10) / 100;
    T.change({ "now.at_km": km, "now.time": time }, `under way, ${F.at(chainage)} on ${F.when(time)}`);
  };
  const hereButton = (chainage, planned) =>
    el(
      "button.button",
      {
        type: "button",
        onclick: () => {
          E.goOn(chainage, planned);
          R.card.close();
        },
      },
      G.icon("find", 16),
      "I am here",
    );

  // A place found on the road: the plan goes on from there.
  R.actions.here = (chainage) =>
    T.state && R.plan && chainage < R.length - 1000 ? el("div.pop-actions", {}, hereButton(chainage)) : null;

  // What was found at places, and how it is taken back.
  /** @type {[string, (name: string) => string, (name: string) => string][]} */
  const FOUND = [
    ["gone", (name) => `${name} is gone`, (name) => `${name} is there again`],
    ["no_ice", (name) => `No ice at ${name}`, (name) => `ice at ${name} again`],
    ["has_ice", (name) => `Ice found at ${name}`, (name) => `${name} as on the map`],
  ];

  // ---- Everything that was changed by hand, and the way back ---------------------------------
  E.changes = () => {
    const rows = [
      ...list("pinned").map((id) => [
        `Stop at ${E.names.get(id) || (R.plan && R.plan.places[id] ? R.placeName(id) : id)}`,
        () => T.change({ "shops.pinned": list("pinned").filter((one) => one !== id) }, "no longer a fixed stop"),
      ]),
      ...FOUND.flatMap(([kind, words, back]) =>
        list(kind).map((id) => {
          const name = E.names.get(id) || (R.plan && R.plan.places[id] ? R.placeName(id) : id);
          const left = () => list(kind).filter((one) => one !== id);
          return [words(name), () => T.change({ [`shops.${kind}`]: left() }, back(name))];
        }),
      ),
      ...Object.entries(T.get("pace.own_km") || {}).map(([day, km]) => [
        `Day ${day}: ${F.distance(km * 1000)}`,
        () => T.change({ [`pace.own_km.${day}`]: null }, `day ${day} as the others`),
      ]),
      ...Object.entries(T.get("pace.rest_days") || {})
        .filter(([, days]) => days)
        .map(([day, days]) => [
          `${F.plural(days, "rest day")} after day ${day}`,
          () => T.change({ [`pace.rest_days.${day}`]: null }, `no rest after day ${day}`),
        ]),
    ];
    return el(
      "section.changes",
      { "aria-label": "Changed by hand" },
      el("h3", {}, "Changed by hand"),
      rows.length === 0
        ? el(
            "p.quiet",
            {},
            "Nothing yet. Touch a shop to stop there or to leave it out; " +
              "drag the end of a day on the map or the strip; touch a day to give it a rest.",
          )
        : el(
            "ul.change-list",
            {},
            rows.map(([words, back], i) =>
              el(
                "li",
                {},
                el("span", { dir: "auto" }, words),
                el(
                  "button.step",
                  { type: "button", "aria-label": `Take back: ${words}`, "data-keep": `back-${i}`, onclick: back },
                  "×",
                ),
              ),
            ),
          ),
    );
  };

  R.edit = E;
})(window.Resupply);
