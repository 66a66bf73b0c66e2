// Numbers and times as the rider reads them. Times are the plan's own local wall clock: they
// are read from the text, never moved to the browser's zone.
"use strict";
(function (R) {
  // For sentences that come as text in the trip's units: see F.words.
  const KM_PER_MI = 1.609344;
  const KG_PER_LB = 0.45359237;
  const L_PER_GAL = 3.785411784;
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const imperial = () => R.prefs.units === "imperial";
  const number = R.decimal;
  // The published limit of 4 °C is printed as 40 °F.
  const fahrenheit = (celsius) => (celsius === 4 ? 40 : celsius * 1.8 + 32);

  const F = {};
  F.inUnits = (metres) => metres / (imperial() ? KM_PER_MI * 1000 : 1000);
  F.distanceUnit = () => (imperial() ? "mi" : "km");
  F.inTemp = (celsius) => (imperial() ? fahrenheit(celsius) : celsius);
  F.number = number;
  const of = (kind) => (value) =>
    value === null || value === undefined ? "not known" : R.shown({ [kind]: value }, R.prefs);
  F.distance = of("way_m");
  F.at = of("at_m");
  F.short = of("walk_m");
  F.mass = of("mass_kg");
  F.volume = of("volume_l");
  F.temp = of("temp_c");
  F.limit = of("limit_c");
  F.speed = of("speed_kmh");
  F.heightOf = of("height_m");

  F.hours = (seconds) => {
    const minutes = Math.round(seconds / 60);
    const h = Math.floor(minutes / 60);
    if (h === 0) return `${minutes} min`;
    return minutes % 60 ? `${h} h ${String(minutes % 60).padStart(2, "0")} min` : `${h} h`;
  };

  // "2027-07-09T10:42:00-01:00" -> parts of the local wall clock
  F.parts = (iso) => {
    const m = /^(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d))?/.exec(iso || "");
    if (!m) return null;
    const [year, month, day] = [Number(m[1]), Number(m[2]), Number(m[3])];
    const weekday = new Date(Date.UTC(year, month - 1, day)).getUTCDay();
    return { year, month, day, weekday, hour: Number(m[4] || 0), minute: Number(m[5] || 0) };
  };
  const two = (value) => String(value).padStart(2, "0");
  F.clock = (hour, minute) => R.shown({ time: `0000-00-00T${two(hour)}:${two(minute)}` }, R.prefs);
  F.time = (iso) => (iso ? R.shown({ time: iso }, R.prefs) : "not known");
  F.weekday = (iso) => {
    const p = F.parts(iso);
    return p ? DAYS[p.weekday] : "";
  };
  F.date = (iso, withYear) => {
    const p = F.parts(iso);
    if (!p) return "not known";
    return `${DAYS[p.weekday]} ${p.day} ${MONTHS[p.month - 1]}${withYear ? ` ${p.year}` : ""}`;
  };
  // The wall clock so many minutes later, by the same offset.
  F.later = (iso, minutes) => {
    const p = F.parts(iso);
    const moved = new Date(Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute) + Math.round(minutes) * 60000);
    return moved.toISOString().slice(0, 16) + iso.slice(16).replace(/^:\d\d(\.\d+)?/, "");
  };
  F.when = (iso) => `${F.weekday(iso)} ${F.time(iso)}`;
  F.window = (crossing) =>
    crossing.eta_early && crossing.eta_late ? `${F.time(crossing.eta_early)} to ${F.time(crossing.eta_late)}` : F.time(crossing.eta);

  F.plural = (count, one, many) => `${number(count, 1)} ${count === 1 ? one : many || `${one}s`}`;
  // Days without riding before one: at rest, or on a ferry.
  F.waited = (leg) => {
    const rests = leg.rest_days_before - leg.crossing_days_before;
    return [rests && F.plural(rests, "rest day"), leg.crossing_days_before && F.plural(leg.crossing_days_before, "day on a crossing", "days on a crossing")].filter(Boolean).join(", ");
  };
  F.days = (days) => F.plural(Math.round(days * 10) / 10, "day");
  // Meals to eat, and what is kept spare on top of them.
  F.load = (meals) => {
    const spare = R.plan && R.plan.spare ? R.plan.spare.meals : 0;
    return spare ? `${F.plural(meals, "meal")} + ${spare} spare` : F.plural(meals, "meal");
  };
  F.mealsDays = (meals, days) => `${F.plural(meals, "meal")} (${F.days(days)})`;

  // Sentences come in the trip's own units; the rider may have switched since. Only a number
  // with its unit is rewritten, and never inside a place name.
  const QUANTITY =
    /(\bkm |\bmile )?(?:(\d+(?:,\d{3})*(?:\.\d+)?)( to | or |–))?(−|-)?(\d+(?:,\d{3})*(?:\.\d+)?)(?:( ?)(km\/h|mph|km|mi|°C|°F|kg|lb|L|qt|gal)(?![\w/]))?/g;
  const CLOCK = /\b([01]?\d|2[0-3]):([0-5]\d)(?: ?([ap]m))?\b/gi;
  const TO_METRIC = {
    mi: ["km", (v) => v * KM_PER_MI], mile: ["km", (v) => v * KM_PER_MI], mph: ["km/h", (v) => v * KM_PER_MI], "°F": ["°C", (v) => (v - 32) / 1.8],
    lb: ["kg", (v) => v * KG_PER_LB], gal: ["L", (v) => v * L_PER_GAL], qt: ["L", (v) => (v * L_PER_GAL) / 4],
  };
  const TO_IMPERIAL = {
    km: ["mi", (v) => v / KM_PER_MI], "km/h": ["mph", (v) => v / KM_PER_MI], "°C": ["°F", fahrenheit],
    kg: ["lb", (v) => v / KG_PER_LB], L: ["gal", (v) => v / L_PER_GAL],
  };

  function convert(text) {
    const table = imperial() ? TO_IMPERIAL : TO_METRIC;
    return text
      .replace(QUANTITY, (whole, before, low, joint, sign, digits, space, unit) => {
        const from = unit || (before || "").trim();
        if (!table[from]) return whole;
        const [to, scale] = table[from];
        const shown = (text, negative) => {
          const scaled = scale(Number(text.replaceAll(",", "")) * (negative ? -1 : 1));
          const places = text.includes(".") || (Math.abs(scaled) < 10 && !to.startsWith("°")) ? 1 : 0;
          return number(scaled, places);
        };
        const value = (low ? shown(low) + joint : "") + shown(digits, sign);
        return unit ? `${before || ""}${value}${space || " "}${to}` : `${to === "mi" ? "mile" : to} ${value}`;
      })
      .replace(CLOCK, (whole, hour, minute, half) => {
        let h = Number(hour);
        const part = (half || "").toLowerCase();
        if (part === "pm" && h < 12) h += 12;
        if (part === "am" && h === 12) h = 0;
        return F.clock(h, minute);
      })
      // What stood there in both units would now be said twice.
      .replace(/(−?[\d.,]+ \S+) \(\1\)/g, "$1")
      .replace(/(−?[\d.,]+ \S+) and (−?[\d.,]+ \S+) \(\1 to \2\)/g, "$1 and $2");
  }

  F.words = (text) => {
    if (!text) return "";
    if (Array.isArray(text)) return R.text(text, R.prefs);
    const plain = String(text);
    const { units, clock } = R.plan.trip;
    // Sentences tell noon as PM, the page as pm: on a 12 hour clock all go through.
    if (R.prefs.units === units && R.prefs.clock === clock && clock !== 12) return plain;
    let pieces = [plain];
    for (const name of R.digitNames || []) {
      if (!plain.includes(name)) continue;
      pieces = pieces.flatMap((piece, i) => (i % 2 ? [piece] : interleave(piece.split(name), name)));
    }
    return pieces.map((piece, i) => (i % 2 ? piece : convert(piece))).join("");
  };
  // The first sentence, and the others.
  F.sentences = (text) => F.words(text).split(/(?<=\.) (?=[A-Z])/);
  F.upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const interleave = (parts, name) => parts.flatMap((part, i) => (i ? [name, part] : [part]));

  R.format = F;
})(window.Resupply);
