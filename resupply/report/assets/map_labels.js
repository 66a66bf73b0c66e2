// Numbers, names and nights on the map, kept apart: stops first, then days, then towns by
// rank. What fits is decided once per zoom, so nothing flickers while the map is dragged.
"use strict";
(function (R) {
  const L = window.L;
  const G = R.glyphs;
  const M = { towns: true };

  function icon(node, className, size, anchor) {
    return L.divIcon({ html: node, className, iconSize: size, iconAnchor: anchor });
  }

  M.stopPins = () => {
    const group = L.layerGroup();
    for (const stop of R.plan.stops || []) {
      const crossing = R.passById.get(stop.pass) || stop;
      const state = G.state(stop);
      const name = R.placeName(stop.place);
      const pin = R.el(
        "span.pin",
        {},
        R.el("b", {}, stop.number),
        R.el(`span.pin-state.tone-${G.tone(state)}`, {}, G.stateGlyph(state, 15)),
      );
      const marker = L.marker(R.draw.placeAt(R.place(stop.place), crossing), {
        icon: icon(pin, "pin-holder", [40, 40], [20, 36]),
        pane: "pins",
        riseOnHover: true,
        keyboard: true,
      });
      marker.on("add", () =>
        marker.getElement().setAttribute("aria-label", `Stop ${stop.number}: ${name}, ${G.word(state)}`),
      );
      marker.bindPopup(() => R.popups.stop(stop), R.popups.options(320, -26));
      group.addLayer(marker);
    }
    return group;
  };

  M.nights = () => {
    const group = L.layerGroup();
    for (const leg of R.plan.legs) {
      const kind = leg === R.plan.legs.at(-1) ? "end" : (leg.night || {}).kind || "plain";
      const node = R.el(
        `span.night.night-${kind}`,
        { "data-day": leg.number },
        kind === "end" ? G.supplyGlyph("mark", 15) : kind === "plain" ? null : G.supplyGlyph("camp", 15),
      );
      const marker = L.marker(R.positionAt(leg.end_m), {
        icon: icon(node, "night-holder", [26, 26], [13, 13]),
        pane: "pins",
        zIndexOffset: -400,
        keyboard: true,
      });
      marker.on("add", () => marker.getElement().setAttribute("aria-label", `End of day ${leg.number}`));
      marker.bindPopup(() => R.popups.night(leg), R.popups.options(300));
      group.addLayer(marker);
    }
    return group;
  };

  const boxAt = (point, width, height, up) => [
    point.x - width / 2,
    point.y - up,
    point.x + width / 2,
    point.y - up + height,
  ];
  const overlaps = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

  // A plain grid of taken boxes; a label asks only its own neighbourhood.
  function makeRoom() {
    const cells = new Map();
    const each = (box, visit) => {
      for (let x = Math.floor(box[0] / 128); x <= Math.floor(box[2] / 128); x++) {
        for (let y = Math.floor(box[1] / 128); y <= Math.floor(box[3] / 128); y++) visit(`${x},${y}`);
      }
    };
    return {
      free(box) {
        let free = true;
        each(box, (key) => (cells.get(key) || []).forEach((other) => (free = free && !overlaps(box, other))));
        return free;
      },
      take(box) {
        each(box, (key) => cells.set(key, [...(cells.get(key) || []), box]));
      },
    };
  }

  M.place = (map) => {
    const zoom = map.getZoom();
    const room = makeRoom();
    const at = (latLng) => map.project(latLng, zoom);
    for (const stop of R.plan.stops || [])
      room.take(boxAt(at(R.draw.placeAt(R.place(stop.place), R.passById.get(stop.pass))), 38, 40, 36));
    const group = L.layerGroup();
    for (const leg of R.plan.legs) room.take(boxAt(at(R.positionAt(leg.end_m)), 26, 26, 13));
    for (const mark of R.plan.route.marks || []) room.take(boxAt(at([mark.lat, R.draw.lonNear(mark.lon)]), 12, 14, 14));
    placeDays(group, at, room);
    placeMarks(group, at, room);
    if (M.towns) placeTowns(group, at, room, zoom);
    return group;
  };

  // The rider's own marks always show; their names only where there is room.
  function placeMarks(group, at, room) {
    const middle = at(R.view.middle).x;
    for (const mark of R.plan.route.marks || []) {
      /** @type {[number, number]} */
      const where = [mark.lat, R.draw.lonNear(mark.lon)];
      const point = at(where);
      const width = Math.min(180, 7.4 * mark.name.length + 20);
      // In the east half of the route a name goes left, clear of the map's buttons.
      const left = point.x > middle;
      const [from, to] = left ? [-width, -8] : [8, width];
      const box = [point.x + from, point.y - 16, point.x + to, point.y + 2];
      const named = room.free(box);
      if (named) room.take(box);
      const node = R.el(
        `span.own-mark${left ? ".own-mark-left" : ""}`,
        {},
        G.supplyGlyph("mark", 14),
        named && R.el("span", { dir: "auto" }, mark.name),
      );
      group.addLayer(
        L.marker(where, {
          icon: icon(node, "own-mark-holder", [0, 0], [4, 14]),
          pane: "labels",
          interactive: false,
          keyboard: false,
        }),
      );
    }
  }

  function placeDays(group, at, room) {
    for (const leg of R.plan.legs) {
      const text = `Day ${leg.number}`;
      const width = 8.2 * text.length + 18;
      for (const share of [0.5, 0.38, 0.62, 0.25, 0.75]) {
        const where = R.positionAt(leg.start_m + share * leg.length_m);
        const box = boxAt(at(where), width, 26, 13);
        if (!room.free(box)) continue;
        room.take(box);
        const node = R.el(`span.day-tag.${G.dayClass(leg.number)}`, {}, text);
        group.addLayer(
          L.marker(where, {
            icon: icon(node, "tag-holder", [width, 26], [width / 2, 13]),
            pane: "labels",
            interactive: false,
            keyboard: false,
          }),
        );
        break;
      }
    }
  }

  function placeTowns(group, at, room, zoom) {
    const towns = ((R.geo.backdrop || {}).towns || []).filter(
      (town) => town.name && zoom >= 4 + 1.6 * (town.rank || 1),
    );
    towns.sort((a, b) => (a.rank || 9) - (b.rank || 9));
    let shown = 0;
    for (const town of towns) {
      if (shown >= 250) break;
      /** @type {[number, number]} */
      const where = [town.lat, R.draw.lonNear(town.lon)];
      const width = Math.min(180, 7.4 * town.name.length + 16);
      const point = at(where);
      const box = [point.x - 5, point.y - 9, point.x + width, point.y + 9];
      if (!room.free(box)) continue;
      room.take(box);
      shown++;
      const node = R.el(
        `span.town.town-${Math.min(3, town.rank || 3)}`,
        {},
        R.el("i", {}),
        R.el("span", { dir: "auto" }, town.name),
      );
      group.addLayer(
        L.marker(where, {
          icon: icon(node, "town-holder", [0, 0], [4, 9]),
          pane: "labels",
          interactive: false,
          keyboard: false,
        }),
      );
    }
  }

  R.labels = M;
})(window.Resupply);
