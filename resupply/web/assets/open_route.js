// Opening a route or a trip: a file that is chosen or dropped, a sample, one kept in this browser.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const A = R.asking;
  const C = R.controls;
  const MOST_BYTES = 64 * 1024 * 1024;
  const ROUTE_FILES = ".gpx,.kml,.kmz,.geojson,.json,.fit";
  const O = { ready: null };
  let samples = [];
  let waiting = null;

  // Known once the server has told its samples.
  O.start = (list) => {
    samples = list;
    for (const sample of list) {
      T.samples[sample.route] = sample.trip;
      lengths.set(sample.route, sample.length_m);
    }
  };
  O.nameOf = ({ file, route }) => file || (samples.find((sample) => sample.route === route) || {}).name || "this route";
  const lengths = new Map();
  O.lengthOf = (route) => lengths.get(route) || (R.plan && A.route === route ? R.length : 0);

  // Held here: a browser may throw away a field that nothing refers to before a file is chosen.
  let chooser;
  O.choose = (accept = ROUTE_FILES) => {
    chooser = el("input", { type: "file", accept, multiple: true, onchange: () => takeFiles([...chooser.files]) });
    chooser.click();
  };

  async function takeFiles(files) {
    document.body.classList.add("reading");
    await O.ready;
    const trips = files.filter((file) => /\.toml$/i.test(file.name));
    const routes = files.filter((file) => !trips.includes(file));
    try {
      if (routes.length) await takeRoute(routes[0]);
      if (trips.length) await takeTrip(trips[0]);
    } catch (problem) {
      R.cards.failed(problem);
    }
    document.body.classList.remove("reading");
  }

  async function takeRoute(file) {
    if (file.size > MOST_BYTES)
      throw Object.assign(
        new Error(`${file.name} is larger than the 64 MiB that are read. Export the track alone, without pictures.`),
        { status: 422 },
      );
    R.cards.busy("Reading the route…");
    const bytes = await file.arrayBuffer();
    const told = await (await A.post("/api/route", bytes, { raw: true })).json();
    lengths.set(told.route, told.length_m);
    await T.routes
      .keep({ route: told.route, file: file.name, name: told.name, length_m: told.length_m, bytes })
      .catch(() => R.say("This browser keeps no files: after a reload the route has to be opened again."));
    begin(told.route, file.name);
  }

  // Settings of a trip file that waited for its route, or those of the trip before, or none.
  function begin(route, file) {
    const trip = waiting || {};
    waiting = null;
    R.cards.clear("busy");
    T.open({ route, file, trip }, `${file} opened`);
    C.open(null);
  }

  async function takeTrip(file) {
    const told = await (await A.post("/api/trip", await file.arrayBuffer(), { raw: true })).json();
    const show = told.trip.show || {};
    if (show.units) R.prefs.units = show.units;
    if (show.clock) R.prefs.clock = show.clock;
    const kept = told.file ? (await T.routes.all().catch(() => [])).find((one) => one.file === told.file) : null;
    const route =
      told.route ||
      (kept && kept.route) ||
      (T.state && (!told.file || T.state.file === told.file) ? T.state.route : null);
    if (route) {
      T.open({ route, file: told.route ? "" : told.file || T.state.file, trip: told.trip }, `${file.name} opened`);
      C.open(null);
      return;
    }
    waiting = told.trip;
    C.open("routes");
    R.say(`The trip is read. Now open its route${told.file ? `, ${told.file}` : ""}.`);
  }

  C.panels.routes = () => [
    el(
      "div.drop-zone",
      {},
      G.icon("upload", 30),
      waiting
        ? el("p", {}, el("b", {}, "The trip file is read."), " Now open the route it is for.")
        : el(
            "p",
            {},
            el("b", {}, matchMedia("(any-pointer: fine)").matches ? "Drop your route here" : "Open your route"),
            el("span.quiet", {}, "GPX, KML, KMZ, GeoJSON or FIT; or a trip file (TOML)"),
          ),
      el(
        "div.card-buttons",
        {},
        el("button.button.strong", { type: "button", id: "choose-route", onclick: () => O.choose() }, "Choose a route"),
        el(
          "button.button",
          { type: "button", id: "choose-trip", onclick: () => O.choose(".toml") },
          "Open a trip file",
        ),
      ),
    ),
    el(
      "div.route-lists",
      {},
      lastTrip(),
      recentBox,
      samples.length > 0 &&
        el(
          "section",
          {},
          el("h3", {}, "Or look at a sample"),
          el(
            "ul.route-list",
            {},
            samples.map((sample) =>
              el(
                "li",
                {},
                el(
                  "button.route-card",
                  {
                    type: "button",
                    "data-sample": sample.route,
                    onclick: () => {
                      T.open({ route: sample.route, file: "", trip: sample.trip }, `${sample.name} opened`);
                      C.open(null);
                    },
                  },
                  el("b", {}, sample.name),
                  el(
                    "span.quiet",
                    {},
                    `${F.distance(sample.length_m)}, ${F.distance(sample.trip.pace.daily_km * 1000)} a day ` +
                      `from ${F.date(sample.trip.start.date)}`,
                  ),
                ),
              ),
            ),
          ),
          el("p.quiet", {}, "Invented trips on an invented island."),
        ),
    ),
    R.ownMap.known() && el("p.map-source", {}, G.icon("map", 16), el("span", {}, R.ownMap.words())),
    !R.plan && R.welcome(),
  ];
  // Who comes back to the bare address goes on with the trip of the last time.
  function lastTrip() {
    const last = R.store.get("last", null);
    if (T.state || !last || !last.hash) return null;
    return el(
      "section",
      {},
      el("h3", {}, "Continue your last trip"),
      el(
        "button.route-card",
        {
          type: "button",
          id: "last-trip",
          onclick: () => {
            const state = T.read(last.hash);
            if (state) T.resume(state);
            C.open(null);
          },
        },
        el("b", { dir: "auto" }, last.words),
      ),
    );
  }
  const recentBox = el("section", { hidden: true });
  O.recent = async () => {
    const all = await T.routes.all().catch(() => []);
    for (const one of all) lengths.set(one.route, one.length_m);
    recentBox.hidden = all.length === 0;
    R.fill(
      recentBox,
      el("h3", {}, "Your routes, kept in this browser"),
      el(
        "ul.route-list",
        {},
        all.map((one) =>
          el(
            "li",
            {},
            el(
              "button.route-card",
              { type: "button", onclick: () => begin(one.route, one.file) },
              el("b", { dir: "auto" }, one.file || one.name),
              el(
                "span.quiet",
                {},
                `${F.distance(one.length_m)}, opened ` +
                  new Date(one.opened).toLocaleDateString("en-GB", { day: "numeric", month: "short" }),
              ),
            ),
            el(
              "button.step",
              {
                type: "button",
                "aria-label": `Forget ${one.file}`,
                onclick: async () => {
                  await T.routes.drop(one.route);
                  O.recent();
                },
              },
              "×",
            ),
          ),
        ),
      ),
    );
  };

  O.takeDrops = () => {
    const veil = el(
      "div.drop-veil",
      { hidden: true, "aria-hidden": "true" },
      el("p", {}, G.icon("upload", 40), "Let go to open it"),
    );
    document.body.append(veil);
    let depth = 0;
    const files = (event) => [...(event.dataTransfer ? event.dataTransfer.types : [])].includes("Files");
    const shown = (on) => {
      veil.hidden = !on;
      if (!on) depth = 0;
    };
    addEventListener("dragenter", (event) => files(event) && (depth++, shown(true)));
    addEventListener("dragleave", (event) => files(event) && --depth <= 0 && shown(false));
    addEventListener("dragover", (event) => files(event) && event.preventDefault());
    addEventListener("drop", (event) => {
      if (!files(event)) return;
      event.preventDefault();
      shown(false);
      takeFiles([...event.dataTransfer.files]);
    });
  };

  R.opening = O;
})(window.Resupply);
