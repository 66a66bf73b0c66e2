// What the sheet says about one thing: a stop, another place, a night, a stretch, a kilometre.
// Each function gives the parts of a sheet (see card.js); names and tags only ever become text.
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
    const foot = crossing.walk_m >= 50 ? `, the last ${F.short(crossing.walk_m)} on foot` : "";
    const source = crossing.detour_source ? ` (${crossing.detour_source}${foot})` : "";
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

  const where = (crossing) =>
    `${F.at(crossing.chainage_m)} · ${F.upper(P.offset(crossing).replace(", straight line", ""))}`;
  const kindOf = (place) => F.upper(place.kind_words || place.kind || "Place");

  // The openings of the day of arrival as a bar, and when the rider comes.
  function dayBar(crossing, when) {
    const { doors } = crossing;
    if (!doors || !when) return null;
    const parts = F.parts(when);
    const midnight = Date.parse(when) / 1000 - parts.hour * 3600 - parts.minute * 60;
    const share = (second) => Math.max(0, Math.min(100, ((second - midnight) / 86400) * 100));
    const spans = doors.open.filter(([opens, shuts]) => shuts > midnight && opens < midnight + 86400);
    const bar = el("div.hours-bar", { "aria-hidden": "true" });
    const put = (spec, from, to) => {
      const node = el(spec);
      node.style.left = `${from}%`;
      if (to !== undefined) node.style.width = `${Math.max(0.8, to - from)}%`;
      bar.append(node);
    };
    if (doors.known_from_s > midnight) put("i.hours-unknown", 0, share(doors.known_from_s));
    if (doors.known_to_s < midnight + 86400) put("i.hours-unknown", share(doors.known_to_s), 100);
    for (const [opens, shuts] of spans) put("i.hours-open", share(opens), share(shuts));
    put("b.hours-now", share(Date.parse(when) / 1000));
    return bar;
  }

  P.hoursWords = hoursWords;
  function hoursWords(place) {
    if (place.hours_words) return F.upper(F.words(place.hours_words));
    return place.opening_hours ? null : "No hours on the map.";
  }

  function stateRow(crossing, when, stateWords) {
    const place = R.place(crossing.place);
    const said = hoursWords(place);
    return el(
      "div.card-row.card-state",
      {},
      el("p.card-lead", {}, G.badge(crossing), ` · ${F.when(when)}`),
      dayBar(R.passById.get(crossing.pass) || crossing, when),
      el("p", {}, said || F.upper(F.words(stateWords))),
    );
  }

  // What a rider may want to know of a place, but not first.
  const more = (rows) => el("details.card-row.card-more", {}, el("summary", {}, "More about it"), facts(rows));
  const pinOf = (visit, fallback) =>
    el("span.card-pin", {}, visit ? G.pin(visit.kind, { scale: 1, next: visit.next }) : fallback);

  P.stop = (stop) => {
    const crossing = R.passById.get(stop.pass) || stop;
    const place = R.place(stop.place);
    const list = ((R.plan.shopping || {}).stops || []).find((one) => one.stop === stop.number);
    const things = list ? R.kitchen.toBuy(list.lines)[0].length : 0;
    const fallback = stop.fallback || { kind: "none" };
    return {
      pin: pinOf(R.visitOf(stop.pass)),
      title: R.placeName(stop.place),
      over: `${kindOf(place)} · ${where(crossing)}`,
      body: [
        stateRow({ ...crossing, ...stop, state: stop.state }, stop.arrive, stop.state_words),
        R.card.row(
          "Do here",
          `Buy ${F.plural(stop.carry_meals, "meal")} each, to ${F.at(stop.to_chainage_m)}`,
          el(
            "p",
            {},
            [things && F.plural(things, "thing"), stop.carry_kg && F.mass(stop.carry_kg), `${stop.minutes} min`]
              .filter(Boolean)
              .join(" · "),
          ),
          (stop.ice || []).map((buy) =>
            el("p.buy-ice", {}, G.supplyGlyph("ice", 16), el("span", {}, F.words(buy.words))),
          ),
        ),
        noIce(stop.ice),
        R.card.row(
          "If it is shut",
          fallback.kind === "none" ? "No shop follows" : F.words(fallback.words),
          stop.if_shut && el("p", {}, F.words(stop.if_shut.words)),
        ),
        R.riding.ofPlace(crossing),
        R.more("place", stop),
        more([
          ["Why here", F.words(stop.why)],
          stop.why_not_previous && ["Why not before", F.words(stop.why_not_previous)],
          ["Hours on the map", P.hours(stop)],
          crossing.eta_early ? ["Arrival", F.window(crossing)] : null,
          ["Detour", crossing.side ? P.detour(crossing) : F.short(stop.detour_m)],
          ["Has", P.supplies(place)],
          ...P.tags(place),
        ]),
      ],
      foot: [
        list &&
          el(
            "button.button.strong",
            { type: "button", onclick: () => R.tabs.open("lists", `list-${stop.number}`) },
            "Shopping list",
          ),
        el("button.button", { type: "button", onclick: () => R.tabs.open("lists", "downs") }, "It is shut"),
      ],
    };
  };

  // What to eat, leave and buy instead where the ice is only likely.
  const noIce = (buys) => {
    const said = (buys || []).flatMap((buy) => buy.if_none || []);
    return (
      said.length > 0 &&
      R.card.row(
        "If it has no ice",
        null,
        said.map((text) => el("p", { dir: "auto" }, F.words(text))),
      )
    );
  };

  P.pass = (crossing) => {
    const place = R.place(crossing.place);
    const again = (R.plan.passes || []).filter((other) => other.place === crossing.place && other.id !== crossing.id);
    const visit = R.visitOf(crossing.id);
    const meals = (R.plan.eat_out || []).filter((row) => row.pass === crossing.id);
    const doing = [visit && visit.ice, visit && visit.fuel, visit && visit.water, ...meals].filter(Boolean);
    const timed = crossing.state !== "untimed";
    return {
      pin: pinOf(visit, G.supplyGlyph(G.mainSupply(place), 26)),
      title: R.placeName(crossing.place),
      over: `${kindOf(place)} · ${where(crossing)}`,
      body: [
        timed &&
          (meals.length
            ? stateRow({ ...crossing, state: meals[0].state }, meals[0].at, meals[0].state_words)
            : stateRow(crossing, crossing.eta, crossing.state_words)),
        doing.length > 0 &&
          R.card.row(
            "Do here",
            null,
            doing.map((one) => el("p", {}, F.words(one.words))),
          ),
        noIce(((visit && visit.ice) || {}).buy),
        R.riding.ofPlace(crossing),
        R.more("place", crossing),
        more([
          ["Has", P.supplies(place)],
          ["You pass", `${F.weekday(crossing.eta)} ${F.window(crossing)}`],
          timed && ["Then", F.words(crossing.state_words)],
          crossing.state === "shut" && crossing.next_open ? ["Opens next", F.when(crossing.next_open)] : null,
          crossing.state !== "shut" && crossing.next_close ? ["Shuts", F.when(crossing.next_close)] : null,
          ["Hours on the map", P.hours(crossing)],
          ["From the route", P.offset(crossing)],
          ["Detour", P.detour(crossing)],
          again.length
            ? ["Also passed", again.map((other) => `${F.at(other.chainage_m)} (${F.when(other.eta)})`).join(", ")]
            : null,
          ...P.tags(place),
        ]),
      ],
    };
  };

  P.night = (leg) => {
    const told = leg.night || {};
    return {
      pin: pinOf({ kind: leg === R.plan.legs.at(-1) ? "mark" : "camp" }),
      title: told.name || (leg === R.plan.legs.at(-1) ? "End of the route" : "Night"),
      over: `End of day ${leg.number} · ${F.at(leg.end_m)} · ${F.when(leg.arrive)}`,
      body: [
        leg.night && R.card.row(null, null, el("p", { dir: "auto" }, F.words(told.words))),
        facts([
          ["Sunset", leg.sunset ? F.time(leg.sunset) : "not known"],
          typeof leg.low_c === "number" ? ["Low, high", `${F.temp(leg.low_c)}, ${F.temp(leg.high_c)}`] : null,
        ]),
        R.more("day", leg),
      ],
    };
  };

  P.unknown = (stretch) => ({
    title: "No map data here",
    over: `${F.at(stretch.start_m)} to ${F.at(stretch.end_m)}`,
    body: [
      R.card.row(null, "There may be shops on this stretch, or none. Nothing is known."),
      stretch.reason && R.card.row("Because", null, el("p", {}, F.words(stretch.reason))),
    ],
  });

  // A place of the road itself: kilometre, time, what comes next.
  P.here = (chainage) => {
    const [place, ...rest] = R.strip.read(chainage);
    return {
      title: place,
      over: rest[0] || "",
      body: [
        el(
          "ul.card-row.plain",
          {},
          rest.slice(1).map((text) => el("li", { dir: "auto" }, text)),
        ),
        !R.actions.here &&
          el(
            "p.tick-buttons",
            {},
            el("button.button", { type: "button", id: "at-here", onclick: () => R.road.at(chainage) }, "I am here"),
          ),
        R.more("here", chainage),
      ],
    };
  };

  R.popups = P;
})(window.Resupply);
