// The page's own small ground: making elements, remembering choices, telling parts about
// changes. Every text from a plan goes through `textContent`; no part sets HTML.
"use strict";
window.Resupply = (function () {
  const SVG = "http://www.w3.org/2000/svg";
  const listeners = new Map();
  const R = { plan: null, geo: null, partial: false, prefs: {}, page: { tiles: null } };
  // What the live page adds to a part: a maker of elements by the part's name.
  R.actions = {};
  R.more = (part, about) => (R.actions[part] ? R.actions[part](about) : null);

  // el("button.big", { type: "button", onclick: f }, "text", child, [more children])
  R.el = (spec, attributes, ...children) => make(document.createElement.bind(document), spec, attributes, children);
  R.svg = (spec, attributes, ...children) =>
    make((tag) => document.createElementNS(SVG, tag), spec, attributes, children);

  function make(create, spec, attributes, children) {
    const [tag, ...classes] = spec.split(".");
    const node = create(tag);
    if (classes.length) node.setAttribute("class", classes.join(" "));
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
      else node.setAttribute(name, value === true ? "" : String(value));
    }
    add(node, children);
    return node;
  }

  function add(node, children) {
    for (const child of children) {
      if (child === null || child === undefined || child === false || child === "") continue;
      if (Array.isArray(child)) add(node, child);
      else node.append(child instanceof Node ? child : String(child));
    }
  }

  // What the keyboard is on, if it is to be found again after drawing anew.
  R.held = () => document.activeElement && document.activeElement.closest("[data-keep]");
  R.find = (selector) => document.querySelector(selector);
  R.findAll = (selector) => [...document.querySelectorAll(selector)];
  R.fill = (node, ...children) => {
    node.replaceChildren();
    add(node, children);
    return node;
  };

  // A wide table scrolls inside its own box, which the keyboard can reach.
  R.scroll = (table) => {
    const caption = table.querySelector("caption");
    return R.el(
      "div.scroll",
      { tabindex: "0", role: "region", "aria-label": caption ? caption.textContent : "Table" },
      table,
    );
  };

  R.byId = (id) => document.getElementById(id);

  R.on = (event, listener) => {
    if (!listeners.has(event)) listeners.set(event, []);
    listeners.get(event).push(listener);
  };
  R.tell = (event, value) => (listeners.get(event) || []).forEach((listener) => listener(value));

  // Some phones refuse storage to a file, or take what they do not keep; the page then works and
  // forgets. True is said only of what was read back.
  R.store = {
    get(key, fallback) {
      try {
        const text = localStorage.getItem(`resupply:${key}`);
        return text === null ? fallback : JSON.parse(text);
      } catch {
        return fallback;
      }
    },
    set(key, value) {
      try {
        const text = JSON.stringify(value);
        localStorage.setItem(`resupply:${key}`, text);
        return localStorage.getItem(`resupply:${key}`) === text;
      } catch {
        return false;
      }
    },
  };

  R.readData = (name) => {
    const node = R.byId(`data-${name}`);
    if (!node) return null;
    return node.dataset.size ? R.unpack(node.textContent, Number(node.dataset.size)) : JSON.parse(node.textContent);
  };

  // Lookups the parts share, made anew for every plan.
  R.take = (plan, geo, partial) => {
    R.plan = plan;
    R.geo = geo;
    R.partial = Boolean(partial);
    R.passById = new Map((plan.passes || []).map((crossing) => [crossing.id, crossing]));
    R.length = plan.route.length_m;
    R.stopByPass = new Map((plan.stops || []).map((stop) => [stop.pass, stop]));
  };
  R.place = (id) => (R.plan.places || {})[id] || { name: "", kind_words: "Place", supplies: {}, tags: {} };
  R.placeName = (id) => R.place(id).name || R.place(id).kind_words || R.place(id).kind || "Unnamed place";
  R.passName = (id) => (R.passById.has(id) ? R.placeName(R.passById.get(id).place) : "");
  R.legAt = (chainage) =>
    (R.plan.legs || []).find((leg) => chainage <= leg.end_m + 0.5) || (R.plan.legs || []).at(-1) || null;

  // On a trip under way the plan begins where the rider is.
  R.isBehind = (chainage) => chainage < R.plan.legs[0].start_m - 50;

  // Index of the last element whose key is <= value; the keys do not fall.
  R.before = (values, value) => {
    let low = 0;
    let high = values.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (values[middle] <= value) low = middle;
      else high = middle - 1;
    }
    return low;
  };

  // Position on the drawn line, for marks only: straight between its points.
  R.positionAt = (chainage) => {
    const { chainage_m: chain, lon, lat } = R.line;
    const i = Math.min(R.before(chain, chainage), chain.length - 2);
    const piece = chain[i + 1] - chain[i];
    const t = piece > 0 ? Math.max(0, Math.min(1, (chainage - chain[i]) / piece)) : 0;
    return [lat[i] + t * (lat[i + 1] - lat[i]), lon[i] + t * (lon[i + 1] - lon[i])];
  };

  R.mealsPerDay = () => {
    const spare = R.plan.spare ? R.plan.spare.meals : 0;
    const known = [
      R.plan.start_carry,
      ...(R.plan.stops || []).map((s) => ({ meals: s.carry_meals, days: s.carry_days })),
    ].find((c) => c && c.days > 0.9);
    return known ? Math.max(1, Math.round((known.meals + spare) / known.days)) : 3;
  };

  // Colours of the present theme; asking the browser each time would cost a frame per shop.
  let colours = new Map();
  R.on("theme", () => (colours = new Map()));
  R.css = (name) => {
    if (!colours.has(name)) colours.set(name, getComputedStyle(document.documentElement).getPropertyValue(name).trim());
    return colours.get(name);
  };
  R.say = (text) => R.fill(R.byId("spoken"), text);
  return R;
})();
