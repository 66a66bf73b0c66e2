// The map as a whole: its layers, its key, its buttons, and the shared mark on the route.
"use strict";
(function (R) {
  const L = window.L;
  const G = R.glyphs;
  const D = R.draw;
  const V = { layers: {}, here: null, moved: false, fitted: [] };
  const KEY = [
    ["groceries", "Shops", true],
    ["ice", "Ice", true],
    ["water", "Water", true],
    ["fuel", "Fuel", true],
    ["camp", "Camps", true],
    ["meal_out", "Meals out", false],
  ];

  V.start = () => {
    const map = window.map_resupply;
    V.map = map;
    map.attributionControl.setPrefix(false);
    // Lines are sharp at any scale, so a route can fill the map; pictures need whole steps.
    map.options.zoomSnap = 0.25;
    D.setUp(map);
    V.online = window.tile_layer_online || null;
    V.wanted = {
      ...Object.fromEntries(KEY.map(([supply, , on]) => [supply, on])),
      gaps: true,
      towns: true,
      ...R.store.get("layers", {}),
    };
    map.on("zoomend", () => {
      redrawPlaces();
      relabel();
    });
    map.on("moveend", () => {
      drawPlaces();
      if (R.plan && !R.labels.holds(map)) relabel();
    });
    // Which shop is the next one hangs on where the rider is, and its pin is the large one.
    R.on("found", () => R.plan && relabel());
    map.on("mousemove", (event) => R.tell("place", { chainage: V.nearest(event.containerPoint, 26), from: "map" }));
    map.on("mouseout", () => R.tell("place", { chainage: null, from: "map" }));
    map.on("click", (event) => {
      if (!R.plan) return;
      const chainage = V.nearest(event.containerPoint, 30);
      if (chainage !== null) R.strip.readAt(chainage);
    });
    R.on("place", showHere);
    R.on("prefs", () => {
      scale();
      if (R.plan) V.draw();
    });
    R.on("theme", () => R.plan && V.draw());
    R.on("card", (what) => what || (V.reading = null));
    R.on("day", () => R.plan && V.draw({ ground: false }));
    // Until the rider moves the map it keeps fitting the route, whatever the page does around it.
    map.on("dragstart", () => (V.moved = true));
    map.getContainer().addEventListener("wheel", () => (V.moved = true), { passive: true });
    new ResizeObserver(() => {
      map.invalidateSize({ pan: false });
      if (R.plan && !V.moved) V.fit(...V.fitted);
      else if (R.plan && V.reading) keepInSight(V.reading);
    }).observe(R.byId("map_resupply"));
    tools();
    scale();
  };

  let ruler = null;
  function scale() {
    if (ruler) ruler.remove();
    ruler = L.control
      .scale({
        metric: R.prefs.units !== "imperial",
        imperial: R.prefs.units === "imperial",
        position: "bottomleft",
        maxWidth: 100,
        updateWhenIdle: true, // at every move it would have the page laid out anew
      })
      .addTo(V.map);
  }

  // Draw a plan; the view stays as the rider left it unless told to fit. Without `ground` the
  // land, water and roads under it stay as they are.
  V.draw = ({ ground = true } = {}) => {
    const { map } = V;
    const put = (name, layer) => {
      if (V.layers[name]) V.layers[name].remove();
      V.layers[name] = layer;
      layer.addTo(map);
    };
    if (ground) {
      V.parts = sampleRoute();
      V.middle = L.latLngBounds(V.parts.map(([, where]) => where)).getCenter();
      put("backdrop", D.backdrop(R.geo.backdrop || {}));
    }
    put("gaps", V.wanted.gaps ? D.gaps() : L.layerGroup());
    put("unknown", D.unknown());
    put("days", D.days());
    put("detours", D.detours());
    put("places", L.layerGroup());
    V.placeList = D.placeList();
    drawPlaces();
    relabel();
    credit();
  };

  function drawPlaces() {
    if (!V.placeList || !V.layers.places) return;
    D.places(V.map, V.layers.places, V.placeList, (supply) => V.wanted[supply] !== false);
  }

  // Signs are larger near by.
  function redrawPlaces() {
    if (!V.placeList || !V.layers.places) return;
    V.layers.places.clearLayers();
    for (const item of V.placeList) item.sign = null;
    drawPlaces();
  }

  function relabel() {
    if (!R.plan || !V.middle || !V.map._loaded) return;
    R.labels.towns = V.wanted.towns;
    /** @type {any} */
    const active = document.activeElement;
    const held = V.map.getContainer().contains(active) && active.dataset.pin;
    if (V.layers.labels) V.layers.labels.remove();
    V.layers.labels = R.labels.place(V.map).addTo(V.map);
    const again = held && V.map.getContainer().querySelector(`[data-pin="${CSS.escape(held)}"]`);
    if (again) again.focus({ preventScroll: true });
  }

  V.settle = (first) => {
    if (!first) return;
    scale(); // the trip may be in miles
    V.map.invalidateSize({ pan: false });
    V.fit();
  };

  V.fit = (from, to) => {
    V.moved = false;
    const bounds = L.latLngBounds(D.pieces(from ?? 0, to ?? R.length).flat());
    if (from === undefined) {
      for (const stop of R.plan.stops || []) bounds.extend(D.placeAt(R.place(stop.place), R.passById.get(stop.pass)));
    }
    // A map not laid out yet has no room for a margin, and less than none is no zoom at all.
    const { x, y } = V.map.getSize();
    const padding = x > 120 && y > 100 ? { paddingTopLeft: [x > 500 ? 40 : 30, 44], paddingBottomRight: [62, 30] } : {};
    if (bounds.isValid()) V.map.fitBounds(bounds, { ...padding, animate: false });
    V.fitted = [from, to];
    relabel();
  };

  // The map moves so that what is read stays in sight, and no further.
  function keepInSight(at) {
    V.reading = at;
    V.map.invalidateSize({ pan: false });
    const near = V.map.getZoom() < 9 ? 9 : V.map.getZoom();
    const inner = V.map.getBounds().pad(-0.15);
    if (near === V.map.getZoom() && inner.contains(at)) return;
    V.moved = true;
    V.map.setView(at, near, { animate: false });
    relabel();
  }

  V.openStop = (stop) => {
    const crossing = R.passById.get(stop.pass) || stop;
    R.card.open({
      key: stop.pass,
      tab: "lists",
      draw: () => {
        const again = (R.plan.stops || []).find((one) => one.place === stop.place);
        return again ? R.popups.stop(again) : null;
      },
    });
    keepInSight(D.placeAt(R.place(stop.place), crossing));
  };

  V.openPass = (crossing) => {
    const stop = R.stopByPass.get(crossing.id);
    if (stop) return V.openStop(stop);
    R.card.open({
      key: crossing.id,
      tab: "lists",
      draw: () => {
        const again = R.passById.get(crossing.id);
        return again && again.place === crossing.place ? R.popups.pass(again) : null;
      },
    });
    return keepInSight(D.placeAt(R.place(crossing.place), crossing));
  };

  V.openNight = (leg) => {
    R.card.open({
      key: `night-${leg.number}`,
      tab: "days",
      draw: () => {
        const again = R.plan.legs.find((one) => one.number === leg.number);
        return again ? R.popups.night(again) : null;
      },
    });
    keepInSight(R.positionAt(leg.end_m));
  };

  let credited = null;
  function credit() {
    if (credited) V.map.attributionControl.removeAttribution(credited);
    // Constant text: Leaflet sets attributions as HTML. The data's date is in the notes.
    credited =
      '<a href="https://www.openstreetmap.org/copyright" rel="noopener noreferrer" target="_blank">' +
      "© OpenStreetMap</a>";
    V.map.attributionControl.addAttribution(credited);
  }

  // A thinned line for finding the nearest kilometre under a finger.
  function sampleRoute() {
    const { chainage_m: chain, lat, lon } = R.line;
    const step = Math.max(1, Math.floor(chain.length / 3000));
    const out = [];
    for (let i = 0; i < chain.length; i += step) out.push([chain[i], L.latLng(lat[i], lon[i])]);
    const last = chain.length - 1;
    out.push([chain[last], L.latLng(lat[last], lon[last])]);
    return out;
  }

  // For something dragged along the route: `range` are the chainages it may go to, and what is
  // near `from` along the route counts as nearer, so that it does not leap across a bend.
  V.nearest = (point, reach, { range = null, from = null } = {}) => {
    if (!V.parts) return null;
    let best = reach;
    let found = null;
    let before = null;
    const perMetre = 2 ** (V.map.getZoom() + 8) / (40075017 * Math.cos((V.map.getCenter().lat * Math.PI) / 180));
    for (const [chainage, where] of V.parts) {
      if (range && (chainage < range[0] || chainage > range[1])) {
        before = null;
        continue;
      }
      const p = V.map.latLngToContainerPoint(where);
      if (before) {
        const [dx, dy] = [p.x - before.p.x, p.y - before.p.y];
        const t = Math.max(
          0,
          Math.min(1, ((point.x - before.p.x) * dx + (point.y - before.p.y) * dy) / (dx * dx + dy * dy || 1)),
        );
        const at = before.chainage + t * (chainage - before.chainage);
        const leap = from === null ? 0 : 0.3 * perMetre * Math.abs(at - from);
        const away = Math.hypot(point.x - before.p.x - t * dx, point.y - before.p.y - t * dy) + leap;
        if (away < best) {
          best = away;
          found = at;
        }
      }
      before = { p, chainage };
    }
    return found;
  };

  function showHere({ chainage }) {
    if (V.here) V.here.remove();
    V.here = null;
    if (chainage === null || !R.plan) return;
    V.here = L.marker(R.positionAt(chainage), {
      icon: L.divIcon({ className: "here", iconSize: [22, 22], iconAnchor: [11, 11] }),
      pane: "pins",
      interactive: false,
      keyboard: false,
      zIndexOffset: 900,
    }).addTo(V.map);
  }

  V.showSelf = (lat, lon, accuracy) => {
    if (V.self) V.self.remove();
    /** @type {[number, number]} */
    const at = [lat, D.lonNear(lon)];
    V.self = L.layerGroup([
      L.circle(at, {
        radius: accuracy,
        renderer: D.front,
        interactive: false,
        color: R.css("--self"),
        weight: 1.5,
        fillOpacity: 0.12,
      }),
      L.marker(at, {
        icon: L.divIcon({ className: "self", iconSize: [24, 24], iconAnchor: [12, 12] }),
        pane: "pins",
        interactive: false,
        keyboard: false,
        zIndexOffset: 950,
      }),
    ]).addTo(V.map);
    V.moved = true;
    V.map.setView(at, Math.max(V.map.getZoom(), 10), { animate: false });
  };

  function tools() {
    const button = (name, label, onclick, extra) =>
      R.el("button.tool", { type: "button", "aria-label": label, title: label, onclick, ...extra }, G.icon(name));
    R.fill(
      R.byId("map-tools"),
      button("key", "Map key and layers", () => R.card.open({ key: "key", tab: R.tabs.current, draw: keyCard })),
      button("fit", "Show the whole route", () => R.strip.show(0)),
      R.el(
        "span.tool-pair",
        {},
        button("plus", "Closer", () => ((V.moved = true), V.map.zoomIn())),
        button("minus", "Further away", () => ((V.moved = true), V.map.zoomOut())),
      ),
    );
  }

  function keyCard() {
    const row = (sign, text, name) => {
      const box = R.el("input", {
        type: "checkbox",
        "data-keep": `layer-${name}`,
        onchange: () => {
          V.wanted[name] = box.checked;
          R.store.set("layers", V.wanted);
          V.draw();
        },
      });
      box.checked = V.wanted[name] !== false;
      return R.el("label.key-row", {}, box, sign, R.el("span", {}, text));
    };
    const plain = (sign, text) => R.el("li.key-row", {}, sign, R.el("span", {}, text));
    const body = R.el(
      "div.card-row.key-panel",
      {},
      R.el("h3", {}, "Planned"),
      R.el(
        "ul.key-list",
        {},
        Object.entries(G.pins)
          .filter(([kind]) => kind === "mark" || R.visits().some((visit) => [visit.kind, ...visit.also].includes(kind)))
          .map(([kind, pin]) => plain(G.pin(kind, { scale: 0.7 }), pin.word)),
        plain(G.pin("food", { scale: 0.7, state: "tight" }), "May be shut"),
        plain(G.pin("food", { scale: 0.7, state: "shut" }), "Shut"),
        plain(R.el("span.swatch.swatch-gap", {}), "Longest stretch without a shop"),
        plain(R.el("span.swatch.swatch-unknown", {}), "No map data: nothing known"),
        R.plan.legs[0].start_m > 0 && plain(R.el("span.swatch.swatch-behind", {}), "Behind you"),
      ),
      R.el("h3", {}, "Other places"),
      R.el(
        "div.key-list",
        {},
        KEY.map(([supply, text]) => row(G.supplyGlyph(supply), text, supply)),
        row(R.el("span.swatch.swatch-town", {}, "a"), "Town names", "towns"),
        row(R.el("span.swatch.swatch-gap", {}), "Longest stretch", "gaps"),
        onlineRow(),
      ),
      R.el(
        "details",
        {},
        R.el("summary", {}, "Signs of shops, near by"),
        R.el(
          "ul.key-list",
          {},
          Object.entries(G.states()).map(([state, told]) => plain(G.stateGlyph(state), told.meaning)),
        ),
      ),
    );
    return { title: "Map key", over: "Where places crowd, only some are drawn.", body };
  }

  // The online picture is asked for only when the rider ticks it.
  function onlineRow() {
    if (!V.online || !R.page.tiles) return null;
    if (R.page.tiles.needs_referer && !location.protocol.startsWith("http")) {
      return R.el(
        "p.key-note",
        {},
        "The online background works on the live page only: its server does not answer a page opened from a file.",
      );
    }
    const box = R.el("input", {
      type: "checkbox",
      onchange: () => {
        V.map.options.zoomSnap = box.checked ? 1 : 0.25;
        if (box.checked) V.online.addTo(V.map.setZoom(Math.round(V.map.getZoom())));
        else V.online.remove();
        R.byId("map_resupply").classList.toggle("online", box.checked);
      },
    });
    box.checked = V.map.hasLayer(V.online);
    return R.el(
      "label.key-row",
      {},
      box,
      R.el("span.swatch.swatch-online", {}),
      R.el("span", {}, "Online background (needs signal)"),
    );
  }

  R.view = V;
})(window.Resupply);
