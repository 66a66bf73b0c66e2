// Only on a web host: the plan is kept on this phone by a worker, told once, and a newer plan is
// taken when the rider says so. What was ticked lies in the phone's own storage and stays.
"use strict";
(function (R) {
  const { el } = R;
  const G = R.glyphs;
  const P = { state: "" };
  let offer = null;
  let waiting = null;

  const WORDS = {
    "": "Not yet kept on this phone.",
    kept: "Kept on this phone: it opens with no signal.",
    none: "This browser cannot keep the page, so without a signal it will not open. It takes https, no private window.",
    failed: "The page could not be kept on this phone, so without a signal it will not open. Open it again with one.",
  };

  // Not over the map: first in the panel, until it is put away.
  const box = el("div.news", { id: "kept", role: "status", hidden: true });
  R.byId("live-controls").before(box);
  function announce(caution, text, ...buttons) {
    const away = el("button.button", { type: "button", onclick: () => (box.hidden = true) }, "Close");
    R.fill(
      box,
      caution ? el("p.caution", {}, G.icon("caution", 16), el("span", {}, text)) : el("p", {}, text),
      el("p", {}, buttons, away),
    );
    box.hidden = false;
  }

  function now(state) {
    P.state = state;
    if (R.card.shown && R.card.shown.key === "settings") R.card.redraw();
  }

  const install = () => offer && el("button.button.strong", { type: "button", onclick: ask }, "Install");
  async function ask() {
    const mine = offer;
    offer = null;
    box.hidden = true;
    await mine.prompt();
    now(P.state);
  }
  // Safari has no such offer; only there does this name exist.
  const byHand = () => navigator["standalone"] === false && " To install: Share, then Add to Home Screen.";

  const take = () =>
    el(
      "button.button.strong",
      { type: "button", onclick: () => waiting && waiting.postMessage("take") },
      "Show the new plan",
    );
  function newer(worker) {
    waiting = worker;
    announce(false, "There is a newer plan. What you ticked stays.", take());
    now(P.state);
  }

  R.actions.settings = () =>
    R.card.row("On this phone", [WORDS[P.state], byHand()].filter(Boolean).join(""), install(), waiting && take());

  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault();
    offer = event;
    now(P.state);
  });

  function fails(state) {
    now(state);
    announce(true, WORDS[state]);
  }

  // The old page goes on with the old worker until the rider takes the new one.
  function follow(registration) {
    const had = Boolean(registration.active);
    if (registration.active) now("kept");
    if (registration.waiting) newer(registration.waiting);
    const watch = (worker) =>
      worker &&
      worker.addEventListener("statechange", () => {
        if (worker.state === "installed" && registration.active) newer(worker);
        if (worker.state === "activated" && !waiting) {
          now("kept");
          announce(false, [WORDS.kept, byHand()].filter(Boolean).join(""), install());
        }
        if (worker.state === "redundant" && !registration.active && !had) fails("failed");
      });
    watch(registration.installing);
    registration.addEventListener("updatefound", () => watch(registration.installing));
    navigator.serviceWorker.addEventListener("controllerchange", () => waiting && location.reload());
    // An installed page may stay open for days.
    const look = () => document.visibilityState === "visible" && registration.update().catch(() => {});
    document.addEventListener("visibilitychange", look);
    addEventListener("online", look);
    // Installed, the browser is asked not to clear what is kept here when space runs out.
    if (matchMedia("(display-mode: standalone)").matches && navigator.storage && navigator.storage.persist)
      navigator.storage.persist().catch(() => {});
  }

  // Opened as a file, or sent on, the page is the file it is.
  if (location.protocol === "file:") WORDS[""] = "This is a copy of the page of a web host.";
  else if (!navigator.serviceWorker) fails("none");
  else
    navigator.serviceWorker.register("worker.js", { updateViaCache: "none" }).then(follow, () =>
      // With no signal it cannot be asked for anew; what is kept is what is shown.
      navigator.serviceWorker.controller ? now("kept") : fails("failed"),
    );

  R.onThisPhone = P;
})(window.Resupply);
