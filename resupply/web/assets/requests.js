// Asking the server: quick plans while something is dragged, the whole plan once it rests. One
// question is under way at a time; an answer older than the newest change is never drawn.
"use strict";
(function (R) {
  const REST_MS = 320;
  const A = { world: "", places: {}, geo: null, along: null, load: null, held: false, linked: "" };
  const page = Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) =>
    byte.toString(16).padStart(2, "0"),
  ).join("");
  let seq = 0;
  let version = 0;
  let drawn = 0;
  let whole = 0;
  let changedAt = 0;
  let running = null;
  let timer = 0;
  let again = false;

  A.post = async (path, body, { raw = false, signal = undefined } = {}) => {
    const init = {
      method: "POST",
      signal,
      body: raw ? body : JSON.stringify(body),
      headers: { "content-type": raw ? "application/octet-stream" : "application/json" },
    };
    const answer = await fetch(path, init);
    if (answer.ok) return answer;
    let words = `The page's server could not do that (${answer.status}); its own window says more.`;
    try {
      words = (await answer.json()).error || words;
    } catch {
      // Not an answer of ours; the words above have to do.
    }
    throw Object.assign(new Error(words), { status: answer.status });
  };

  A.trip = () => {
    const { trip } = R.trip.state;
    const own = trip.show || {};
    return {
      ...trip,
      show: { ...own, units: R.prefs.units || own.units || "metric", clock: R.prefs.clock || own.clock || 24 },
    };
  };

  // Something has changed. `held`: the rider still drags.
  A.change = () => {
    version++;
    changedAt = performance.now();
    if (running && !running.quick) running.stop.abort();
    pump();
  };
  A.hold = (held) => {
    if (A.held === held) return;
    A.held = held;
    if (held) return;
    R.trip.remember();
    pump();
  };
  A.again = () => {
    again = true;
    whole = drawn = version - 1;
    pump();
  };

  async function pump() {
    clearTimeout(timer);
    if (running || !R.trip.state) return;
    if (drawn === version && whole === version) {
      R.tell("asking", { at: "rest" });
      return;
    }
    if (A.load && A.load.version === version) return;
    const quick = drawn < version;
    const rest = changedAt + REST_MS - performance.now();
    if (!quick && (A.held || rest > 0)) {
      timer = setTimeout(pump, Math.max(30, rest));
      return;
    }
    running = { quick, version, route: R.trip.state.route, stop: new AbortController() };
    R.tell("asking", { at: quick ? "quick" : "whole" });
    await one(running);
    running = null;
    pump();
  }

  async function one(mine) {
    const asked = performance.now();
    const number = ++seq;
    let told;
    try {
      const body = { page, seq: number, route: mine.route, trip: A.trip(), quick: mine.quick, have: A.world, again };
      const answer = await A.post("/api/plan", body, { signal: mine.stop.signal });
      told = await answer.json();
      // Another route was opened meanwhile, or this answers an older question.
      if (told.seq !== number || mine.route !== R.trip.state.route) return;
      again = false;
    } catch (fault) {
      if (fault.name === "AbortError" || fault.status === 409) return;
      const gone = fault.status === 410;
      if (gone && (await sendAgain())) return;
      drawn = whole = mine.version;
      again = false;
      stopListening();
      if (gone)
        R.tell("asking", {
          at: "gone",
          words:
            `The route ${R.trip.state.file || ""} is not held any more, ` +
            `neither here nor by the server. Open its file again.`,
        });
      else
        R.tell("asking", {
          at: "fault",
          words: fault.status ? fault.message : "The page's server does not answer. Start it again with: resupply page",
          status: fault.status,
        });
      return;
    }
    try {
      if (told.load) listen(told.load, mine.version);
      else draw(told, mine, asked);
    } catch (fault) {
      // A fault of the page itself: said, kept for the console, and no reason to stand still.
      drawn = whole = mine.version;
      reportError(fault);
      R.tell("asking", { at: "fault", words: `This page could not draw the plan: ${fault.message}`, status: 0 });
    }
  }

  function draw(told, mine, asked) {
    stopListening();
    if (told.geo) {
      if (A.route !== mine.route) R.forget();
      A.route = mine.route;
      [A.world, A.geo, A.along, A.places] = [told.world, told.geo, told.along, told.plan.places];
    }
    told.plan.places = A.places;
    if (told.passes) told.plan.passes = R.passRows(A.along, told.passes, told.plan.passes);
    R.show(told.plan, A.geo, { partial: mine.quick });
    if (mine.version >= drawn) drawn = mine.version;
    if (!mine.quick) whole = mine.version;
    R.tell("drawn", { quick: mine.quick, newest: mine.version === version, changedAt, asked });
  }

  // The server was started again and has forgotten an uploaded route: this browser has it, or the
  // link that was opened carries its line.
  async function sendAgain() {
    const { route, file } = R.trip.state;
    const kept = await R.trip.routes.get(route).catch(() => null);
    const name = file.replace(/\.\w+$/, "");
    const linked = !kept && R.trip.read(A.linked)?.route === route && R.routeInLink.file(A.linked, name);
    if (!kept && !linked) return false;
    try {
      const bytes = kept ? kept.bytes : linked;
      const told = await (await A.post("/api/route", bytes, { raw: true })).json();
      if (kept) return told.route === route;
      const own = { route: told.route, file: `${name}.geojson` };
      await R.trip.routes.keep({ ...own, name: told.name, length_m: told.length_m, bytes }).catch(() => {});
      R.trip.rename(own.route, own.file);
      return true;
    } catch {
      return false;
    }
  }

  // Map data is being read: progress comes as events until it ends.
  function listen(key, from) {
    if (A.load && A.load.key === key) {
      A.load.version = from;
      return;
    }
    if (A.load) A.stop();
    const events = new EventSource(`/api/load/${encodeURIComponent(key)}`);
    A.load = { key, events, version: from, began: performance.now() };
    R.tell("loading", { what: "Reading the map data", share: null });
    events.onmessage = (event) => {
      const told = JSON.parse(event.data);
      if (!told.done) R.tell("loading", told);
      else {
        stopListening();
        if (told.error) {
          drawn = whole = version;
          R.tell("asking", { at: "stopped", words: told.error });
        } else pump();
      }
    };
    events.onerror = () => {
      stopListening();
      drawn = whole = version;
      R.tell("asking", { at: "stopped", words: "The page's server went away while it read the map data." });
    };
  }
  function stopListening() {
    if (!A.load) return;
    A.load.events.close();
    A.load = null;
    R.tell("loading", null);
  }

  // The server keeps what it has fetched; asking again goes on from there.
  A.stop = () => {
    if (A.load) A.post(`/api/load/${encodeURIComponent(A.load.key)}/cancel`, {}).catch(() => {});
  };
  A.resume = () => {
    drawn = whole = version - 1;
    pump();
  };

  R.asking = A;
})(window.Resupply);
