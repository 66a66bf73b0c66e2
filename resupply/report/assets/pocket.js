// The plans for the way that the file carries: which one is shown, and the way back to the plan as
// made. Each was made by the planner; here it is only unpacked and put in the place of the other.
// The live page has none: it plans anew.
"use strict";
(function (R) {
  const { el } = R;
  const P = { index: null, current: null };
  const KEPT = 8; // unpacked: what is offered, so that a tap shows it at once
  const unpacked = new Map();
  let made = null;
  let read = null;

  // Called once with the plan of the file; gives the plan to begin with, by the page's address.
  P.start = (plan) => {
    P.index = R.readData("pocket");
    made = plan;
    if (!P.index) return plan;
    R.chooseStyle = (style) => {
      const one = P.find("style", "style", style);
      if (one || style === made.trip.style) choose(one);
      else R.changed.open({ words: "That way to shop is not on board as a plan." });
    };
    R.chooseDaily = (row) => choose(P.nearest(row.daily_m));
    const key = keyOf(location.hash);
    const known = P.plan(key) && opened(key);
    if (key && !known) P.lost = "The plan of this address is not on board.";
    P.current = known ? key : null;
    return known || plan;
  };

  P.plan = (key) => (P.index ? P.index.plans.find((one) => one.key === key) : undefined) || null;
  P.find = (kind, name, value) => P.index.plans.find((one) => one.kind === kind && one[name] === value) || null;
  P.leftOut = (kind, name, value) => P.index.left_out.some((one) => one.kind === kind && one[name] === value);
  P.made = () => made;

  // The distance on board that is next to one; null is the plan as made.
  P.nearest = (daily) => {
    const all = [{ daily_m: made.trip.daily_m, key: null }, ...P.index.plans.filter((one) => one.kind === "distance")];
    const best = all.reduce((a, b) => (Math.abs(b.daily_m - daily) < Math.abs(a.daily_m - daily) ? b : a));
    return best.key === null ? null : best;
  };

  // An address may have been cut short where it was passed on.
  function keyOf(hash) {
    const code = (/[#&]plan=([^&]*)/.exec(hash) || ["", ""])[1];
    try {
      return decodeURIComponent(code) || null;
    } catch {
      return code;
    }
  }

  function open(key) {
    if (!unpacked.has(key)) {
      read ??= R.against(made, P.index.looked_through);
      const plan = read(R.readData(`pocket-${key}`));
      if (plan.sweep) plan.sweep = { ...plan.sweep, rows: plan.sweep.rows.map((row) => marked(row, plan)) };
      unpacked.set(key, plan);
      if (unpacked.size > KEPT) unpacked.delete(unpacked.keys().next().value);
    }
    return unpacked.get(key);
  }
  // Null for a plan that came damaged.
  function opened(key) {
    try {
      return open(key);
    } catch (error) {
      if (!(error instanceof R.Damaged)) throw error;
      return null;
    }
  }
  const marked = (row, plan) => ({
    ...row,
    chosen: row.daily_m === plan.trip.daily_m && row.start_date === plan.trip.start_date,
  });

  // Unpack what is likely to be chosen, one after the other while nothing else is to do.
  P.prepare = (keys) => {
    const key = keys.slice(0, KEPT - 1).find((one) => !unpacked.has(one));
    const later = window.requestIdleCallback || ((work) => setTimeout(work, 100));
    if (key)
      later(() => {
        if (P.ready(key)) P.prepare(keys);
      });
  };
  // A finger on a choice has it unpacked before it is lifted: the places, which the map needs, too.
  P.ready = (key) => {
    const plan = key && opened(key);
    return Boolean(plan && plan.passes);
  };

  // Show a plan by its key; null is the plan as made. True if another one is shown now.
  P.show = (key) => {
    if (key === P.current) return false;
    const plan = key ? opened(key) : made;
    if (!plan) {
      P.lost = "That plan came damaged in this file: copy the file again.";
      if (P.current) P.show(null);
      else P.line();
      return false;
    }
    P.current = key;
    // Writing the address takes longer than drawing the strip: it comes after the picture.
    requestAnimationFrame(() => setTimeout(remember));
    R.show(plan, R.geo);
    R.say(key ? `Now shown: ${R.changed.words(P.plan(key))}` : "Now shown: the plan as made");
    document.dispatchEvent(new CustomEvent("resupply-plan-shown", { detail: { key, change: P.plan(key) } }));
    return true;
  };
  // From other parts of the page. What is not on board is said where the changes stand: two at once,
  // or a distance between those there are.
  function choose(one) {
    if (P.current || !one || one.kind === "distance") R.changed.open();
    if (!P.show(one ? one.key : null)) R.card.redraw();
  }

  // A reload shows the same plan. Some browsers refuse to write the address of a file.
  function remember() {
    const hash = P.current ? `#plan=${encodeURIComponent(P.current)}` : "";
    try {
      history.replaceState(history.state, "", hash || location.pathname + location.search);
    } catch {
      location.hash = hash;
    }
  }
  addEventListener("hashchange", () => {
    if (!P.index || !R.plan) return;
    const key = keyOf(location.hash);
    P.show(P.plan(key) ? key : null);
  });

  // Which plan is shown, and the way back: in sight as long as it is not the plan as made.
  P.line = () => {
    const shown = P.plan(P.current);
    document.body.classList.toggle("other-plan", Boolean(shown || P.lost));
    const box = R.byId("shown-plan");
    box.hidden = !shown && !P.lost;
    if (shown)
      R.fill(
        box,
        el("span", { dir: "auto" }, el("b", {}, R.changed.words(shown))),
        el(
          "button.button",
          { type: "button", id: "plan-as-made", "aria-label": "Back to the plan as made", onclick: () => P.show(null) },
          "Back to the plan",
        ),
      );
    else if (P.lost) R.fill(box, el("span", {}, `${P.lost} Shown is the plan as made.`));
  };
  R.on("plan", () => {
    if (!P.index) return;
    if (P.current) P.lost = null;
    P.line();
  });

  R.pocket = P;
})(window.Resupply);
