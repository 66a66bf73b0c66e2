// What is handed back: position, time, stock and ticks as one small file or one link, which
// `resupply here` and the live page read (resupply/trip/hand_over.py).
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const H = { FILE: "on-the-road.json", SCHEMA: "resupply-phone/1" };

  // `stock` is { food_meals, ice_kg, fuel_km, water_l }, null where not known.
  H.make = ({ plan, time, at_m, position, stock, ticks }) => {
    const places = (kind) => [...new Set(ticks.filter((one) => one.kind === kind).map((one) => one.place))];
    return {
      schema: H.SCHEMA,
      trip: plan.trip.name,
      time,
      at_m: at_m === null ? null : Math.round(at_m),
      route_m: plan.route.length_m,
      lat: position ? position[0] : null,
      lon: position ? position[1] : null,
      ...stock,
      shut: places("shut"),
      no_ice: places("no_ice"),
      has_ice: places("had_ice"),
      ticks: ticks.map((one) => ({
        time: one.time,
        kind: one.kind,
        place: one.place || null,
        name: one.name,
        at_m: one.at_m === undefined || one.at_m === null ? null : Math.round(one.at_m),
      })),
    };
  };

  // base64url of UTF-8: any name fits into a link.
  H.code = (told) => {
    const bytes = new TextEncoder().encode(JSON.stringify(told));
    const text = Array.from(bytes, (byte) => String.fromCharCode(byte)).join("");
    return btoa(text).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  };
  H.link = (told, address) => `${address.split("#")[0]}#phone=${H.code(told)}`;

  // Settings that a file or a link says, for the live page; null if it is none. The server checks them.
  H.settings = (text, length_m) => {
    const told = read(text);
    if (!told || typeof told !== "object" || told.schema !== H.SCHEMA) return null;
    const number = (value) => (typeof value === "number" && Number.isFinite(value) && value >= 0 ? value : null);
    const ids = (value) => (Array.isArray(value) ? value.filter((one) => typeof one === "string").slice(0, 500) : []);
    const same = number(told.route_m) === null || Math.abs(told.route_m - length_m) <= 100;
    const at_m = number(told.at_m);
    if (at_m === null || !same || typeof told.time !== "string") return null;
    return {
      now: {
        "now.at_km": Math.round(at_m / 10) / 100,
        "now.time": `${told.time.slice(0, 16)}:00`,
        "now.food_meals": number(told.food_meals),
        "now.ice_kg": number(told.ice_kg),
        "now.fuel_km": number(told.fuel_km),
        "now.water_l": number(told.water_l),
      },
      found: { "shops.gone": ids(told.shut), "shops.no_ice": ids(told.no_ice), "shops.has_ice": ids(told.has_ice) },
    };
  };

  function read(text) {
    try {
      // A name in a file may look like a link.
      const link = text.trimStart().startsWith("{") ? null : /[#&?]phone=([A-Za-z0-9_-]+)/.exec(text);
      if (!link) return JSON.parse(text);
      const raw = atob(link[1].replace(/-/g, "+").replace(/_/g, "/"));
      return JSON.parse(new TextDecoder().decode(Uint8Array.from(raw, (one) => one.charCodeAt(0))));
    } catch {
      return null;
    }
  }

  R.handOver = H;
})(globalThis.Resupply);
