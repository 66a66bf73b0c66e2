// The strip: the whole trip (or one day) by kilometre, and the mark it shares with the map. Pins of
// the visits, days as bars, the longest stretch as a ticked band, meals on board where there is
// room. A slider to the keyboard and to a screen reader.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.tracks;
  const S = { day: 0, chainage: null };
  const SIDE = 14;
  let picture, cursor, readout, frame;

  S.start = () => {
    readout = el("p.strip-readout", { "aria-hidden": "true" });
    frame = el("div.strip-frame", {
      tabindex: "0",
      role: "slider",
      "aria-label": "Place on the route",
      "aria-orientation": "horizontal",
      onkeydown: keys,
      onpointermove: (event) => event.pointerType === "mouse" && point(event),
      onpointerleave: () => R.tell("place", { chainage: S.kept ?? null, from: "strip" }),
      onclick: tap,
    });
    S.stage = el("div.strip-stage", {}, frame);
    R.fill(R.byId("strip"), S.stage, readout);
    // Asking for the width while drawing would make the browser lay out the whole page first.
    new ResizeObserver(() => {
      [S.width, S.height] = [frame.clientWidth, R.byId("strip").clientHeight];
      if (R.plan) S.draw();
    }).observe(R.byId("strip"));
    R.on("place", show);
    R.on("prefs", () => R.plan && S.draw());
    R.on("found", () => R.plan && S.draw());
  };

  S.range = () => [0, R.length];
  S.dayRange = () => {
    const leg = R.plan.legs.find((one) => one.number === S.day);
    return leg ? [leg.start_m, leg.end_m] : [0, R.length];
  };

  // Chooses a day, on map and strip alike; 0 is the whole route. `open` reads it as well.
  S.show = (day, { open = false } = {}) => {
    S.day = R.plan.legs.some((leg) => leg.number === day) ? day : 0;
    if (S.day) R.view.fit(...S.dayRange());
    else R.view.fit();
    S.draw();
    R.tell("day", S.day);
    if (S.day && open) R.days.open(S.day);
  };

  S.take = () => {
    if (!R.plan.legs.some((leg) => leg.number === S.day)) S.day = 0;
    S.draw();
  };

  // Rows for what was asked for: the printed sheet and the fold below the days use them.
  S.picture = (width, range, hatchId, wanted) => T.picture(width, range, hatchId, wanted);

  // ---- The ribbon -----------------------------------------------------------------------------
  const round = (value) => Math.round(value * 10) / 10;

  function ribbon(width, height) {
    const tall = height >= 100;
    const bars = tall ? { top: 40, height: 22 } : { top: 31, height: 17 };
    const [from, to] = S.range();
    const x = (chainage) => SIDE + ((chainage - from) / (to - from || 1)) * (width - 2 * SIDE);
    const root = svg("svg.strip-picture", {
      viewBox: `0 0 ${width} ${height}`,
      width,
      height,
      "aria-hidden": "true",
      focusable: "false",
    });
    const days = dayBars(x, bars, tall);
    const names = [...days.querySelectorAll("text")];
    root.append(days, stretch(x, bars, tall), dark(x, bars, names));
    // Days are read through the hatching.
    root.append(svg("g.strip-days", {}, names));
    if (tall) root.append(meals(x, bars.top + 46, 24));
    root.append(pins(x, bars.top, width, tall));
    return { root, x, bars, bottom: tall ? bars.top + 72 : height - 2, tall };
  }

  function dayBars(x, { top, height }, tall) {
    const group = svg("g.strip-days");
    for (const leg of R.plan.legs) {
      const [a, b] = [x(leg.start_m), x(leg.end_m)];
      const faint = S.day && S.day !== leg.number ? ".faint" : "";
      group.append(
        svg(`rect.day-band.${G.dayClass(leg.number)}${faint}`, {
          x: round(a + 0.7),
          y: top,
          width: round(Math.max(1, b - a - 1.4)),
          height,
          rx: 3,
          "data-day": leg.number,
        }),
      );
      const rested = leg.rest_days_before > 0;
      const from = rested && b - a > 34 ? a + 22 : a;
      const words = [
        `${leg.number} · ${F.dayOf(leg.date)}`,
        `${leg.number} ${F.weekday(leg.date)}`,
        String(leg.number),
      ];
      const room = [tall ? 74 : 999, 44, 11];
      const said = words.find((_, i) => b - from > room[i]);
      if (said)
        group.append(
          svg(
            `text.day-text${faint}`,
            { x: round((from + b) / 2), y: top + height / 2 + 4.5, "text-anchor": "middle" },
            said,
          ),
        );
      if (rested) {
        const at = round(b - a > 34 ? a + 11 : a);
        group.append(
          svg("rect.rest-mark", { x: at - 9, y: top + 2, width: 18, height: height - 4, rx: 4 }),
          svg(
            "text.rest-text",
            { x: at, y: top + height / 2 + 4, "text-anchor": "middle" },
            `+${leg.rest_days_before}`,
          ),
        );
      }
    }
    return group;
  }

  function stretch(x, { top, height }, tall) {
    const group = svg("g.strip-stretch");
    const told = (R.plan.answers || {}).stretch;
    if (!told || told.tone === "plain" || told.end_m === undefined) return group;
    const [a, b] = [x(told.start_m), x(told.end_m)];
    const [y, deep] = [top + height + 2.5, tall ? 15 : 5];
    group.append(svg("rect.stretch-band", { x: round(a), y, width: round(Math.max(3, b - a)), height: deep, rx: 1 }));
    let d = "";
    for (let px = a + 6; px < b - 2; px += 6) d += `M${round(px)} ${y}v${deep}`;
    group.append(svg("path.stretch-ticks", { d }));
    if (tall && b - a > 60)
      group.append(
        svg("text.stretch-text", { x: round((a + b) / 2), y: y + 11.8, "text-anchor": "middle" }, F.words(told.figure)),
      );
    return group;
  }

  // Without map data: hatched through bars and band; the two longest are named where no day's name stands.
  const HALF_PX = 43;
  const MOST_NAMED = 2;
  function dark(x, { top, height }, names) {
    const group = svg("g.strip-dark");
    const taken = names.map((node) => [Number(node.getAttribute("x")), node.textContent.length * 3.6]);
    const clear = (px) => taken.every(([at, half]) => Math.abs(at - px) > half + HALF_PX);
    const free = (a, b) => {
      for (let aside = 0; aside < (b - a) / 2 - HALF_PX; aside += 6)
        for (const px of [(a + b) / 2 - aside, (a + b) / 2 + aside]) if (clear(px)) return px;
      return null;
    };
    const longestFirst = [...((R.plan.coverage || {}).unknown || [])];
    longestFirst.sort((one, other) => other.end_m - other.start_m - (one.end_m - one.start_m));
    let named = 0;
    for (const one of longestFirst) {
      const [a, b] = [x(one.start_m), x(one.end_m)];
      let d = "";
      for (let px = a; px < b; px += 4) d += `M${round(px)} ${top + height + 3}l4 -${height + 6}`;
      group.append(svg("path.dark-lines", { d }));
      const at = named < MOST_NAMED ? free(a, b) : null;
      if (at === null) continue;
      named += 1;
      taken.push([at, HALF_PX]);
      group.append(
        svg("text.unknown-text", { x: round(at), y: top + height / 2 + 4, "text-anchor": "middle" }, "no map data"),
      );
    }
    return group;
  }

  function meals(x, top, height) {
    const group = svg("g.strip-meals");
    const profile = R.plan.carry_profile || [];
    if (profile.length < 2) return group;
    const most = Math.max(...profile.map((step) => step.meals), 1);
    const y = (count) => round(top + height - (count / most) * height);
    let d = `M${round(x(profile[0].chainage_m))} ${y(profile[0].meals)}`;
    for (const step of profile.slice(1)) d += `H${round(x(step.chainage_m))}V${y(step.meals)}`;
    const end = round(x(R.length));
    group.append(
      svg("path.meals-area", { d: `${d}H${end}V${top + height}H${round(x(profile[0].chainage_m))}z` }),
      svg("path.meals-line", { d: `${d}H${end}` }),
    );
    let free = -99;
    profile.forEach((step, i) => {
      const rises = i === 0 || step.meals > profile[i - 1].meals;
      const px = round(x(step.chainage_m) + 4);
      if (!rises || px < free) return;
      const said = i === 0 ? `${F.plural(step.meals, "meal")}` : String(step.meals);
      group.append(svg("text.meals-text", { x: px, y: top + height - 5 }, said));
      free = px + 9 * said.length + 10;
    });
    return group;
  }

  // All visits: pins push each other aside and keep a thin leader to their kilometre.
  const FIRST = { food: 0, ice: 1, camp: 2, meal_out: 3, fuel: 4, water: 5 };
  function pins(x, base, width, tall) {
    const group = svg("g.strip-pins");
    const next = R.answers.next();
    const apart = tall ? 17 : 14.5;
    const most = Math.max(3, Math.floor((width - 2 * SIDE) / apart));
    const shown = [...R.visits()]
      .sort((a, b) => FIRST[a.kind] - FIRST[b.kind])
      .slice(0, most)
      .sort((a, b) => a.chainage_m - b.chainage_m);
    const spots = shown.map((visit) => x(visit.chainage_m));
    for (let i = 1; i < spots.length; i++) spots[i] = Math.max(spots[i], spots[i - 1] + apart);
    let limit = width - 9;
    for (let i = spots.length - 1; i >= 0; i--) {
      spots[i] = Math.min(spots[i], limit);
      limit = spots[i] - apart;
    }
    shown.forEach((visit, i) => {
      const chosen = next && next.pass && visit.pass === next.pass;
      const scale = (chosen ? 0.82 : visit.kind === "food" ? 0.74 : 0.6) * (tall ? 1 : 0.92);
      const true_x = x(visit.chainage_m);
      if (Math.abs(true_x - spots[i]) > 2)
        group.append(svg("path.pin-leader", { d: `M${round(spots[i])} ${base - 6}L${round(true_x)} ${base}` }));
      const pin = G.pin(visit.kind, { scale, next: chosen, bare: Boolean(visit.bare), state: visit.state });
      pin.setAttribute("x", round(spots[i] - 16 * scale));
      pin.setAttribute("y", round(base - 4 - 37 * scale));
      if (S.day && visit.leg !== S.day) pin.classList.add("faint");
      pin.addEventListener("click", (event) => {
        event.stopPropagation();
        R.labels.open(visit);
      });
      group.append(pin);
    });
    return group;
  }

  S.draw = () => {
    if (!R.plan) return;
    const width = Math.max(240, Math.floor(S.width || frame.clientWidth));
    const height = Math.max(50, (S.height || R.byId("strip").clientHeight || 58) - 1);
    picture = ribbon(width, height);
    S.stage.style.setProperty("--bar-top", `${picture.bars.top}px`);
    S.stage.style.setProperty("--bar-height", `${picture.bars.height}px`);
    readout.hidden = !picture.tall;
    cursor = svg("line.strip-cursor", { y1: picture.bars.top - 6, y2: picture.bottom, x1: -9, x2: -9 });
    picture.root.append(cursor);
    R.fill(frame, picture.root);
    show({ chainage: S.chainage });
    R.tell("strip", picture);
  };

  S.chainageAt = (clientX) => {
    const box = frame.getBoundingClientRect();
    const [from, to] = S.range();
    const share = (clientX - box.left - SIDE) / (box.width - 2 * SIDE);
    return from + Math.max(0, Math.min(1, share)) * (to - from);
  };

  function point(event) {
    R.tell("place", { chainage: S.chainageAt(event.clientX), from: "strip" });
  }

  // A tap on a day chooses it; elsewhere it reads the kilometre, and that stays.
  function tap(event) {
    if (!R.plan) return;
    const chainage = S.chainageAt(event.clientX);
    const below = event.clientY - frame.getBoundingClientRect().top;
    const { top, height } = picture.bars;
    if (below >= top - 3 && below <= top + height + 1 && !R.isBehind(chainage)) {
      const leg = R.legAt(chainage);
      S.show(leg.number, { open: true });
    } else S.readAt(chainage);
  }

  // Reads a kilometre in the sheet; the mark stays on map and strip until it is closed.
  S.readAt = (chainage) => {
    S.kept = chainage;
    R.card.open({ key: "here", tab: R.tabs.current, draw: () => R.popups.here(chainage) });
    R.tell("place", { chainage, from: "tap" });
  };
  R.on("card", (what) => {
    if (what && what.key === "here") return;
    if (S.kept !== undefined && S.kept !== null) R.tell("place", { chainage: null, from: "card" });
    S.kept = null;
  });

  function keys(event) {
    const [from, to] = S.range();
    const step = (to - from) / (event.shiftKey ? 20 : 200);
    const stops = (R.plan.stops || []).map((stop) => stop.chainage_m).filter((c) => c >= from && c <= to);
    const here = S.chainage ?? from;
    if (event.key === "Enter") return S.readAt(here);
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
    if (!moves[event.key]) return undefined;
    event.preventDefault();
    return R.tell("place", { chainage: Math.max(from, Math.min(to, moves[event.key]())), from: "keys" });
  }

  function show({ chainage }) {
    S.chainage = chainage;
    if (!picture) return;
    const [from, to] = S.range();
    const inside = chainage !== null && chainage >= from && chainage <= to;
    const px = inside ? picture.x(chainage) : -9;
    cursor.setAttribute("x1", px);
    cursor.setAttribute("x2", px);
    const text = inside ? S.words(chainage) : "";
    R.fill(readout, text);
    const unit = (value) => String(Math.round(F.inUnits(value)));
    frame.setAttribute("aria-valuemin", unit(from));
    frame.setAttribute("aria-valuemax", unit(to));
    frame.setAttribute("aria-valuenow", unit(inside ? chainage : from));
    frame.setAttribute("aria-valuetext", inside ? text : S.words(from));
  }

  S.words = (chainage) => S.read(chainage).join(" · ");

  // A kilometre of the route in parts: where, when, food, next shop, what else is known.
  S.read = (chainage) => {
    if (R.isBehind(chainage)) return [F.at(chainage), "behind you"];
    const leg = R.legAt(chainage);
    const parts = [F.at(chainage)];
    if (leg) {
      const at = leg.arrivals ? R.lookup.at(leg.arrivals, chainage).arrive_s : null;
      const due = at && F.later(leg.depart, (at - Date.parse(leg.depart) / 1000) / 60);
      parts.push(due ? `day ${leg.number}, ${F.when(due)}` : `day ${leg.number}`);
    }
    if (T.food.present())
      parts.push(`${F.plural(T.valueAt(R.plan.carry_profile, chainage, "meals"), "meal")} on board`);
    const next = (R.plan.stops || []).find((stop) => stop.chainage_m > chainage);
    parts.push(
      next
        ? `${F.distance(next.chainage_m - chainage)} to ${R.placeName(next.place)}, ${G.word(G.state(next))}`
        : "no more shop stops",
    );
    const dark = ((R.plan.coverage || {}).unknown || []).find((s) => chainage >= s.start_m && chainage <= s.end_m);
    if (dark) parts.push("no map data here");
    if (R.line.ele_m) {
      const height = R.line.ele_m[R.before(R.line.chainage_m, chainage)];
      if (height !== null && height !== undefined) parts.push(F.heightOf(height));
    }
    return parts;
  };

  R.strip = S;
})(window.Resupply);
