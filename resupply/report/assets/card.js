// The sheet: one thing at a time in the panel, from below on a phone, at the side on a desk. The map
// stays in sight. Escape, Back and × lead back to where one was.
"use strict";
(function (R) {
  const { el } = R;
  const G = R.glyphs;
  const C = { shown: null };
  let from = null;

  // `draw` gives { title, over, pin, badge, body, foot } anew for every plan, or null if what it is
  // about is not there any more. `tab` is the part of the plan it belongs to.
  C.open = (what) => {
    if (!C.shown) from = document.activeElement;
    const first = !C.shown;
    C.shown = what;
    if (!fill()) return close();
    if (first) remember();
    const box = R.byId("card");
    R.byId("panels").scrollTop = 0;
    box.focus({ preventScroll: true });
    return true;
  };

  function fill() {
    const box = R.byId("card");
    const told = C.shown && C.shown.draw();
    if (!told) return false;
    R.fill(
      box,
      el(
        "header.card-head",
        {},
        told.pin,
        el(
          "div",
          {},
          el("h2", { dir: "auto", id: "card-title" }, told.title),
          el("p.quiet", { dir: "auto" }, told.over),
        ),
        el("button.tool.card-close", { type: "button", "aria-label": "Close", onclick: C.close }, G.icon("cross", 18)),
      ),
      told.badge && el("div.card-row.card-state", {}, told.badge),
      told.body,
      told.foot && el("div.card-foot", {}, told.foot),
    );
    box.setAttribute("role", "region");
    box.setAttribute("aria-labelledby", "card-title");
    box.hidden = false;
    document.body.classList.add("sheet-open");
    R.tell("card", C.shown);
    return true;
  }

  // Another plan: what is read is drawn anew, or goes.
  C.redraw = () => {
    if (C.shown && !fill()) C.close();
  };

  C.row = (label, lead, ...rest) =>
    el("div.card-row", {}, label && el("h3", {}, label), lead && el("p.card-lead", { dir: "auto" }, lead), rest);

  function close() {
    C.shown = null;
    R.byId("card").hidden = true;
    R.fill(R.byId("card"));
    document.body.classList.remove("sheet-open");
    R.tell("card", null);
    return false;
  }

  C.close = () => {
    if (!C.shown) return;
    const inside = R.byId("card").contains(document.activeElement) || document.activeElement === document.body;
    close();
    if (inside && from && from.isConnected) from.focus({ preventScroll: true });
    else if (inside) R.byId("panels").focus({ preventScroll: true });
  };

  // The way back of the browser closes the sheet, and leaves the page only when none is open.
  let pushed = false;
  function remember() {
    if (pushed) return;
    try {
      history.pushState({ card: true }, "");
      pushed = true;
    } catch {
      // A file in some browsers: × and Escape do it.
    }
  }
  addEventListener("popstate", () => {
    if (!pushed) return;
    pushed = false;
    C.close();
    // The address of the step before may hold an older trip.
    R.tell("stepped", null);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && C.shown) C.close();
  });

  R.card = C;
})(window.Resupply);
