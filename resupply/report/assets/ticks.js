// What a rider ticks off on the way: bought, was shut, had ice, no ice, filled water, eaten. Kept in this browser
// under the trip's identity, which no new plan of it changes. Nothing counts as kept before it was
// read back; what is not, is said, lives on in memory and can still be handed over.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const WORDS = {
    bought: "Bought",
    shut: "Was shut",
    had_ice: "Had ice",
    no_ice: "No ice",
    filled: "Filled water",
    eaten: "Eaten",
  };
  const OTHER = { bought: "shut", shut: "bought", had_ice: "no_ice", no_ice: "had_ice" };
  // The pocket plans know these (what_has_changed.js).
  const FOUND = ["shut", "no_ice"];
  const T = { WORDS, kept: true };
  // Of one trip: by kind and place or meal; taken back ones stay, so that two tabs agree.
  let ticks = {};
  let of = null;

  T.identity = (plan) => `${plan.trip.name}|${plan.trip.settings["start.date"] || ""}`;
  const key = () => `found:${of}`;
  const valid = (one) => one && typeof one === "object" && WORDS[one.kind] && typeof one.at_ms === "number";

  // The later of two of a kind counts.
  function merge(others) {
    for (const [id, one] of Object.entries(others && typeof others === "object" ? others : {}))
      if (valid(one) && !(ticks[id] && ticks[id].at_ms >= one.at_ms)) ticks[id] = one;
  }

  // Written and read back: storage may be full, refused, or cleared meanwhile.
  function keep() {
    merge(R.store.get(key(), {}));
    const text = JSON.stringify(ticks);
    T.kept = R.store.set(key(), ticks) !== false && JSON.stringify(R.store.get(key(), null)) === text;
    R.tell("ticks", null);
  }

  T.start = (plan) => {
    const now = T.identity(plan);
    if (now === of) return;
    [of, ticks, T.kept] = [now, {}, true];
    merge(R.store.get(key(), {}));
  };
  // What was cleared while the page stood open is written again.
  T.look = () => {
    if (of !== null && Object.keys(ticks).length) keep();
  };

  T.all = () =>
    Object.values(ticks)
      .filter((one) => one.on)
      .sort((a, b) => a.at_ms - b.at_ms);
  T.has = (kind, what) => Boolean(ticks[`${kind} ${what}`] && ticks[`${kind} ${what}`].on);

  // `about` is { place, name, at_m } or, of a meal, { meal, name }; `time` is local, `at_ms` orders.
  T.set = (kind, about, on, { at_ms, time }) => {
    const what = about.place || about.meal;
    const put = (one, state) => {
      ticks[`${one} ${what}`] = { ...about, kind: one, on: state, at_ms, time };
    };
    put(kind, on);
    if (on && OTHER[kind] && T.has(OTHER[kind], what)) put(OTHER[kind], false);
    keep();
    if (on && FOUND.includes(kind))
      document.dispatchEvent(new CustomEvent("resupply-found", { detail: { kind, place: what } }));
  };

  // For on_board.js: places and meals by what was ticked.
  T.found = () => {
    const of_kind = (kind) =>
      new Set(
        T.all()
          .filter((one) => one.kind === kind)
          .map((one) => one.place || one.meal),
      );
    return {
      shut: of_kind("shut"),
      no_ice: of_kind("no_ice"),
      had_ice: of_kind("had_ice"),
      bought: of_kind("bought"),
      filled: of_kind("filled"),
      eaten: of_kind("eaten"),
    };
  };

  // In words, where ticks are made and handed over.
  T.KEPT_WORDS = "Ticks are kept in this browser. In a private window they go when it is closed.";
  T.keptWords = () =>
    T.kept
      ? T.KEPT_WORDS
      : "Not saved: this browser keeps nothing for the page now. Ticks last until you close it: hand them over.";

  R.ticks = T;
})(globalThis.Resupply);
