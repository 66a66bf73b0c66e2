// Numbers and times as the rider reads them. Times are the plan's own local wall clock: they
// are read from the text, never moved to the browser's zone.
"use strict";
(function (R) {
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const imperial = () => R.prefs.units === "imperial";
  const number = R.decimal;
  // The published limit of 4 °C is printed as 40 °F.
  const fahrenheit = (celsius) => (celsius === 4 ? 40 : celsius * 1.8 + 32);

  const F = {};
  F.inUnits = (metres) => metres / (imperial() ? R.factors.KM_PER_MI * 1000 : 1000);
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
  F.degrees = (celsius) => F.temp(celsius).split(" ")[0];
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
  F.dayOf = (iso) => {
    const p = F.parts(iso);
    return p ? `${DAYS[p.weekday]} ${p.day}` : "";
  };
  F.date = (iso, withYear) => {
    const p = F.parts(iso);
    if (!p) return "not known";
    return `${DAYS[p.weekday]} ${p.day} ${MONTHS[p.month - 1]}${withYear ? ` ${p.year}` : ""}`;
  };
  // "9–13 Jul 2027", as short as it can be.
  F.dates = (from, to) => {
    const [a, b] = [F.parts(from), F.parts(to)];
    if (!a || !b) return "not known";
    if (from.slice(0, 10) === to.slice(0, 10)) return `${a.day} ${MONTHS[a.month - 1]} ${a.year}`;
    const month = a.month === b.month && a.year === b.year ? "" : ` ${MONTHS[a.month - 1]}`;
    return `${a.day}${month}–${b.day} ${MONTHS[b.month - 1]} ${b.year}`;
  };
  // The wall clock so many minutes later, by the same offset.
  F.later = (iso, minutes) => {
    const p = F.parts(iso);
    const moved = new Date(Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute) + Math.round(minutes) * 60000);
    return moved.toISOString().slice(0, 16) + iso.slice(16).replace(/^:\d\d(\.\d+)?/, "");
  };
  F.when = (iso) => `${F.weekday(iso)} ${F.time(iso)}`;
  F.window = (crossing) =>
    crossing.eta_early && crossing.eta_late
      ? `${F.time(crossing.eta_early)} to ${F.time(crossing.eta_late)}`
      : F.time(crossing.eta);

  F.plural = (count, one, many) => `${number(count, 1)} ${count === 1 ? one : many || `${one}s`}`;
  // Days without riding before one: at rest, or on a ferry.
  F.waited = (leg) => {
    const rests = leg.rest_days_before - leg.crossing_days_before;
    return [
      rests && F.plural(rests, "rest day"),
      leg.crossing_days_before && F.plural(leg.crossing_days_before, "day on a crossing", "days on a crossing"),
    ]
      .filter(Boolean)
      .join(", ");
  };
  F.days = (days) => F.plural(Math.round(days * 10) / 10, "day");
  // Meals to eat, and what is kept spare on top of them.
  F.load = (meals) => {
    const spare = R.plan && R.plan.spare ? R.plan.spare.meals : 0;
    return spare ? `${F.plural(meals, "meal")} + ${spare} spare` : F.plural(meals, "meal");
  };
  F.mealsDays = (meals, days) => `${F.plural(meals, "meal")} (${F.days(days)})`;

  // A sentence of the plan; what a file or a data table says is text as it is.
  F.words = (said) => (Array.isArray(said) ? R.text(said, R.prefs) : said || "");
  F.upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);

  R.format = F;
})(window.Resupply);
