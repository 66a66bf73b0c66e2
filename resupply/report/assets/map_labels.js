// Pins, names and numbers on the map, kept apart: pins first, then towns by size, the next shop's
// name, the stretch, villages, heights, and last the numbers of the days, which slide along their
// own line. What fits is decided once per zoom for what is in sight and a screen around it, so
// nothing flickers while the map is dragged and a country's names never burden it all at once.
"use strict";
(function (R) {
  const L = window.L;
  const G = R.glyphs;
  const M = { towns: true };

  const icon = (node, className, size, anchor) =>
    L.divIcon({ html: node, className, iconSize: size, iconAnchor: anchor });

  // Text is measured, not guessed.
  const pen = document.createElement("canvas").getContext("2d");
  const widths = new Map();
  function widthOf(text, weight, size) {
    const key = `${weight} ${size} ${text}`;
    if (!widths.has(key)) {
      pen.font = `${weight} ${size}px ${getComputedStyle(document.body).fontFamily}`;
      widths.set(key, pen.measureText(text).width);
    }
    return widths.get(key);
  }

  const overlaps = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
  const box = (x, y, width, height) => [x, y, x + width, y + height];

  // A plain grid of taken boxes and of points of the route; a label asks only its neighbourhood.
  const CELL = 96;
  function makeRoom(points) {
    const cells = new Map();
    const road = new Map();
    const each = ([x0, y0, x1, y1], visit) => {
      for (let x = Math.floor(x0 / CELL); x <= Math.floor(x1 / CELL); x++)
        for (let y = Math.floor(y0 / CELL); y <= Math.floor(y1 / CELL); y++) visit(`${x},${y}`);
    };
    for (const p of points) {
      const key = `${Math.floor(p.x / CELL)},${Math.floor(p.y / CELL)}`;
      if (!road.has(key)) road.set(key, []);
      road.get(key).push(p);
    }
    return {
      free(one) {
        let free = true;
        each(one, (key) => (cells.get(key) || []).forEach((other) => (free = free && !overlaps(one, other))));
        return free;
      },
      // How much of the route it would cover.
      covers(one) {
        let count = 0;
        each(one, (key) =>
          (road.get(key) || []).forEach((p) => {
            if (p.x > one[0] - 3 && p.x < one[2] + 3 && p.y > one[1] - 3 && p.y < one[3] + 3) count++;
          }),
        );
        return count;
      },
      take(one) {
        each(one, (key) => cells.set(key, [...(cells.get(key) || []), one]));
      },
    };
  }

  M.place = (map) => {
    const zoom = map.getZoom();
    const at = (latLng) => map.project(latLng, zoom);
    const room = makeRoom(R.view.parts.map(([, where]) => at(where)));
    const group = L.layerGroup();
    const frame = map.getSize();
    const corner = map.getPixelBounds().min;
    sight = [corner.x + 4, corner.y + 4, corner.x + frame.x - 4, corner.y + frame.y - 4];
    labelled = [corner.x - frame.x, corner.y - frame.y, corner.x + 2 * frame.x, corner.y + 2 * frame.y];
    M.zoom = zoom;
    takeControls(map, room, corner);
    placePins(group, at, room, frame);
    const towns = M.towns ? sortedTowns() : [];
    placeTowns(
      group,
      at,
      room,
      frame,
      towns.filter((town) => (town.rank || 3) < 3),
    );
    placeNext(group, at, room, frame);
    placeStretch(group, at, room);
    placeMarks(group, at, room);
    placeTowns(
      group,
      at,
      room,
      frame,
      towns.filter((town) => (town.rank || 3) >= 3),
    );
    if (M.towns) placePeaks(group, at, room);
    placeDays(group, at, room);
    return group;
  };

  // The surroundings that have been labelled, and whether a point lies in them.
  let labelled = [0, 0, 0, 0];
  const isNear = ({ x, y }) => x > labelled[0] && y > labelled[1] && x < labelled[2] && y < labelled[3];
  M.holds = (map) => {
    const { min, max } = map.getPixelBounds();
    return M.zoom === map.getZoom() && isNear(min) && isNear(max);
  };

  // Nothing is written under the scale, the credit or the buttons. Another plan moves none of them, and
  // to ask where they are has the whole page laid out: only where the map or the scale has another size.
  let controls = { of: "", boxes: [] };
  function takeControls(map, room, corner) {
    const scale = R.find("#map-box .leaflet-control-scale-line");
    const of = `${map.getSize()} ${scale ? scale.style.width : ""}`;
    if (controls.of !== of) controls = { of, boxes: lookForControls(map) };
    for (const [left, top, width, height] of controls.boxes)
      room.take(box(corner.x + left, corner.y + top, width, height));
  }
  function lookForControls(map) {
    const frame = map.getContainer().getBoundingClientRect();
    return [...R.byId("map-box").querySelectorAll(".leaflet-control, .map-tools")]
      .map((control) => control.getBoundingClientRect())
      .filter(({ width }) => width)
      .map(({ left, top, width, height }) => [left - frame.left, top - frame.top, width, height]);
  }

  // ---- Pins ---------------------------------------------------------------------------------
  const FIRST = { food: 0, ice: 1, camp: 2, meal_out: 3, fuel: 4, water: 5, mark: 6 };
  /** @type {[number, number][]} */
  const ASIDE = [
    [0, 0],
    [-17, -4],
    [17, -4],
    [-30, -10],
    [30, -10],
    [0, -30],
    [-24, -32],
    [24, -32],
  ];

  function ends() {
    const { legs } = R.plan;
    const begin = {
      kind: "mark",
      also: [],
      chainage_m: legs[0].start_m,
      at: R.positionAt(legs[0].start_m),
      name: "Start",
    };
    const over = {
      kind: "mark",
      also: [],
      chainage_m: legs.at(-1).end_m,
      at: R.positionAt(legs.at(-1).end_m),
      name: "End",
    };
    const near = Math.hypot(begin.at[0] - over.at[0], begin.at[1] - over.at[1]) < 0.02;
    return (near ? [begin] : [begin, over]).map((visit) => ({ ...visit, leg: 0, state: "open" }));
  }

  function placePins(group, at, room, frame) {
    const next = R.answers.next();
    const chosen = R.strip.day;
    const all = [...R.visits(), ...ends()].sort((a, b) => FIRST[a.kind] - FIRST[b.kind]);
    const small = frame.x < 420;
    // Where a small far view would be all pins, fuel and water wait until the map comes nearer.
    const crowded = small && all.length > 20 && R.view.map.getZoom() < 8;
    for (const visit of all) {
      if (crowded && (visit.kind === "fuel" || visit.kind === "water")) continue;
      visit.next = Boolean(next && next.pass && visit.pass === next.pass);
      const scale = (visit.next ? 1.3 : G.pins[visit.kind].size) * (small && !visit.next ? 0.9 : 1);
      const [width, height] = [32 * scale, 40 * scale];
      const foot = at(visit.at);
      const taken = ([dx, dy]) =>
        box(foot.x + dx - width * 0.36, foot.y + dy - height * 0.92, width * 0.72, height * 0.92);
      const found = ASIDE.find((aside) => room.free(taken(aside)));
      // Nothing free: it is seen when the map comes nearer; the next shop always stands.
      if (!found && !visit.next) continue;
      const [dx, dy] = found || ASIDE[0];
      room.take(taken([dx, dy]));
      const pin = G.pin(visit.kind, { scale, next: visit.next, bare: Boolean(visit.bare), state: visit.state });
      if (dx || dy) room.take([foot.x + Math.min(0, dx), foot.y + Math.min(0, dy), foot.x + Math.max(0, dx), foot.y]);
      if (dx || dy) pin.append(R.svg("path.pin-foot", { d: `M16 37L${16 - dx / scale} ${37 - dy / scale}` }));
      const marker = L.marker(visit.at, {
        icon: icon(pin, `pin-holder pin-${visit.kind}`, [width, height], [width / 2 - dx, height * 0.925 - dy]),
        pane: "pins",
        keyboard: visit.kind !== "mark",
        interactive: visit.kind !== "mark",
        riseOnHover: true,
        opacity: chosen && visit.leg && visit.leg !== chosen ? 0.45 : 1,
        zIndexOffset: visit.next ? 800 : 400 - 60 * FIRST[visit.kind],
      });
      marker.on("add", () => name(marker.getElement(), visit));
      marker.on("click", () => open(visit));
      marker.on("keydown", ({ originalEvent: event }) => {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        open(visit);
      });
      group.addLayer(marker);
    }
  }

  function name(node, visit) {
    if (visit.kind === "mark") return node.setAttribute("aria-hidden", "true");
    const said = visit.stop ? `Stop ${visit.stop.number}` : R.visitWords(visit);
    const state = visit.night ? "" : `, ${G.word(G.state(visit))}`;
    node.setAttribute("aria-label", `${R.format.upper(said)}: ${visit.name}${state}`);
    node.dataset.pin = visit.pass || `${visit.kind}-${visit.chainage_m}`;
    if (visit.night) node.dataset.day = String(visit.night.number);
    return undefined;
  }

  function open(visit) {
    if (visit.night) R.view.openNight(visit.night);
    else if (visit.pass) R.view.openPass(R.passById.get(visit.pass));
  }
  M.open = open;

  // ---- Names --------------------------------------------------------------------------------
  // Of the places around a dot the one that covers least of the road.
  // What the map's edge would cut costs most.
  let sight = [0, 0, 0, 0];
  const cut = (one) => one[0] < sight[0] || one[1] < sight[1] || one[2] > sight[2] || one[3] > sight[3];
  // What comes into sight when the map is moved is whole already.
  const unseen = (one) => !overlaps(one, sight);
  function around(point, width, height, off, room) {
    const spots = [
      [off, -height / 2],
      [-off - width, -height / 2],
      [-width / 2, -off - height],
      [-width / 2, off],
      [off * 0.7, -off - height + 4],
      [off * 0.7, off - 4],
      [-off * 0.7 - width, -off - height + 4],
      [-off * 0.7 - width, off - 4],
    ];
    // At the edge of the map a name is moved along, over or under its dot, until it is whole.
    const inward = Math.min(Math.max(-width / 2, sight[0] - point.x), sight[2] - width - point.x);
    if (inward !== -width / 2 && Math.abs(inward + width / 2) < width / 2 + off)
      spots.push([inward, -off - height], [inward, off]);
    let best = null;
    spots.forEach(([dx, dy], i) => {
      const one = box(point.x + dx, point.y + dy, width, height);
      if (!room.free(one)) return;
      const cost = room.covers(one) + i * 0.4 + (cut(one) ? 60 : 0);
      if (!best || cost < best.cost) best = { dx, dy, one, cost };
    });
    return best;
  }

  function label(group, where, node, dx, dy, pane = "labels") {
    group.addLayer(
      L.marker(where, {
        icon: icon(node, "label-holder", [0, 0], [-dx, -dy]),
        pane,
        interactive: false,
        keyboard: false,
      }),
    );
  }

  const sortedTowns = () =>
    ((R.geo.backdrop || {}).towns || []).filter((town) => town.name).sort((a, b) => (a.rank || 9) - (b.rank || 9));

  // The largest first, and no more than the eye takes in at a time.
  const SIZES = { 1: [700, 17], 2: [700, 14.5], 3: [400, 12.5] };
  let quota = new Map();

  function placeTowns(group, at, room, frame, towns) {
    const most = frame.x < 500 ? 7 : 18;
    if (towns.length && (towns[0].rank || 3) < 3) quota = new Map();
    const zoom = R.view.map.getZoom();
    for (const town of towns) {
      const rank = Math.min(3, town.rank || 3);
      if (zoom < 3 + 1.2 * rank) continue;
      /** @type {[number, number]} */
      const where = [town.lat, R.draw.lonNear(town.lon)];
      const point = at(where);
      if (!isNear(point)) continue;
      const cell = `${Math.floor(point.x / frame.x)},${Math.floor(point.y / frame.y)}`;
      if ((quota.get(cell) || 0) >= most) continue;
      const [weight, size] = SIZES[rank];
      const width = Math.min(174, widthOf(town.name, weight, size) + 4);
      // A town finds a place a little farther off; a village does not.
      const reach = rank < 3 ? [6, 16, 28] : [6];
      const spots = reach.map((off) => around(point, width, size + 5, off, room)).filter(Boolean);
      // Half a name helps nobody.
      const found = spots.find((spot) => !cut(spot.one) || unseen(spot.one));
      if (!found) continue;
      quota.set(cell, (quota.get(cell) || 0) + 1);
      room.take(found.one);
      room.take(box(point.x - 5, point.y - 5, 10, 10));
      const dot = R.el("span.town", {}, R.el("i", {}));
      label(group, where, dot, 0, -8);
      label(
        group,
        where,
        R.el(`span.town.town-${rank}`, {}, R.el("span", { dir: "auto" }, town.name)),
        found.dx,
        found.dy,
      );
    }
  }

  // The name of the next shop in a frame of its own.
  function placeNext(group, at, room, frame) {
    const next = R.answers.next();
    const visit = next && next.pass ? R.visitOf(next.pass) : null;
    if (!visit) return;
    const width = Math.min(200, widthOf(visit.name, 700, 13.5) + 22);
    const point = at(visit.at);
    const spots = [
      around(point, width, 25, 22, room),
      around({ x: point.x, y: point.y - 46 }, width, 25, 4, room),
      around(point, width, 25, 40, room),
    ].filter(Boolean);
    const found = spots.find((spot) => !cut(spot.one) || unseen(spot.one));
    if (!found || frame.x < 300) return;
    room.take(found.one);
    const dy = found.one[1] - point.y;
    label(group, visit.at, R.el("span.next-label", { dir: "auto" }, visit.name), found.dx, dy);
  }

  function placeStretch(group, at, room) {
    const told = (R.plan.answers || {}).stretch;
    if (!told || told.tone === "plain" || !R.view.wanted.gaps) return;
    const text = R.format.words(told.figure);
    const width = widthOf(text, 700, 13) + 18;
    for (const share of [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8]) {
      const where = R.positionAt(told.start_m + share * (told.end_m - told.start_m));
      const found = around(at(where), width, 23, 14, room);
      if (!found || room.covers(found.one) > 1) continue;
      room.take(found.one);
      label(group, where, R.el("span.stretch-label", {}, text), found.dx, found.dy);
      return;
    }
  }

  // The rider's own marks always show; their names only where there is room.
  function placeMarks(group, at, room) {
    for (const mark of R.plan.route.marks || []) {
      /** @type {[number, number]} */
      const where = [mark.lat, R.draw.lonNear(mark.lon)];
      const point = at(where);
      if (!isNear(point)) continue;
      const sign = box(point.x - 5, point.y - 14, 12, 14);
      if (!room.free(sign)) continue;
      room.take(sign);
      label(group, where, R.el("span.own-mark", {}, G.supplyGlyph("mark", 13)), -4, -13);
      const found = around(point, Math.min(180, widthOf(mark.name, 400, 12.5) + 4), 17, 9, room);
      if (!found || room.covers(found.one) > 2 || cut(found.one)) continue;
      room.take(found.one);
      label(group, where, R.el("span.own-mark", {}, R.el("span", { dir: "auto" }, mark.name)), found.dx, found.dy);
    }
  }

  // Peaks and passes, well apart from one another.
  function placePeaks(group, at, room) {
    const seen = [];
    for (const peak of (R.geo.backdrop || {}).peaks || []) {
      /** @type {[number, number]} */
      const where = [peak.lat, R.draw.lonNear(peak.lon)];
      const point = at(where);
      if (!isNear(point)) continue;
      if (seen.some((other) => Math.hypot(other.x - point.x, other.y - point.y) < 110)) continue;
      const text = `${peak.kind === "pass" ? ")(" : "▲"} ${peak.name} ${R.format.heightOf(peak.ele_m)}`;
      const one = box(point.x - 6, point.y - 8, widthOf(text, 400, 12) + 4, 17);
      if (!room.free(one) || room.covers(one) > 1 || cut(one)) continue;
      room.take(one);
      seen.push(point);
      label(group, where, R.el("span.peak", {}, R.el("span", { dir: "auto" }, text)), -6, -8);
    }
  }

  // The number of a day; a tap on it chooses the day.
  function placeDays(group, at, room) {
    const shares = [0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85];
    for (const leg of R.plan.legs) {
      for (const share of shares) {
        const where = R.positionAt(leg.start_m + share * leg.length_m);
        const point = at(where);
        const one = box(point.x - 13, point.y - 13, 26, 26);
        if (!room.free(one)) continue;
        room.take(one);
        const node = R.el(`span.day-disc.${G.dayClass(leg.number)}`, {}, leg.number);
        const marker = L.marker(where, {
          icon: icon(node, "disc-holder", [24, 24], [12, 12]),
          pane: "pins",
          keyboard: false,
          zIndexOffset: -300,
        });
        marker.on("add", () => marker.getElement().setAttribute("aria-hidden", "true"));
        marker.on("click", () => R.strip.show(leg.number, { open: true }));
        group.addLayer(marker);
        break;
      }
    }
  }

  R.labels = M;
})(window.Resupply);
