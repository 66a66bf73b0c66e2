// What the phone handed over, put into the trip on the live page: from its file, or from its link in
// the address bar or pasted. The server checks every value.
"use strict";
(function (R) {
  const { el } = R;
  const T = R.trip;
  const P = {};
  // A link that was opened before any trip: it waits for the first plan.
  let waiting = held(location.hash);

  function held(hash) {
    return /[#&]phone=/.test(hash) ? hash : null;
  }

  // True if it was one for this route.
  P.apply = (text) => {
    const told = R.handOver.settings(text, R.length);
    if (!told) return false;
    const changes = { ...told.now };
    if (changes["now.food_meals"] !== null) changes["now.food_meals"] = Math.floor(changes["now.food_meals"]);
    for (const [path, ids] of Object.entries(told.found))
      if (ids.length) changes[path] = [...new Set([...(T.get(path) || []), ...ids])];
    T.change(changes, "what the phone handed over");
    return true;
  };
  const REFUSED = "That is not what a phone handed over for this route.";

  P.field = () => {
    const said = el("p.quiet", { role: "status", id: "phone-said" });
    const tell = (text) => R.fill(said, P.apply(text) ? "Taken over." : REFUSED);
    const file = el("input", {
      type: "file",
      accept: ".json,application/json",
      id: "phone-file",
      onchange: async () => file.files[0] && file.files[0].size < 1e6 && tell(await file.files[0].text()),
    });
    const link = el("input", {
      type: "text",
      id: "phone-link",
      autocomplete: "off",
      onchange: () => link.value && tell(link.value),
    });
    return el(
      "div.from-phone",
      {},
      el("label", {}, el("span", {}, "File from the phone"), file),
      el("label", {}, el("span", {}, "Or its link"), link),
      said,
    );
  };

  R.on("drawn", ({ quick, newest }) => {
    if (waiting === null || quick || !newest) return;
    const text = waiting;
    waiting = null;
    if (!P.apply(text)) R.say(REFUSED);
  });
  addEventListener("hashchange", () => {
    const text = held(location.hash);
    if (text === null) return;
    if (!R.plan) waiting = text;
    else {
      if (!P.apply(text)) R.say(REFUSED);
      T.remember();
    }
  });

  R.fromPhone = P;
})(window.Resupply);
