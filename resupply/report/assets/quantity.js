// The twin of `common/show.py`: shows quantities, nothing else. All words come from Python.
// Both pass the same table of cases, docs/quantities.json.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const M_PER_MI = 1609.344,
    KM_PER_MI = 1.609344,
    KG_PER_LB = 0.45359237,
    L_PER_GAL = 3.785411784;
  const M_PER_FT = 0.3048,
    M_PER_YD = 0.9144,
    G_PER_OZ = 28.349523125,
    ML_PER_FL_OZ = 29.5735295625;
  const PUBLISHED_F = { 4: 40, 32: 90 };
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const imperial = (show) => show.units === "imperial";
  const halfUp = (value) => Math.floor(value + 0.5); // alike in both languages, to the last bit

  function decimal(value, digits = 0) {
    const scale = 10 ** digits;
    const units = halfUp(Math.abs(value) * scale);
    const whole = String(Math.floor(units / scale)).replace(/\B(?=(\d{3})+$)/g, ",");
    const rest = digits
      ? String(units % scale)
          .padStart(digits, "0")
          .replace(/0+$/, "")
      : "";
    return (value < 0 && units ? "−" : "") + whole + (rest && `.${rest}`);
  }
  const size = (value) => decimal(value, value < 9.95 ? 1 : 0);
  const fahrenheit = (celsius) => (celsius * 9) / 5 + 32;
  // What is there is never shown as nothing.
  const some = (value, shown, unit) => (value > 0 && value < 0.05 ? `less than 0.1 ${unit}` : `${shown} ${unit}`);
  const tenths = (value, unit) => some(value, decimal(value, 1), unit);

  function way(metres, show) {
    const [value, unit] = imperial(show) ? [metres / M_PER_MI, "mi"] : [metres / 1000, "km"];
    return some(value, size(value), unit);
  }
  function walk(metres, show) {
    if (metres >= 945) return way(metres, show);
    const [step, unit] = imperial(show) ? [10 * M_PER_YD, "yd"] : [10, "m"];
    const tens = halfUp(metres / step);
    return tens || !metres ? `${decimal(tens * 10)} ${unit}` : `less than 10 ${unit}`;
  }
  function volume(litres, show) {
    const gallons = litres / L_PER_GAL;
    if (!imperial(show)) return tenths(litres, "L");
    return gallons < 0.9875 ? tenths(gallons * 4, "qt") : tenths(gallons, "gal");
  }
  const temp = (celsius, show) => (imperial(show) ? `${decimal(fahrenheit(celsius))} °F` : `${decimal(celsius)} °C`);
  function time(iso, show) {
    const [hour, minute] = [Number(iso.slice(11, 13)), iso.slice(14, 16)];
    if (show.clock !== 12) return `${String(hour).padStart(2, "0")}:${minute}`;
    return `${hour % 12 || 12}:${minute} ${hour < 12 ? "am" : "pm"}`;
  }
  // As a sign says it: no minutes where there are none, and midnight ends a day.
  function hour(iso, show) {
    const [h, minute] = [Number(iso.slice(11, 13)), iso.slice(14, 16)];
    if (iso.slice(8, 16) === "02T00:00") return show.clock === 12 ? "midnight" : "24";
    const minutes = minute === "00" ? "" : `:${minute}`;
    return show.clock === 12 ? `${h % 12 || 12}${minutes} ${h < 12 ? "am" : "pm"}` : `${h}${minutes}`;
  }
  const weekday = (iso) => DAYS[new Date(`${iso.slice(0, 10)}T00:00Z`).getUTCDay()];
  function sold(amount, unit, thousand) {
    if (amount < 999.5) return some(amount, size(amount), unit);
    return `${decimal(amount / 1000, amount < 9995 ? 2 : 1)} ${thousand}`;
  }
  function packed(told, ounces, show) {
    // A gram of salt is no ounce at all.
    return imperial(show) && !told.startsWith("less") && ounces !== "0 oz" ? `${told} (${ounces})` : told;
  }
  function ounces(grams) {
    const pounds = grams / 1000 / KG_PER_LB;
    return pounds >= 1 ? `${decimal(pounds, 1)} lb` : `${size(grams / G_PER_OZ)} oz`;
  }
  const fluidOunces = (millilitres) => `${size(millilitres / ML_PER_FL_OZ)} fl oz`;

  const KINDS = {
    at_m: (v, show) => (imperial(show) ? `mile ${decimal(v / M_PER_MI)}` : `km ${decimal(v / 1000)}`),
    way_m: way,
    walk_m: walk,
    height_m: (v, show) => (imperial(show) ? `${decimal(v / M_PER_FT)} ft` : `${decimal(v)} m`),
    speed_kmh: (v, show) => (imperial(show) ? `${decimal(v / KM_PER_MI)} mph` : `${decimal(v)} km/h`),
    mass_kg: (v, show) => (imperial(show) ? tenths(v / KG_PER_LB, "lb") : tenths(v, "kg")),
    pack_g: (v, show) => packed(sold(v, "g", "kg"), ounces(v), show),
    pack_ml: (v, show) => packed(sold(v, "ml", "L"), fluidOunces(v), show),
    volume_l: volume,
    room_l: (v, show) => (imperial(show) ? tenths((v / L_PER_GAL) * 4, "qt") : tenths(v, "L")),
    temp_c: temp,
    limit_c: (v, show) => (imperial(show) && v in PUBLISHED_F ? `${PUBLISHED_F[v]} °F` : temp(v, show)),
    time,
    day_time: (v, show) => `${weekday(v)} ${time(v, show)}`,
    closing: (v, show) => (v.slice(11, 16) !== "00:00" ? time(v, show) : show.clock === 12 ? "midnight" : "24:00"),
    hour,
    name: (v) => v,
  };
  R.decimal = decimal;
  // Metric to what the rider types: the settings of the live page.
  R.factors = { KM_PER_MI, KG_PER_LB, L_PER_GAL };
  R.shown = (quantity, show) => {
    const kind = Object.keys(quantity)[0];
    return KINDS[kind](quantity[kind], show);
  };
  R.text = (sentence, show) => sentence.map((part) => (typeof part === "string" ? part : R.shown(part, show))).join("");
})(globalThis.Resupply);
