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
    // A card opens where it stays: while the map slid, its buttons would run from the finger.
    map.panBy = (offset, options) => L.Map.prototype.panBy.call(map, offset, { animate: false, ...options });
    map.attributionControl.setPrefix("Leaflet");
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
    map.on("zoomend", relabel);
    map.on("moveend", drawPlaces);
    map.on("mousemove", (event) => R.tell("place", { chainage: V.nearest(event.containerPoint, 26), from: "map" }));
    map.on("mouseout", () => R.tell("place", { chainage: null, from: "map" }));
    map.on("click", (event) => {
      const chainage = V.nearest(event.containerPoint, 30);
      if (chainage !== null) R.tell("place", { chainage, from: "tap" });
    });
    R.on("place", showHere);
    R.on("prefs", () => {
      scale();
      if (R.plan) V.draw();
    });
    R.on("theme", () => R.plan && V.draw());
    // Until the rider moves the map it keeps fitting the route, whatever the page does around it.
    map.on("dragstart", () => (V.moved = true));
    map.getContainer().addEventListener("wheel", () => (V.moved = true), { passive: true });
    const box = R.byId("map-box");
    map.on("popupopen", () => box.classList.add("reading"));
    map.on("popupclose", () => box.classList.remove("reading"));
    let size = map.getSize();
    new ResizeObserver(() => {
      const before = size;
      map.invalidateSize({ pan: false });
      size = map.getSize();
      // A line of text more above the map is no reason to stop reading.
      if (size.x !== before.x || Math.abs(size.y - before.y) > 60) map.closePopup();
      document.documentElement.style.setProperty("--map-height", `${box.clientHeight}px`);
      if (R.plan && !V.moved) V.fit(...V.fitted);
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
        maxWidth: 120,
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
    put("nights", R.labels.nights());
    put("pins", R.labels.stopPins());
    relabel();
    credit();
    drawKey();
  };

  function drawPlaces() {
    if (!V.placeList || !V.layers.places) return;
    D.places(V.map, V.layers.places, V.placeList, (supply) => V.wanted[supply] !== false);
  }

  function relabel() {
    if (!R.plan || !V.middle || !V.map._loaded) return;
    R.labels.towns = V.wanted.towns;
    if (V.layers.labels) V.layers.labels.remove();
    V.layers.labels = R.labels.place(V.map).addTo(V.map);
  }

  V.settle = (first) => {
    if (!first) return;
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
    const padding = x > 120 && y > 100 ? { paddingTopLeft: [26, 40], paddingBottomRight: [x > 500 ? 66 : 60, 30] } : {};
    if (bounds.isValid()) V.map.fitBounds(bounds, { ...padding, animate: false });
    V.fitted = [from, to];
  };

  V.openStop = (stop) => {
    const at = D.placeAt(R.place(stop.place), R.passById.get(stop.pass));
    V.moved = true;
    V.map.setView(at, Math.max(V.map.getZoom(), 10), { animate: false });
    V.layers.pins.eachLayer((marker) => {
      if (marker.getLatLng().equals(at)) marker.openPopup();
    });
    read();
  };

  V.openPass = (crossing) => {
    const stop = R.stopByPass.get(crossing.id);
    if (stop) return V.openStop(stop);
    const at = D.placeAt(R.place(crossing.place), crossing);
    V.moved = true;
    V.map.setView(at, Math.max(V.map.getZoom(), 10), { animate: false });
    L.popup(R.popups.options(300)).setLatLng(at).setContent(R.popups.pass(crossing)).openOn(V.map);
    return read();
  };

  // What was opened by a button outside the map is read on by keyboard and screen reader.
  function read() {
    const content = V.map.getContainer().querySelector(".leaflet-popup-content");
    if (!content) return;
    content.tabIndex = -1;
    content.focus({ preventScroll: true });
    if (V.map.getContainer().getBoundingClientRect().bottom < 120) R.byId("map-box").scrollIntoView({ block: "start" });
  }

  let credited = null;
  function credit() {
    if (credited) V.map.attributionControl.removeAttribution(credited);
    // Constant text: Leaflet sets attributions as HTML. The data's date is in the notes.
    credited =
      '<a href="https://www.openstreetmap.org/copyright" rel="noopener noreferrer" target="_blank">' +
      "© OpenStreetMap contributors, ODbL</a>";
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
    const key = button(
      "key",
      "Map key and layers",
      () => {
        const panel = R.byId("map-key");
        panel.hidden = !panel.hidden;
        key.setAttribute("aria-expanded", String(!panel.hidden));
      },
      { "aria-expanded": "false", "aria-controls": "map-key" },
    );
    R.fill(
      R.byId("map-tools"),
      key,
      button("fit", "Show the whole route", () => V.fit()),
      R.el(
        "span.tool-pair",
        {},
        button("plus", "Closer", () => ((V.moved = true), V.map.zoomIn())),
        button("minus", "Further away", () => ((V.moved = true), V.map.zoomOut())),
      ),
    );
  }

  function drawKey() {
    const row = (sign, text, name) => {
      const box = R.el("input", {
        type: "checkbox",
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
    R.fill(
      R.byId("map-key"),
      R.el("h2", {}, "On the map"),
      R.el(
        "ul.key-list",
        {},
        plain(R.el("span.pin.pin-small", {}, R.el("b", {}, "1")), "Chosen stop, with its state"),
        Object.entries(G.states()).map(([state, told]) => plain(G.stateGlyph(state), told.meaning)),
        plain(R.el("span.swatch.swatch-gap", {}), "Longest gap between shops"),
        plain(R.el("span.swatch.swatch-unknown", {}), "No map data: nothing known"),
        R.plan.legs[0].start_m > 0 && plain(R.el("span.swatch.swatch-behind", {}), "Behind you"),
        plain(G.supplyGlyph("camp"), "Night"),
      ),
      R.el("p.key-note", {}, "Where places crowd, only some are drawn: go closer to see all of them."),
      R.el("h2", {}, "Show"),
      R.el(
        "div.key-list",
        {},
        KEY.map(([supply, text]) => row(G.supplyGlyph(supply), text, supply)),
        row(R.el("span.swatch.swatch-gap", {}), "Gaps", "gaps"),
        row(R.el("span.swatch.swatch-town", {}, "a"), "Town names", "towns"),
        onlineRow(),
      ),
    );
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
