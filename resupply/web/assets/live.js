// The live page put together: which map data it has, and how it starts.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const T = R.trip;
  const A = R.asking;
  const C = R.controls;
  const K = R.cards;
  const O = R.opening;
  let ownMap = null;

  // ---- Map data of own routes ------------------------------------------------------------------
  function sourceWords() {
    const names = ownMap.extracts.join(", ");
    if (names && ownMap.service)
      return `Shops on your own routes come from ${names}, and from the live map service where that says nothing.`;
    if (names) return `Shops on your own routes come from ${names}.`;
    if (ownMap.service) return "Shops on your own routes come from the live map service, asked day by day.";
    return "No map data loaded, so shops on your own routes are unknown until you fetch some.";
  }
  R.ownMap = { known: () => ownMap !== null, words: sourceWords };

  // Missing map data can be asked for again.
  R.actions.unknown = () => {
    if (!mayBeAsked()) return null;
    return ownMap.service ? againButton() : R.fetching.control(sourceWords());
  };
  // The way to it from the answers, which stand first.
  R.actions.unmapped = () => mayBeAsked() && el("p.map-offer", {}, ownMap.service ? againButton() : R.fetching.way());
  const mayBeAsked = () => T.state && ownMap && !T.state.route.startsWith("sample:");
  const againButton = () =>
    el("button.button", { type: "button", onclick: () => A.again() }, "Ask the map service again");
  // Map data has come: the server plans with it from now on.
  R.on("maps", async () => {
    ownMap = await (await fetch("/api/map")).json();
    R.say(sourceWords());
    A.again();
  });

  let steppedAt = -1e9;

  // ---- Start ---------------------------------------------------------------------------------
  async function start() {
    document.body.classList.add("live");
    const card = K.start();
    C.start(R.byId("live-controls"), card);
    R.fill(
      R.byId("trip-line"),
      "Give a route and how far you ride a day. See where each day ends, " +
        "which shops are open as you pass, and what to carry.",
    );
    O.takeDrops();
    R.on("stepped", () => (steppedAt = performance.now()));
    R.prefs = { ...R.prefs, ...R.store.get("prefs", {}) };
    R.on("trip", ({ words: said, quiet }) => {
      A.change();
      if (said && !quiet) K.tell(said);
    });
    R.chooseStyle = (style, word) => T.change({ "food.style": style }, `Ways to shop: ${word}`, `style-${style}`);
    R.chooseDaily = (row) =>
      T.change(
        {
          "pace.daily_km": row.daily_m / 1000,
          ...(row.start_date && R.plan && row.start_date !== R.plan.trip.start_date
            ? { "start.date": row.start_date }
            : {}),
        },
        `${F.distance(row.daily_m)} a day`,
      );
    if (!T.named(location.hash)) C.open("routes");
    try {
      const [list, map] = await Promise.all(
        ["/api/samples", "/api/map"].map(async (path) => (await fetch(path)).json()),
      );
      ownMap = map;
      T.defaults = map.defaults;
      O.start(list);
    } catch {
      R.fill(
        card,
        el(
          "div.live-card.alarm",
          { role: "alert" },
          el("p", {}, K.SILENT),
          el(
            "div.card-buttons",
            {},
            el("button.button.strong", { type: "button", onclick: () => location.reload() }, "Try again"),
          ),
        ),
      );
      return;
    }
    C.makeBar();
    R.edit.start();
    R.compare.start();
    O.recent();
    // A step back closed a sheet; its address may hold the trip of before.
    R.on("stepped", () => T.state && T.remember());
    addEventListener("hashchange", () => {
      if (T.state && performance.now() - steppedAt < 300) return;
      const state = T.read(location.hash);
      A.linked = location.hash;
      if (state && T.write(state) !== T.write(T.state || state)) T.open(state, "the address");
      else if (state && !T.state) T.open(state);
      else return;
      C.open(null);
    });
    const state = T.read(location.hash);
    A.linked = location.hash;
    if (state) {
      T.recall();
      T.state = null;
      T.resume(state);
    } else C.open("routes");
  }

  O.ready = start();
})(window.Resupply);
