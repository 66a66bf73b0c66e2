// The ends of the days, moved along the route: on the strip, by keys, and on the map.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const T = R.trip;
  const E = R.edit;

  // ---- Day ends on the strip ----------------------------------------------------------------
  const handles = new Map();
  let rail,
    ghost,
    dragging = null;

  E.start = () => {
    ghost = el("div.drag-tag", { hidden: true, "aria-hidden": "true" });
    rail = el("div.strip-handles", { role: "group", "aria-label": "Ends of the days" });
    R.strip.stage.append(rail, ghost);
    R.on("strip", place);
    onMap();
  };

  function place(picture) {
    const [from, to] = R.strip.range();
    const wanted = R.plan.legs.slice(0, -1).filter((leg) => leg.end_m > from && leg.end_m <= to);
    const spots = wanted.map((leg) => picture.x(leg.end_m));
    for (const [number, node] of handles) {
      if (wanted.some((leg) => leg.number === number) || (dragging && dragging.number === number)) continue;
      node.remove();
      handles.delete(number);
    }
    wanted.forEach((leg, i) => {
      let node = handles.get(leg.number);
      if (!node) {
        node = makeHandle(leg.number);
        handles.set(leg.number, node);
        rail.append(node);
      }
      const near = Math.min(spots[i] - (spots[i - 1] ?? -99), (spots[i + 1] ?? spots[i] + 99) - spots[i]);
      node.style.left = `${spots[i]}px`;
      node.style.width = `${Math.max(20, Math.min(44, near * 0.55))}px`;
      const value = Math.round(F.inUnits(leg.length_m));
      node.setAttribute("aria-valuenow", String(value));
      node.setAttribute("aria-valuetext", `day ${leg.number} rides ${F.distance(leg.length_m)}, to ${F.at(leg.end_m)}`);
      node.setAttribute("aria-valuemax", String(Math.round(F.inUnits(R.length - leg.start_m))));
    });
    // Reading order is riding order.
    [...handles.entries()]
      .sort((a, b) => a[0] - b[0])
      .forEach(
        ([, node], i) => rail.children[i] !== node && !dragging && rail.insertBefore(node, rail.children[i] || null),
      );
  }

  const legOf = (number) => R.plan.legs.find((leg) => leg.number === number);

  function makeHandle(number) {
    const node = el(
      "div.strip-handle",
      {
        tabindex: "0",
        role: "slider",
        "aria-label": `End of day ${number}`,
        "aria-valuemin": "5",
        "aria-orientation": "horizontal",
        title: `Drag the end of day ${number}`,
      },
      el("i", {}),
    );
    node.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      event.preventDefault();
      event.stopPropagation();
      node.setPointerCapture(event.pointerId);
      node.focus({ preventScroll: true });
      begin(number);
      const move = (moved) => drag(R.strip.chainageAt(moved.clientX));
      const end = () => {
        node.removeEventListener("pointermove", move);
        finish();
      };
      node.addEventListener("pointermove", move);
      node.addEventListener("lostpointercapture", end, { once: true });
    });
    node.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 20, PageDown: -20 }[event.key];
      const leg = legOf(number);
      if (!step || !leg) return;
      event.preventDefault();
      event.stopPropagation();
      // The plan may be a press behind: what counts is what was asked for last.
      const wanted = T.get(`pace.own_km.${number}`);
      E.setDay(
        leg,
        (wanted === undefined ? leg.length_m : wanted * 1000 - E.behind(leg)) +
          (step * (event.shiftKey ? 10 : 5) * 1000) / F.inUnits(1000),
        `keys-${number}`,
      );
    });
    return node;
  }

  // ---- What both ways of dragging share -------------------------------------------------------
  function begin(number) {
    dragging = { number };
    R.asking.hold(true);
    document.body.classList.add("dragging-day");
  }

  function drag(chainage) {
    const leg = dragging && legOf(dragging.number);
    if (!leg) return;
    const at = Math.max(leg.start_m + E.LEAST_M, Math.min(chainage, R.length - 1000));
    const set = E.setDay(leg, at - leg.start_m, `drag-day-${leg.number}`);
    R.tell("place", { chainage: at, from: "drag" });
    const [from, to] = R.strip.range();
    const share = (at - from) / (to - from);
    ghost.hidden = share < 0 || share > 1;
    ghost.style.setProperty("--at", String(share));
    R.fill(ghost, `Day ${leg.number}: ${F.distance(set)}`);
  }

  function finish() {
    if (!dragging) return;
    dragging = null;
    ghost.hidden = true;
    document.body.classList.remove("dragging-day");
    R.tell("place", { chainage: null, from: "drag" });
    T.settle();
    R.asking.hold(false);
  }

  // ---- Day ends on the map: the signs of the nights can be dragged along the route ------------
  function onMap() {
    const { map } = R.view;
    const box = map.getContainer();
    box.addEventListener(
      "pointerdown",
      (event) => {
        const sign = event.target.closest(".pin-camp");
        const number = sign && Number(sign.dataset.day);
        const leg = number && R.plan && T.state ? legOf(number) : null;
        if (!leg || leg === R.plan.legs.at(-1) || event.button) return;
        // The map itself must not move while a day's end does.
        map.dragging.disable();
        const from = [event.clientX, event.clientY];
        let started = false;
        let at = leg.end_m;
        const range = [
          leg.start_m + E.LEAST_M,
          Math.min(R.length - 1000, leg.start_m + Math.max(2.5 * leg.length_m, 2 * T.get("pace.daily_km") * 1000)),
        ];
        const move = (moved) => {
          if (!started && Math.hypot(moved.clientX - from[0], moved.clientY - from[1]) < 6) return;
          if (!started) {
            started = true;
            box.setPointerCapture(event.pointerId);
            begin(number);
          }
          const frame = box.getBoundingClientRect();
          const chainage = R.view.nearest({ x: moved.clientX - frame.left, y: moved.clientY - frame.top }, Infinity, {
            range,
            from: at,
          });
          if (chainage !== null) drag((at = chainage));
        };
        const end = () => {
          document.removeEventListener("pointermove", move);
          document.removeEventListener("pointerup", end);
          document.removeEventListener("pointercancel", end);
          map.dragging.enable();
          if (!started) return;
          finish();
          // The click that ends a drag is none.
          const swallow = (click) => click.stopPropagation();
          box.addEventListener("click", swallow, true);
          setTimeout(() => box.removeEventListener("click", swallow, true), 50);
        };
        document.addEventListener("pointermove", move);
        document.addEventListener("pointerup", end);
        document.addEventListener("pointercancel", end);
      },
      true,
    );
  }
})(window.Resupply);
