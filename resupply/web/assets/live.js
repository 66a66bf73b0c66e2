// The live page put together: opening a route, saving, telling how the work goes, starting up.
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
  let samples = [];
  let ownMap = null;
  let waiting = null;
  let slot, card, drop, toast, ready;

  // ---- How the work goes --------------------------------------------------------------------
  R.on("asking", ({ at, words, status: code }) => {
    document.body.classList.toggle("working", at === "quick" || at === "whole");
    if (at === "rest") return;
    A.working = at === "quick" || at === "whole";
    if (A.working && !R.plan && !A.load && !card.dataset.shows) busy("Working out the plan…");
    if (at === "fault" || at === "stopped" || at === "gone") fault(words, at, code);
    else if (!A.load) clear("fault");
  });
  R.on("drawn", ({ quick, newest }) => {
    clear("fault");
    clear("busy");
    if (quick || !newest) return;
    const { plan } = R;
    if (T.at(T.state.trip, "start.date") === undefined) T.fix("start.date", plan.trip.settings["start.date"]);
    R.store.set("last", {
      hash: location.hash,
      words: `${plan.trip.name}, ${F.distance(plan.trip.daily_m)} a day from ${F.date(plan.trip.start_date)}`,
    });
    R.say(
      `${F.distance(plan.trip.daily_m)} a day: ${F.plural(plan.trip.days, "day")}, ` +
        `${F.plural(plan.stops.length, "stop")}. ${F.words(plan.summary.headline)}`,
    );
  });

  function fault(words, at, code) {
    const again = at === "stopped" || code === undefined;
    const tone = at === "stopped" ? "" : ".alarm";
    const buttons = [
      again &&
        at !== "gone" &&
        el(
          "button.button.strong",
          { type: "button", id: "resume", onclick: () => A.resume() },
          at === "stopped" ? "Go on loading" : "Try again",
        ),
      T.past.length > 0 && el("button.button", { type: "button", onclick: () => T.undo() }, "Undo the last change"),
      at === "gone" &&
        el("button.button.strong", { type: "button", onclick: () => choose(ROUTE_FILES) }, "Open the file"),
    ].filter(Boolean);
    show(
      "fault",
      `div.live-card${tone}`,
      { role: "alert" },
      el("p.fault-words", {}, G.icon(tone ? "alarm" : "caution", 18), el("span", {}, sentence(words))),
      buttons.length > 0 && el("div.card-buttons", {}, buttons),
    );
  }
  const sentence = (words) => F.upper(words) + (/[.!?]$/.test(words) ? "" : ".");
  // A card says why the page stands still: it is brought into sight wherever the rider is.
  function show(kind, spec, attributes, ...parts) {
    R.fill(card, el(spec, attributes, parts));
    card.dataset.shows = kind;
    const { top, bottom } = card.getBoundingClientRect();
    if (top < 0 || bottom > innerHeight) card.scrollIntoView({ block: "start" });
  }
  function clear(kind) {
    if (card.dataset.shows === kind) {
      R.fill(card);
      delete card.dataset.shows;
    }
  }

  // What was just changed, with the way back in reach wherever the rider is on the page.
  let fading = 0;
  function tell(words) {
    clearTimeout(fading);
    R.say(F.upper(words));
    if (!T.past.length) return;
    R.fill(
      toast,
      el("span", { dir: "auto" }, F.upper(words)),
      !/^Undone/.test(words) && el("button.link", { type: "button", onclick: () => T.undo() }, "Undo"),
    );
    toast.hidden = false;
    fading = setTimeout(() => (toast.hidden = true), 6000);
  }
  function busy(words) {
    show("busy", "div.live-card", {}, el("p.load-words", {}, words));
  }

  // Map data being read: what, how much, day by day where the service is asked.
  let words, meter;
  R.on("loading", (told) => {
    document.body.classList.toggle("loading", Boolean(told));
    if (!told) {
      clear("load");
      // Between the map data and the first plan the page is not left blank.
      if (!R.plan && A.working) busy("Working out the plan…");
      return;
    }
    if (card.dataset.shows !== "load") {
      words = el("p.load-words", {});
      meter = el("div.load-meter", {
        role: "progressbar",
        "aria-label": "Map data",
        "aria-valuemin": "0",
        "aria-valuemax": "100",
      });
      show(
        "load",
        "div.live-card",
        {},
        el("p.over", { dir: "auto" }, `Map data for ${routeName()}`),
        words,
        meter,
        el(
          "div.card-buttons",
          {},
          el("button.button", { type: "button", id: "stop-loading", onclick: () => A.stop() }, "Stop loading"),
          el("span.quiet", {}, "What is fetched is kept: a stopped load goes on where it was."),
        ),
      );
    }
    const legs = told.share === null ? [] : days();
    const leg = legs.findIndex(([, to]) => told.share < to - 1e-9);
    R.fill(
      words,
      `${told.what}…`,
      legs.length > 1 && leg >= 0 && el("span.load-leg", {}, `day ${leg + 1} of ${legs.length}`),
    );
    meter.classList.toggle("vague", told.share === null);
    if (told.share === null) {
      meter.removeAttribute("aria-valuenow");
      R.fill(meter, el("i", {}));
      return;
    }
    const percent = Math.round(told.share * 100);
    meter.setAttribute("aria-valuenow", String(percent));
    R.fill(
      meter,
      legs.map(([from, to], i) => {
        const cell = el(`span.load-day.${G.dayClass(i + 1)}`, {}, el("i", {}));
        cell.style.flexGrow = String(to - from);
        cell.firstChild.style.width = `${100 * Math.max(0, Math.min(1, (told.share - from) / (to - from)))}%`;
        return cell;
      }),
    );
  });

  // The route's days as shares of its length: the service is asked in this order.
  function days() {
    const length = lengthOf(T.state.route);
    if (!length) return [[0, 1]];
    const count = Math.max(1, Math.ceil(length / (T.get("pace.daily_km") * 1000)));
    const share = (T.get("pace.daily_km") * 1000) / length;
    return Array.from({ length: count }, (_, i) => [i * share, Math.min(1, (i + 1) * share)]);
  }
  const routeName = () =>
    T.state.file || (samples.find((sample) => sample.route === T.state.route) || {}).name || "this route";
  const lengths = new Map();
  const lengthOf = (route) => lengths.get(route) || (R.plan && A.route === route ? R.length : 0);

  // ---- Opening ---------------------------------------------------------------------------------
  // Held here: a browser may throw away a field that nothing refers to before a file is chosen.
  let chooser;
  function choose(accept) {
    chooser = el("input", { type: "file", accept, multiple: true, onchange: () => takeFiles([...chooser.files]) });
    chooser.click();
  }

  async function takeFiles(files) {
    document.body.classList.add("reading");
    await ready;
    const trips = files.filter((file) => /\.toml$/i.test(file.name));
    const routes = files.filter((file) => !trips.includes(file));
    try {
      if (routes.length) await takeRoute(routes[0]);
      if (trips.length) await takeTrip(trips[0]);
    } catch (problem) {
      fault(
        problem.status ? problem.message : "The page's server does not answer. Start it again with: resupply page",
        "fault",
        problem.status || 0,
      );
    }
    document.body.classList.remove("reading");
  }

  async function takeRoute(file) {
    if (file.size > MOST_BYTES)
      throw Object.assign(
        new Error(`${file.name} is larger than the 64 MiB that are read. Export the track alone, without pictures.`),
        { status: 422 },
      );
    busy("Reading the route…");
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
    clear("busy");
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
        el(
          "button.button.strong",
          { type: "button", id: "choose-route", onclick: () => choose(ROUTE_FILES) },
          "Choose a route",
        ),
        el("button.button", { type: "button", id: "choose-trip", onclick: () => choose(".toml") }, "Open a trip file"),
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
    ownMap && el("p.map-source", {}, G.icon("map", 16), el("span", {}, sourceWords())),
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
  async function recent() {
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
                  recent();
                },
              },
              "×",
            ),
          ),
        ),
      ),
    );
  }

  function sourceWords() {
    const names = ownMap.extracts.join(", ");
    if (names && ownMap.service)
      return `Shops on your own routes come from ${names}, and from the live map service where that says nothing.`;
    if (names) return `Shops on your own routes come from ${names}.`;
    if (ownMap.service) return "Shops on your own routes come from the live map service, asked day by day.";
    return "No map data loaded, so shops on your own routes are unknown until you fetch some.";
  }

  // ---- Saving ----------------------------------------------------------------------------------
  const FILES = [
    ["plan.html", "Offline map", "One file for the phone; opens with no signal"],
    ["shopping.txt", "Shopping lists", "Plain text, to send to whoever shops"],
    ["stops.gpx", "GPX of the stops", "For the device on the handlebar"],
    ["stops.ics", "Calendar (ICS)", "Stops and days for your diary"],
    ["stops.csv", "Table of the stops (CSV)", "For a spreadsheet"],
    ["plan.geojson", "GeoJSON", "Route, days and stops for map programs"],
    ["trip.toml", "Trip file (TOML)", "All settings; opens here and on the command line"],
    ["plan.json", "Plan as data (JSON)", "Everything on this page, for programs"],
  ];
  C.panels.save = () =>
    R.plan
      ? [
          el(
            "ul.save-list",
            {},
            FILES.map(([name, title, why]) =>
              el(
                "li",
                {},
                el(
                  "button.route-card",
                  { type: "button", "data-file": name, onclick: (event) => save(name, event.currentTarget) },
                  el("b", {}, title),
                  el("span.quiet", {}, why),
                ),
              ),
            ),
            el(
              "li",
              {},
              el(
                "button.route-card",
                { type: "button", "data-file": "print", onclick: () => window.print() },
                el("b", {}, "Print the sheet"),
                el("span.quiet", {}, "A line per day on one page, lists and menu on the next"),
              ),
            ),
            el(
              "li",
              {},
              el(
                "button.route-card",
                { type: "button", "data-file": "link", onclick: (event) => copyLink(event.currentTarget) },
                el("b", {}, "Copy the address"),
                el("span.quiet", {}, "It holds the whole trip, for this computer"),
              ),
            ),
          ),
        ]
      : [el("p.quiet", {}, "Open a route first.")];

  async function save(name, button) {
    button.setAttribute("aria-busy", "true");
    try {
      const { route, file } = T.state;
      const answer = await A.post("/api/export", { route, trip: A.trip(), name, file });
      const address = URL.createObjectURL(await answer.blob());
      const link = el("a", { href: address, download: fileName(name) });
      document.body.append(link);
      link.click();
      link.remove();
      setTimeout(() => URL.revokeObjectURL(address), 60000);
      R.say(`${fileName(name)} is saved.`);
    } catch (problem) {
      fault(
        problem.status ? problem.message : "The page's server does not answer. Start it again with: resupply page",
        "fault",
        problem.status || 0,
      );
    }
    button.removeAttribute("aria-busy");
  }
  // Named after the trip, with nothing in it that a file system would mind.
  function fileName(name) {
    const stem = (R.plan.trip.name || "trip")
      .normalize("NFKD")
      .replace(/[^\w -]/g, "")
      .trim()
      .replace(/\s+/g, "-")
      .toLowerCase()
      .slice(0, 60);
    return `${stem || "trip"}-${name}`;
  }
  async function copyLink(button) {
    try {
      await navigator.clipboard.writeText(location.href);
      R.fill(button.querySelector(".quiet"), "Copied.");
    } catch {
      R.fill(button.querySelector(".quiet"), "This browser does not allow it: copy it from the address bar.");
    }
  }

  // ---- Dropping ------------------------------------------------------------------------------
  function dropping() {
    drop = el(
      "div.drop-veil",
      { hidden: true, "aria-hidden": "true" },
      el("p", {}, G.icon("upload", 40), "Let go to open it"),
    );
    document.body.append(drop);
    let depth = 0;
    const files = (event) => [...(event.dataTransfer ? event.dataTransfer.types : [])].includes("Files");
    const shown = (on) => {
      drop.hidden = !on;
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
  }

  // ---- Missing map data can be asked for again -------------------------------------------------
  R.actions.unknown = () => {
    if (!mayBeAsked()) return null;
    return ownMap.service ? againButton() : R.fetching.control(sourceWords());
  };
  // The way to it from the answers, which stand first.
  R.actions.unmapped = () => mayBeAsked() && el("p.map-offer", {}, ownMap.service ? againButton() : R.fetching.way());
  const mayBeAsked = () => T.state && ownMap && !T.state.route.startsWith("sample:");
  const againButton = () =>
    el("button.button", { type: "button", onclick: () => A.again() }, "Ask the map service again");
  // Map data has come: the server plans with it from now on.
  R.on("maps", async () => {
    ownMap = await (await fetch("/api/map")).json();
    R.say(sourceWords());
    A.again();
  });

  let steppedAt = -1e9;

  // ---- Start ---------------------------------------------------------------------------------
  async function start() {
    slot = R.byId("live-controls");
    document.body.classList.add("live");
    card = el("div.live-cards", {});
    C.start(slot, card);
    toast = el("div.toast", { hidden: true });
    document.body.append(toast);
    R.fill(
      R.byId("trip-line"),
      "Give a route and how far you ride a day. See where each day ends, " +
        "which shops are open as you pass, and what to carry.",
    );
    dropping();
    R.on("stepped", () => (steppedAt = performance.now()));
    R.prefs = { ...R.prefs, ...R.store.get("prefs", {}) };
    R.on("trip", ({ words: said, quiet }) => {
      A.change();
      if (said && !quiet) tell(said);
    });
    R.chooseStyle = (style, word) => T.change({ "food.style": style }, `Ways to shop: ${word}`, `style-${style}`);
    R.chooseDaily = (row) =>
      T.change(
        {
          "pace.daily_km": row.daily_m / 1000,
          ...(row.start_date && R.plan && row.start_date !== R.plan.trip.start_date
            ? { "start.date": row.start_date }
            : {}),
        },
        `${F.distance(row.daily_m)} a day`,
      );
    if (!T.named(location.hash)) C.open("routes");
    try {
      const [list, map] = await Promise.all(
        ["/api/samples", "/api/map"].map(async (path) => (await fetch(path)).json()),
      );
      samples = list;
      ownMap = map;
      T.defaults = map.defaults;
      for (const sample of list) {
        T.samples[sample.route] = sample.trip;
        lengths.set(sample.route, sample.length_m);
      }
    } catch {
      R.fill(
        card,
        el(
          "div.live-card.alarm",
          { role: "alert" },
          el("p", {}, "The page's server does not answer. Start it again with: resupply page"),
          el(
            "div.card-buttons",
            {},
            el("button.button.strong", { type: "button", onclick: () => location.reload() }, "Try again"),
          ),
        ),
      );
      return;
    }
    C.makeBar();
    R.edit.start();
    R.compare.start();
    recent();
    // A step back closed a sheet; its address may hold the trip of before.
    R.on("stepped", () => T.state && T.remember());
    addEventListener("hashchange", () => {
      if (T.state && performance.now() - steppedAt < 300) return;
      const state = T.read(location.hash);
      if (state && T.write(state) !== T.write(T.state || state)) T.open(state, "the address");
      else if (state && !T.state) T.open(state);
      else return;
      C.open(null);
    });
    const state = T.read(location.hash);
    if (state) {
      T.recall();
      T.state = null;
      T.resume(state);
    } else C.open("routes");
  }

  ready = start();
})(window.Resupply);
