// The distance strip: the whole route (or one day) by kilometre, and the mark it shares with
// the map. A slider to the keyboard and to a screen reader.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.tracks;
  const S = { day: 0, chainage: null };
  const LEFT = 52;
  const RIGHT = 10;
  let picture, cursor, readout, chooser, frame;

  S.start = () => {
    chooser = el("select", { "aria-label": "Part of the route shown", onchange: () => S.show(Number(chooser.value)) });
    const step = (by, label, sign) =>
      el("button.step", { type: "button", "aria-label": label, onclick: () => turn(by) }, sign);
    readout = el("p.strip-readout", {});
    frame = el("div.strip-frame", {
      tabindex: "0",
      role: "slider",
      "aria-label": "Place on the route",
      "aria-orientation": "horizontal",
      onkeydown: keys,
      onpointermove: point,
      onpointerdown: point,
      onpointerleave: () => R.tell("place", { chainage: null, from: "strip" }),
    });
    S.stage = el("div.strip-stage", {}, frame);
    R.fill(
      R.byId("strip"),
      el(
        "div.strip-bar",
        {},
        el("div.strip-choose", {}, step(-1, "Day before", "‹"), chooser, step(1, "Next day", "›")),
        readout,
      ),
      S.stage,
    );
    // Asking for the width while drawing would make the browser lay out the whole page first.
    new ResizeObserver(() => {
      S.width = frame.clientWidth;
      if (R.plan) S.draw();
    }).observe(frame);
    R.on("place", show);
    R.on("prefs", () => R.plan && S.draw());
  };

  S.range = () => {
    const leg = R.plan.legs.find((l) => l.number === S.day);
    return leg ? [leg.start_m, leg.end_m] : [0, R.length];
  };

  // From the whole route to the days, of which the first is not day 1 on a trip under way.
  function turn(by) {
    const days = [0, ...R.plan.legs.map((leg) => leg.number)];
    S.show(days[(days.indexOf(S.day) + by + days.length) % days.length]);
  }

  S.show = (day) => {
    S.day = day;
    const [from, to] = S.range();
    if (day) R.view.fit(from, to);
    else R.view.fit();
    S.draw();
    R.tell("day", day);
  };

  S.take = () => {
    R.fill(
      chooser,
      el("option", { value: 0 }, "Whole route"),
      R.plan.legs.map((leg) => el("option", { value: leg.number }, `Day ${leg.number} · ${F.date(leg.date)}`)),
    );
    if (!R.plan.legs.some((leg) => leg.number === S.day)) S.day = 0;
    S.draw();
  };

  S.picture = (width, range, hatchId, wanted = T.all) => {
    const tracks = wanted.filter((track) => !track.present || track.present());
    const gap = 7;
    const axis = 22;
    const height = tracks.reduce((sum, track) => sum + track.height + gap, 0) + axis;
    const x = (chainage) => LEFT + ((chainage - range[0]) / (range[1] - range[0] || 1)) * (width - LEFT - RIGHT);
    const root = svg(
      "svg.strip-picture",
      { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true", focusable: "false" },
      svg(
        "defs",
        {},
        svg(
          "pattern",
          { id: hatchId, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
          svg("rect.hatch-ground", { width: 7, height: 7 }),
          svg("rect.hatch-stroke", { width: 2.4, height: 7 }),
        ),
      ),
    );
    const hatch = svg("g", {});
    T.unknown(hatch, x, 26 + gap, height - axis - 2, range);
    hatch.querySelectorAll("rect").forEach((rect) => rect.setAttribute("fill", `url(#${hatchId})`));
    root.append(hatch);
    let top = 0;
    for (const track of tracks) {
      const group = svg("g", {});
      group.append(svg("text.track-title", { x: 0, y: top + Math.min(track.height / 2 + 4.5, 26) }, track.title));
      track.draw(group, x, top, track.height, range);
      root.append(group);
      top += track.height + gap;
    }
    root.append(axisMarks(x, top, range, width));
    return { root, x, height, bottom: top };
  };

  function axisMarks(x, top, range, width) {
    const group = svg("g.axis", {}, svg("line", { x1: x(range[0]), x2: x(range[1]), y1: top, y2: top }));
    const [from, to] = range.map(F.inUnits);
    const rough = (to - from) / Math.max(2, (width - LEFT) / 90);
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough);
    const perUnit = (range[1] - range[0]) / (to - from);
    for (let at = Math.ceil(from / step) * step; at <= to + 1e-9; at += step) {
      const px = x(at * perUnit);
      const edge = px > width - 36;
      group.append(
        svg("line", { x1: px, x2: px, y1: top, y2: top + 5 }),
        svg(
          "text",
          { x: edge ? width - 2 : px, y: top + 18, "text-anchor": edge ? "end" : "middle" },
          F.number(Math.round(at * 10) / 10, step < 1 ? 1 : 0),
        ),
      );
    }
    group.append(svg("text", { x: 0, y: top + 18 }, F.distanceUnit()));
    return group;
  }

  S.draw = () => {
    if (!R.plan) return;
    const width = Math.max(280, Math.floor(S.width || frame.clientWidth));
    chooser.value = String(S.day);
    picture = S.picture(width, S.range(), "hatch-strip");
    cursor = svg("line.strip-cursor", { y1: 0, y2: picture.bottom, x1: -9, x2: -9 });
    picture.root.append(cursor);
    R.fill(frame, picture.root);
    show({ chainage: S.chainage });
    R.tell("strip", picture);
  };

  S.chainageAt = (clientX) => {
    const box = frame.getBoundingClientRect();
    const [from, to] = S.range();
    const share = (clientX - box.left - LEFT) / (box.width - LEFT - RIGHT);
    return from + Math.max(0, Math.min(1, share)) * (to - from);
  };

  function point(event) {
    R.tell("place", { chainage: S.chainageAt(event.clientX), from: event.type === "pointerdown" ? "tap" : "strip" });
  }

  function keys(event) {
    const [from, to] = S.range();
    const step = (to - from) / (event.shiftKey ? 20 : 200);
    const stops = (R.plan.stops || []).map((stop) => stop.chainage_m).filter((c) => c >= from && c <= to);
    const here = S.chainage ?? from;
    const moves = {
      ArrowRight: () => here + step,
      ArrowUp: () => here + step,
      ArrowLeft: () => here - step,
      ArrowDown: () => here - step,
      Home: () => from,
      End: () => to,
      PageDown: () => stops.find((c) => c > here + 1) ?? to,
      PageUp: () => stops.findLast((c) => c < here - 1) ?? from,
    };
    if (!moves[event.key]) return;
    event.preventDefault();
    R.tell("place", { chainage: Math.max(from, Math.min(to, moves[event.key]())), from: "keys" });
  }

  function show({ chainage }) {
    S.chainage = chainage;
    if (!picture) return;
    const [from, to] = S.range();
    const inside = chainage !== null && chainage >= from && chainage <= to;
    const px = inside ? picture.x(chainage) : -9;
    cursor.setAttribute("x1", px);
    cursor.setAttribute("x2", px);
    const text = inside ? S.words(chainage) : restWords();
    R.fill(readout, text);
    const unit = (value) => String(Math.round(F.inUnits(value)));
    frame.setAttribute("aria-valuemin", unit(from));
    frame.setAttribute("aria-valuemax", unit(to));
    frame.setAttribute("aria-valuenow", unit(inside ? chainage : from));
    frame.setAttribute("aria-valuetext", inside ? text : S.words(from));
  }

  const restWords = () => "Touch the strip or the route to read a place.";

  S.words = (chainage) => {
    if (R.isBehind(chainage)) return `${F.at(chainage)} · behind you`;
    const leg = R.legAt(chainage);
    const parts = [`${F.at(chainage)}${leg ? `, day ${leg.number}` : ""}`];
    if (T.food.present())
      parts.push(`${F.plural(T.valueAt(R.plan.carry_profile, chainage, "meals"), "meal")} on board`);
    const next = (R.plan.stops || []).find((stop) => stop.chainage_m > chainage);
    parts.push(
      next
        ? `${F.distance(next.chainage_m - chainage)} to stop ${next.number}, ${G.word(G.state(next))}`
        : "no more shop stops",
    );
    const dark = ((R.plan.coverage || {}).unknown || []).find((s) => chainage >= s.start_m && chainage <= s.end_m);
    if (dark) parts.push("no map data here");
    if (R.line.ele_m) {
      const height = R.line.ele_m[R.before(R.line.chainage_m, chainage)];
      if (height !== null && height !== undefined) parts.push(F.heightOf(height));
    }
    return parts.join(" · ");
  };

  R.strip = S;
})(window.Resupply);
