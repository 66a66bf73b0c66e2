// What the map says about one thing: a stop, another place, a day, a night, a stretch.
// Each function gives an element; names and tags only ever become text.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const P = {};

  const facts = (rows) =>
    el(
      "dl.facts",
      {},
      rows
        .filter((row) => row && row[1] !== null && row[1] !== undefined && row[1] !== "")
        .map(([term, value]) => [el("dt", {}, term), el("dd", {}, value)]),
    );
  P.facts = facts;

  const SIDE = { left: "left of the road", right: "right of the road", on: "on the road" };
  P.offset = (crossing) => {
    if (crossing.side === "on" || crossing.offset_m < 50) return "on the road";
    return `${F.short(crossing.offset_m)} ${SIDE[crossing.side] || "off the route"}, straight line`;
  };
  P.detour = (crossing) => {
    if (crossing.detour_m === null || crossing.detour_m === undefined) return "not known";
    const time = crossing.detour_s ? ` and ${F.hours(Math.max(60, crossing.detour_s))}` : "";
    const source = crossing.detour_source ? ` (${crossing.detour_source})` : "";
    return `${F.short(crossing.detour_m)}${time} extra${source}`;
  };
  P.supplies = (place) =>
    Object.entries(place.supplies || {})
      .map(([supply, sure]) => G.supplyWord(supply).toLowerCase() + (sure === "likely" ? " (likely, not stated)" : ""))
      .join(", ");

  // Hours exactly as the map has them, then what that means at the planned time.
  P.hours = (crossing) => {
    const raw = R.place(crossing.place).opening_hours;
    return el("span.hours", {}, raw ? el("q", { dir: "auto" }, raw) : "none on the map");
  };

  const TAGS = {
    brand: "Brand",
    phone: "Phone",
    website: "Web address",
    fee: "Fee",
    tents: "Tents",
    seasonal: "Season",
    payment: "Payment",
  };
  P.tags = (place) =>
    Object.entries(place.tags || {})
      .slice(0, 6)
      .map(([key, value]) => [TAGS[key] || key.replaceAll("_", " "), el("span", { dir: "auto" }, value)]);

  const head = (over, title, badge) =>
    el("header.pop-head", {}, el("p.over", {}, over), el("h3", { dir: "auto" }, title), badge);
  const where = (crossing) => `${F.at(crossing.chainage_m)}, day ${crossing.leg}`;

  P.stop = (stop) => {
    const crossing = R.passById.get(stop.pass) || stop;
    const place = R.place(stop.place);
    return el(
      "article.pop",
      {},
      head(`Stop ${stop.number} · ${where(stop)}`, R.placeName(stop.place), G.badge(stop)),
      el("p.lead", {}, F.words(stop.carry_words)),
      R.more("place", stop),
      facts([
        ["What", `${place.kind_words || place.kind || ""}: ${P.supplies(place)}`],
        ["You arrive", `${F.when(stop.arrive)}${crossing.eta_early ? ` (${F.window(crossing)})` : ""}`],
        ["Then", F.words(stop.state_words)],
        ["Hours", P.hours(stop)],
        ["From the route", crossing.side ? P.offset(crossing) : null],
        ["Detour", crossing.side ? P.detour(crossing) : F.short(stop.detour_m)],
        ["In the shop", `${stop.minutes} min`],
        ...P.tags(place),
      ]),
      el("p.why", {}, el("b", {}, "Why here: "), F.words(stop.why)),
      stop.why_not_previous && el("p.why", {}, F.words(stop.why_not_previous)),
    );
  };

  P.pass = (crossing) => {
    const place = R.place(crossing.place);
    const again = (R.plan.passes || []).filter((other) => other.place === crossing.place && other.id !== crossing.id);
    const timed = crossing.state !== "untimed";
    return el(
      "article.pop",
      {},
      head(
        `${place.kind_words || place.kind} · ${where(crossing)}`,
        R.placeName(crossing.place),
        timed && G.badge(crossing),
      ),
      R.more("place", crossing),
      facts([
        ["Has", P.supplies(place)],
        ["You pass", `${F.weekday(crossing.eta)} ${F.window(crossing)}`],
        timed && ["Then", F.words(crossing.state_words)],
        crossing.state === "shut" && crossing.next_open ? ["Opens next", F.when(crossing.next_open)] : null,
        crossing.state !== "shut" && crossing.next_close ? ["Shuts", F.when(crossing.next_close)] : null,
        ["Hours", P.hours(crossing)],
        ["From the route", P.offset(crossing)],
        ["Detour", P.detour(crossing)],
        again.length
          ? ["Also passed", again.map((other) => `${F.at(other.chainage_m)} (${F.when(other.eta)})`).join(", ")]
          : null,
        ...P.tags(place),
      ]),
    );
  };

  P.leg = (leg) =>
    el(
      "article.pop",
      {},
      head(F.date(leg.date), `Day ${leg.number}`),
      facts([
        ["Ride", `${F.distance(leg.length_m)}, ${F.hours(leg.ride_s)}`],
        ["Leave", F.time(leg.depart)],
        ["Arrive", F.time(leg.arrive)],
        ["Night", leg.night ? F.words(leg.night.words) : null],
      ]),
      R.more("day", leg),
    );

  P.night = (leg) =>
    el(
      "article.pop",
      {},
      head(
        `End of day ${leg.number} · ${F.at(leg.end_m)}`,
        (leg.night && leg.night.name) || (leg.night && leg.night.kind === "end" ? "End of the route" : "Night"),
      ),
      leg.night && el("p.lead", {}, F.words(leg.night.words)),
      facts([
        ["Arrive", F.when(leg.arrive)],
        ["Sunset", leg.sunset ? F.time(leg.sunset) : "not known"],
        leg.low_c !== null && leg.low_c !== undefined
          ? ["Low, high", `${F.temp(leg.low_c)}, ${F.temp(leg.high_c)}`]
          : null,
      ]),
      R.more("day", leg),
    );

  P.unknown = (stretch) =>
    el(
      "article.pop",
      {},
      head(`${F.at(stretch.start_m)} to ${F.at(stretch.end_m)}`, "No map data here"),
      el("p.lead", {}, "There may be shops on this stretch, or none. Nothing is known."),
      stretch.reason && facts([["Because", F.words(stretch.reason)]]),
    );

  // Room is kept for the buttons at the map's right edge where they stay in sight.
  P.options = (maxWidth, lift = 0) => ({
    maxWidth: window.innerWidth < 980 ? maxWidth : 400,
    offset: [0, lift || 7],
    autoPanPaddingTopLeft: [8, 8],
    autoPanPaddingBottomRight: [window.innerWidth < 700 ? 8 : 66, 8],
  });

  R.popups = P;
})(window.Resupply);
