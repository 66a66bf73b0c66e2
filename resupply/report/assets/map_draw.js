// Drawing on the map's canvas: backdrop, days, gaps, unknown stretches, quiet places.
"use strict";
(function (R) {
  const L = window.L;
  const G = R.glyphs;
  const D = {};

  // Longitudes without a jump at 180°, so that a line never runs across the whole world.
  D.unwrap = (geo) => {
    const lon = [...geo.lon];
    for (let i = 1; i < lon.length; i++) lon[i] -= 360 * Math.round((lon[i] - lon[i - 1]) / 360);
    R.line = { lon, lat: geo.lat, chainage_m: geo.chainage_m, ele_m: geo.ele_m || null, parts: geo.part_start || [0] };
    R.line.again = R.againAt(R.line);
    const west = lon.reduce((a, b) => Math.min(a, b));
    const east = lon.reduce((a, b) => Math.max(a, b));
    R.middleLon = (west + east) / 2;
  };
  D.lonNear = (lon, near) => lon + 360 * Math.round(((near ?? R.middleLon) - lon) / 360);
  D.latLngs = (line) => {
    let last = R.middleLon;
    return line.map(([lon, lat]) => [lat, (last = D.lonNear(lon, last))]);
  };

  // The line between two chainages, cut where the route jumps; each point names its place in the line.
  D.pieces = (from, to) => {
    const { chainage_m: chain, lat, lon, parts } = R.line;
    const out = [];
    parts.forEach((start, n) => {
      const end = (parts[n + 1] ?? chain.length) - 1;
      const a = Math.max(from, chain[start]);
      const b = Math.min(to, chain[end]);
      if (b < a || (b === a && to > from && n > 0)) return;
      const points = [];
      for (let i = start; i <= end; i++) {
        if (chain[i] >= a && (i === start || chain[i - 1] < a) && chain[i] > a) points.push(between(i - 1, i, a));
        if (chain[i] >= a && chain[i] <= b) points.push([lat[i], lon[i], i]);
        if (chain[i] > b) {
          points.push(between(i - 1, i, b));
          break;
        }
      }
      if (points.length > 1) out.push(points);
    });
    return out;
  };
  function between(i, j, chainage) {
    const { chainage_m: chain, lat, lon } = R.line;
    const t = (chainage - chain[i]) / (chain[j] - chain[i] || 1);
    return [lat[i] + t * (lat[j] - lat[i]), lon[i] + t * (lon[j] - lon[i]), i];
  }

  // A sign drawn on the canvas, so that thousands of places stay light.
  L.Canvas.include({
    _updateSign(layer) {
      if (!this._drawing || layer._empty()) return;
      const { shape, size, color, halo } = layer.options;
      const context = this._ctx;
      context.save();
      context.translate(layer._point.x - size / 2, layer._point.y - size / 2);
      context.scale(size / 16, size / 16);
      context.lineJoin = "round";
      const path = layer.signPath();
      context.strokeStyle = halo;
      context.lineWidth = 5;
      context.stroke(path.both);
      context.fillStyle = halo;
      context.fill(path.both);
      if (path.fill) {
        context.fillStyle = color;
        context.fill(path.fill);
      }
      if (path.line) {
        context.strokeStyle = color;
        context.lineWidth = 1.8;
        if (shape.dash) context.setLineDash(shape.dash.split(" ").map(Number));
        context.stroke(path.line);
      }
      context.restore();
    },
  });
  /** @type {any} */
  const Sign = L.CircleMarker.extend({
    _updatePath() {
      this._renderer._updateSign(this);
    },
    signPath() {
      const { shape } = this.options;
      if (!shape.paths) {
        shape.paths = {
          fill: shape.fill ? new Path2D(shape.fill) : null,
          line: shape.line ? new Path2D(shape.line) : null,
          both: new Path2D(`${shape.fill || ""} ${shape.line || ""}`),
        };
      }
      return shape.paths;
    },
  });

  D.setUp = (map) => {
    for (const [name, z] of [
      ["backdrop", 210],
      ["labels", 450],
      ["pins", 620],
    ])
      map.createPane(name).style.zIndex = z;
    map.getPane("backdrop").classList.add("untouchable");
    map.getPane("labels").classList.add("untouchable");
    D.back = L.canvas({ pane: "backdrop", padding: 0.4 });
    D.front = L.canvas({ padding: 0.4, tolerance: 7 });
  };

  D.backdrop = (backdrop) => {
    const group = L.layerGroup();
    const line = (points, options) =>
      group.addLayer(
        L.polyline(D.latLngs(points), { renderer: D.back, interactive: false, smoothFactor: 1.4, ...options }),
      );
    const area = (points, colour, holes = []) =>
      group.addLayer(
        L.polygon([D.latLngs(points), ...holes.map(D.latLngs)], {
          renderer: D.back,
          interactive: false,
          stroke: false,
          fillColor: colour,
          fillOpacity: 1,
        }),
      );
    const land = backdrop.land || [];
    R.byId("map_resupply").classList.toggle("sea", land.length > 0);
    for (const shape of land) {
      area(shape.line, R.css("--map-land"));
      line(shape.line, { color: R.css("--map-shore"), weight: 1.2 });
    }
    for (const kind of ["wood", "ice", "built"])
      for (const cover of (backdrop.cover || []).filter((one) => one.kind === kind))
        area(cover.line, R.css(`--map-${kind}`), cover.holes);
    for (const water of backdrop.waters || []) {
      if (water.kind === "area") {
        area(water.line, R.css("--map-water"));
        line(water.line, { color: R.css("--map-shore"), weight: 0.8 });
      } else line(water.line, { color: R.css("--map-river"), weight: 1.3 });
    }
    for (const border of backdrop.borders || [])
      line(border.line, { color: R.css("--map-border"), weight: 1.8, dashArray: "9 4 2 4" });
    const roads = backdrop.roads || [];
    const major = roads.filter((one) => one.class === "major");
    for (const road of roads.filter((one) => one.class !== "major"))
      line(road.line, { color: R.css("--map-minor"), weight: 1.3 });
    for (const road of major) line(road.line, { color: R.css("--map-major-edge"), weight: 3.6 });
    for (const road of major) line(road.line, { color: R.css("--map-major"), weight: 2 });
    return group;
  };

  D.band = (group, from, to, options) => {
    for (const points of D.pieces(from, to)) {
      group.addLayer(
        L.polyline(points, { renderer: D.front, interactive: false, lineCap: "butt", smoothFactor: 1, ...options }),
      );
    }
  };

  // The longest stretch without a shop as a ticked band under the road; only where a meal falls
  // into it, or nothing is known there.
  D.gaps = () => {
    const group = L.layerGroup();
    const told = (R.plan.answers || {}).stretch;
    if (!told || told.tone === "plain" || told.end_m === undefined) return group;
    const wide = R.bundlePx(told.start_m, told.end_m);
    const band = (options) => D.band(group, told.start_m, told.end_m, { smoothFactor: 3, ...options });
    band({ color: R.css("--gap-ink"), weight: 13 + wide });
    band({ color: R.css("--gap"), weight: 10 + wide });
    band({ color: R.css("--gap-ink"), weight: 10 + wide, dashArray: "1.5 9" });
    return group;
  };

  // Days that are not chosen fade, so that the chosen one stands out.
  const faint = (leg) => R.strip.day && R.strip.day !== leg.number;

  D.days = () => {
    const group = L.layerGroup();
    const here = R.plan.legs[0].start_m;
    if (here > 0) D.band(group, 0, here, { color: R.css("--muted"), weight: 3, opacity: 0.7 });
    const { legs } = R.plan;
    const drawn = (leg, options) => {
      for (const points of D.pieces(leg.start_m, leg.end_m))
        group.addLayer(
          new R.DayLine(points, { renderer: D.front, interactive: false, smoothFactor: 1, leg, legs, ...options }),
        );
    };
    for (const leg of legs) drawn(leg, { color: R.css("--map-casing"), weight: 8, lineCap: "round", opacity: 0.95 });
    for (const leg of legs)
      drawn(leg, {
        color: R.css(G.dayVar(leg.number)),
        opacity: faint(leg) ? 0.38 : 1,
        weight: 5,
        lineCap: "butt",
      });
    const { lat, lon, parts } = R.line;
    for (const start of parts.slice(1)) {
      group.addLayer(
        L.polyline(
          [
            [lat[start - 1], lon[start - 1]],
            [lat[start], lon[start]],
          ],
          {
            renderer: D.front,
            interactive: false,
            color: R.css("--muted"),
            weight: 2.5,
            dashArray: "1 8",
            lineCap: "round",
          },
        ),
      );
    }
    return group;
  };

  // Hatching: short strokes across the line. Said in words in the sheet and the panels.
  D.unknown = () => {
    const group = L.layerGroup();
    for (const stretch of (R.plan.coverage || {}).unknown || []) {
      const wide = R.bundlePx(stretch.start_m, stretch.end_m);
      const casing = { color: R.css("--map-casing"), weight: 15 + wide, smoothFactor: 5 };
      D.band(group, stretch.start_m, stretch.end_m, casing);
      D.band(group, stretch.start_m, stretch.end_m, {
        color: R.css("--ink"),
        weight: 13 + wide,
        dashArray: "2 5",
        smoothFactor: 5,
      });
      for (const points of D.pieces(stretch.start_m, stretch.end_m)) {
        const touch = L.polyline(points, { renderer: D.front, weight: 17, opacity: 0.001 });
        touch.on("click", (event) => {
          L.DomEvent.stopPropagation(event);
          R.card.open({ key: `unknown-${stretch.start_m}`, tab: "days", draw: () => R.popups.unknown(stretch) });
        });
        group.addLayer(touch);
      }
    }
    return group;
  };

  D.detours = () => {
    const group = L.layerGroup();
    for (const stop of R.plan.stops || []) {
      const crossing = R.passById.get(stop.pass);
      if (!crossing) continue;
      const place = R.place(stop.place);
      const road = crossing.detour_path
        ? D.latLngs(crossing.detour_path)
        : [R.positionAt(crossing.chainage_m), D.placeAt(place, crossing)];
      group.addLayer(
        L.polyline(road, {
          renderer: D.front,
          interactive: false,
          color: R.css("--ink"),
          weight: 2,
          dashArray: crossing.detour_path ? null : "2 5",
        }),
      );
    }
    return group;
  };

  /** @returns {[number, number]} */
  D.placeAt = (place, crossing) => {
    const near = crossing ? R.positionAt(crossing.chainage_m)[1] : R.middleLon;
    return [place.lat, D.lonNear(place.lon, near)];
  };

  // Quiet places: a shop shows its open state, another place what it is for. Where they would
  // hide the route only the foremost are drawn; drawing nearer brings the rest.
  const FOREMOST = { fallback: 0, ice: 0, fuel: 0, camp: 1, water: 1 };
  const APART_PX = 19;

  D.placeList = () => {
    const planned = R.visits().map((visit) => visit.pass && R.passById.get(visit.pass).place);
    const seen = new Set([...planned, ...R.plan.legs.map((leg) => (leg.night || {}).place)]);
    const list = [];
    for (const crossing of R.plan.passes || []) {
      if (seen.has(crossing.place)) continue;
      seen.add(crossing.place);
      const place = R.place(crossing.place);
      const shop = G.isShop(place);
      list.push({
        crossing,
        shop,
        supply: G.mainSupply(place),
        at: window.L.latLng(D.placeAt(place, crossing)),
        rank: FOREMOST[crossing.role] ?? (shop ? 2 : 3),
      });
    }
    return list.sort((a, b) => a.rank - b.rank);
  };

  // Adds what has come into sight and takes away what has left.
  D.places = (map, group, list, wanted) => {
    const zoom = map.getZoom();
    const sight = map.getBounds().pad(0.25);
    const taken = new Set();
    const keep = new Set();
    for (const item of list) {
      if (!wanted(item.shop ? "groceries" : item.supply) || !sight.contains(item.at)) continue;
      const point = map.project(item.at, zoom);
      const [x, y] = [Math.round(point.x / APART_PX), Math.round(point.y / APART_PX)];
      if (taken.has(`${x},${y}`)) continue;
      for (const dx of [-1, 0, 1]) for (const dy of [-1, 0, 1]) if (!dx || !dy) taken.add(`${x + dx},${y + dy}`);
      keep.add(item);
    }
    for (const item of list) {
      if (keep.has(item)) {
        if (!item.sign) item.sign = sign(item).addTo(group);
      } else if (item.sign) {
        group.removeLayer(item.sign);
        item.sign = null;
      }
    }
    return keep.size;
  };

  // Quiet: a small dot under the line, a square where it is a shop.
  const QUIET = { dot: { fill: "M8 3a5 5 0 1 1 0 10A5 5 0 1 1 8 3z" }, shop: { fill: "M3.500 3.500h9v9h-9z" } };

  function sign({ crossing, shop, supply, at }) {
    const close = R.view.map.getZoom() >= 11;
    const drawn = new Sign(at, {
      renderer: D.front,
      radius: 8,
      size: close ? 13 : 8,
      shape: close ? (shop ? G.shape(G.state(crossing)) : G.supplyShape(supply)) : shop ? QUIET.shop : QUIET.dot,
      color: R.css(close && shop ? `--state-${G.tone(G.state(crossing))}` : "--place"),
      halo: R.css("--map-casing"),
    });
    return drawn.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      R.view.openPass(crossing);
    });
  }

  R.draw = D;
})(window.Resupply);
