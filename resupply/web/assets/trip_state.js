// The trip as the page holds it: a route's name and the settings that differ from the defaults,
// its history, and its writing in the address bar. Planning is the server's alone.
"use strict";
(function (R) {
  const T = { defaults: {}, base: {}, state: null, past: [], future: [] };
  const MOST_STEPS = 200;
  const PAUSE_MS = 1500;
  const HISTORY = "resupply:history";

  const isTable = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

  T.at = (tree, path) => path.split(".").reduce((table, key) => (isTable(table) ? table[key] : undefined), tree);

  // A copy of the tree with one value changed; undefined takes the key out.
  T.put = (tree, path, value) => {
    const [key, ...rest] = path.split(".");
    const copy = { ...(isTable(tree) ? tree : {}) };
    const inner = rest.length ? T.put(copy[key], rest.join("."), value) : value;
    if (inner === undefined || (isTable(inner) && Object.keys(inner).length === 0)) delete copy[key];
    else copy[key] = inner;
    return copy;
  };

  T.get = (path) => T.at(T.state ? T.state.trip : {}, path) ?? T.at(T.defaults, path);

  // A change of one or more keys. Changes with the same `gesture` (one drag, presses of one key
  // without a pause) are one step of the history.
  T.change = (keys, words, gesture) => {
    let trip = T.state.trip;
    for (const [path, value] of Object.entries(keys)) {
      const plain = value === null || (same(value, T.at(T.defaults, path)) && T.at(T.base, path) === undefined);
      trip = T.put(trip, path, plain ? undefined : value);
    }
    if (same(trip, T.state.trip)) return;
    const last = T.past.at(-1);
    const now = performance.now();
    const going =
      gesture && last && last.gesture === gesture && !T.future.length && (R.asking.held || now - last.when < PAUSE_MS);
    if (going) Object.assign(last, { words, when: now });
    else T.past.push({ state: T.state, words, gesture, when: now });
    if (T.past.length > MOST_STEPS) T.past.shift();
    T.future = [];
    // A drag tells itself by what moves.
    enter({ ...T.state, trip }, { words, quiet: Boolean(gesture) });
  };

  // The end of a gesture: the next one is a step of its own.
  T.settle = () => {
    if (T.past.length) T.past.at(-1).gesture = null;
  };

  T.undo = () => step(T.past, T.future, "Undone");
  T.redo = () => step(T.future, T.past, "Done again");
  function step(from, to, word) {
    const last = from.pop();
    if (!last) return;
    to.push({ state: T.state, words: last.words, gesture: null });
    enter(last.state, { words: `${word}: ${last.words}` });
  }

  // What the plan has settled, such as the date of a trip without one: no step of the history.
  T.fix = (path, value) => {
    T.state = { ...T.state, trip: T.put(T.state.trip, path, value) };
    remember();
  };

  // Another name of the same route: no step of the history either.
  T.rename = (route, file) => {
    T.state = { ...T.state, route, file };
    remember();
  };

  // The state of the address bar after a reload; its steps came from `recall`.
  T.resume = (state) => enter(state, { words: "" });

  // Another route, or a whole trip from a file: the old one can still be gone back to.
  T.open = (state, words) => {
    if (T.state) T.past.push({ state: T.state, words: words || "another route", gesture: null });
    T.future = [];
    enter(state, { words });
  };

  function enter(state, told) {
    T.state = state;
    T.base = (state.route.startsWith("sample:") && T.samples[state.route]) || {};
    remember();
    R.tell("trip", told);
  }

  T.samples = {};

  // A drag changes the trip faster than browsers let a page write its address: that waits.
  let waiting = false;
  function remember() {
    waiting = R.asking.held;
    if (!waiting) T.remember();
  }
  T.remember = () => {
    waiting = false;
    const text = `#${T.write(T.state)}`;
    if (location.hash !== text) history.replaceState(null, "", text);
    try {
      const slim = (list) => list.slice(-60).map((one) => [T.write(one.state), one.words]);
      sessionStorage.setItem(HISTORY, JSON.stringify({ now: text, past: slim(T.past), future: slim(T.future) }));
    } catch {
      // Without room the history is only kept until the next reload.
    }
  };
  addEventListener("pagehide", () => waiting && T.remember());

  // After a reload: the steps that led to the state in the address bar.
  T.recall = () => {
    try {
      const kept = JSON.parse(sessionStorage.getItem(HISTORY) || "null");
      if (!kept || kept.now !== location.hash) return;
      const full = (list) =>
        list.map(([text, words]) => ({ state: T.read(text), words, gesture: null })).filter((one) => one.state);
      T.past = full(kept.past);
      T.future = full(kept.future);
    } catch {
      T.past = [];
    }
  };

  // route=sample:coast_loop&pace.daily_km=250&pace.rest_days.3=1&shops.gone=node/1,node/2
  // Keys of a sample's own trip that were taken out are written "-pace.speed_kmh".
  T.write = ({ route, file, trip }) => {
    const base = route.startsWith("sample:") ? T.samples[route] || {} : {};
    const now = leaves(trip);
    const before = leaves(base);
    const parts = [`route=${safe(route)}`];
    if (file) parts.push(`file=${safe(file)}`);
    for (const [path, value] of now)
      if (!same(before.get(path), value)) parts.push(`${safe(path)}=${safe(text(path, value))}`);
    for (const path of before.keys()) if (!now.has(path)) parts.push(`-${safe(path)}`);
    return parts.join("&");
  };

  // Whether an address holds a trip at all.
  T.named = (hash) => /[#&]route=/.test(hash);

  T.read = (hash) => {
    const parts = hash.replace(/^#/, "").split("&").filter(Boolean);
    let state = null;
    for (const part of parts) {
      const cut = part.indexOf("=");
      let key;
      let value;
      try {
        key = decodeURIComponent(cut < 0 ? part : part.slice(0, cut));
        value = cut < 0 ? "" : decodeURIComponent(part.slice(cut + 1));
      } catch {
        continue;
      }
      if (key === "route")
        state = { route: value, file: "", trip: (value.startsWith("sample:") && T.samples[value]) || {} };
      else if (!state || !/^-?[\w.]+$/.test(key) || /(^|\.)(__proto__|constructor|prototype)(\.|$)/.test(key)) continue;
      else if (key === "line") continue;
      else if (key === "file") state.file = value.slice(0, 200);
      else if (key.startsWith("-")) state.trip = T.put(state.trip, key.slice(1), undefined);
      else state.trip = T.put(state.trip, key, parsed(key, value));
    }
    return state;
  };

  function leaves(tree, head = "", out = new Map()) {
    for (const [key, value] of Object.entries(tree)) {
      if (isTable(value)) leaves(value, `${head}${key}.`, out);
      else out.set(head + key, value);
    }
    return out;
  }

  function text(path, value) {
    // Read back as a list only where the defaults have one.
    const list = Array.isArray(T.at(T.defaults, path)) && Array.isArray(value) && value.length > 0;
    if (list && value.every((one) => typeof one === "string" && !/[,[]/.test(one))) return value.join(",");
    if (typeof value !== "string") return JSON.stringify(value);
    return plain(value) ? value : JSON.stringify(value);
  }
  // Whether a text is read back as itself and not as a number or a list.
  function plain(value) {
    try {
      JSON.parse(value);
      return false;
    } catch {
      return true;
    }
  }
  function parsed(path, value) {
    if (Array.isArray(T.at(T.defaults, path)) && !value.startsWith("[")) return value ? value.split(",") : [];
    try {
      return JSON.parse(value);
    } catch {
      return value;
    }
  }
  const safe = (value) => encodeURIComponent(value).replace(/%(2C|3A|2F|40)/g, (code) => decodeURIComponent(code));

  // Uploaded routes stay in this browser, so that a reload or a restarted server loses nothing.
  const KEPT = 12;
  let opened = null;
  function base() {
    opened =
      opened ||
      new Promise((done, fail) => {
        const asked = indexedDB.open("resupply", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("routes", { keyPath: "route" });
        asked.onsuccess = () => done(asked.result);
        asked.onerror = () => fail(asked.error);
      });
    return opened;
  }
  async function inStore(mode, act) {
    const store = (await base()).transaction("routes", mode).objectStore("routes");
    return new Promise((done, fail) => {
      const asked = act(store);
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => fail(asked.error);
    });
  }

  T.routes = {
    async keep(entry) {
      await inStore("readwrite", (store) => store.put({ ...entry, opened: Date.now() }));
      const all = await T.routes.all();
      for (const old of all.slice(KEPT)) await T.routes.drop(old.route);
    },
    get: (route) => inStore("readonly", (store) => store.get(route)),
    drop: (route) => inStore("readwrite", (store) => store.delete(route)),
    async all() {
      const list = await inStore("readonly", (store) => store.getAll());
      return list.sort((a, b) => b.opened - a.opened);
    },
  };

  R.trip = T;
})(window.Resupply);
