// The row of buttons and the panel that folds under it: routes, settings, files; undo and redo.
"use strict";
(function (R) {
  const { el } = R;
  const G = R.glyphs;
  const T = R.trip;
  const C = { panel: null };

  let buttons, panel, undo, redo;
  C.start = (slot, card) => {
    const open = (id, word, icon) =>
      el(
        "button.bar-button",
        {
          type: "button",
          id: `open-${id}`,
          "aria-expanded": "false",
          "aria-controls": "live-panel",
          onclick: () => C.open(C.panel === id ? null : id),
        },
        G.icon(icon, 18),
        el("span", {}, word),
      );
    undo = el("button.tool", { type: "button", id: "undo", onclick: () => T.undo() }, G.icon("undo"));
    redo = el("button.tool", { type: "button", id: "redo", onclick: () => T.redo() }, G.icon("redo"));
    buttons = el(
      "div.live-bar",
      { role: "group", "aria-label": "The trip" },
      open("routes", "Routes", "map"),
      open("settings", "Settings", "sliders"),
      open("save", "Save", "save"),
    );
    panel = el("div.live-panel", { id: "live-panel", tabindex: "-1", hidden: true });
    R.ownSettings = true;
    R.fill(R.byId("switches"), buttons);
    slot.append(card, panel);
    // What lies under a finger stays there until it is lifted, whatever plan comes in meanwhile.
    panel.addEventListener("pointerdown", () => (pressed = true));
    for (const end of ["pointerup", "pointercancel"])
      addEventListener(end, () => {
        if (!pressed) return;
        setTimeout(() => {
          pressed = false;
          if (due) C.refresh();
        });
      });
    R.on("card", (what) => what && C.panel && R.plan && C.open(null));
    R.on("tab", () => C.panel && R.plan && C.open(null));
    R.on("trip", draw);
    R.on("plan", () => {
      if (!R.partial && C.panel === "settings") C.refresh();
    });
    R.on("theme", () => C.panel === "settings" && C.refresh());
    R.on("prefs", () => {
      if (!T.state) return;
      R.pace.prefs();
      C.refresh();
      R.asking.change();
    });
    document.addEventListener("keydown", (event) => {
      if (
        !(event.ctrlKey || event.metaKey) ||
        event.altKey ||
        (event.key.toLowerCase() !== "z" && event.key.toLowerCase() !== "y")
      )
        return;
      if (
        /** @type {Element} */ (event.target).closest("input:not([type=range]):not([type=checkbox]), select, textarea")
      )
        return;
      event.preventDefault();
      if (event.key.toLowerCase() === "y" || event.shiftKey) T.redo();
      else T.undo();
    });
  };

  C.makeBar = () => R.pace.make([undo, redo]);
  C.panels = { settings: R.settings };
  C.open = (id) => {
    C.panel = id;
    for (const name of Object.keys(C.panels)) {
      const button = R.byId(`open-${name}`);
      if (button) button.setAttribute("aria-expanded", String(name === id));
    }
    if (id && R.card.shown) R.card.close();
    C.refresh();
    R.byId("panels").scrollTop = 0;
    if (id && R.plan) panel.focus({ preventScroll: true });
  };
  let pressed = false;
  let due = false;
  C.refresh = () => {
    due = pressed && C.panel !== null;
    if (due) return panel;
    panel.hidden = C.panel === null;
    document.body.classList.toggle("has-live-panel", C.panel !== null);
    if (C.panel === null) return R.fill(panel);
    const held = R.held()?.dataset.keep;
    R.fill(panel, el(`div.panel-${C.panel}`, {}, C.panels[C.panel]()));
    if (held) panel.querySelector(`[data-keep="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
    return panel;
  };

  function draw() {
    document.body.classList.add("has-trip");
    R.pace.paint();
    const [last, next] = [T.past.at(-1), T.future.at(-1)];
    for (const [button, word, step] of [
      [undo, "Undo", last],
      [redo, "Redo", next],
    ]) {
      // Not disabled: a button that vanishes under the finger loses the keyboard's place.
      button.setAttribute("aria-disabled", String(!step));
      button.setAttribute("aria-label", step ? `${word}: ${step.words}` : `Nothing to ${word.toLowerCase()}`);
      button.title = button.getAttribute("aria-label");
    }
    if (C.panel === "settings") C.refresh();
  }

  R.controls = C;
})(window.Resupply);
