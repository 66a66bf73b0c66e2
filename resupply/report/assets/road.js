// On the road: where am I on the route, what is next, will it be open, how long does the
// food last. Nothing is planned here: the plan's own figures are read at a place.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.tracks;
  const Q = {};
  let answer, ask;

  Q.draw = () => {
    answer = answer || el("div.road-answer", { "aria-live": "polite" });
    ask = el("input", { type: "number", inputmode: "decimal", min: "0", step: "any", "aria-label": `Your distance on the route in ${F.distanceUnit()}`, onkeydown: (event) => event.key === "Enter" && typed() });
    R.fill(R.byId("road"), el("details.road-box", { open: answer.childNodes.length > 0 || Boolean(document.querySelector(".road-box[open]")) },
      el("summary", {}, G.icon("find"), "On the road: where am I?"),
      el("div.road-ask", {},
        el("button.button.strong", { type: "button", onclick: find }, "Find me"),
        el("span.or", {}, "or I am at"),
        el("span.road-km", {}, el("span", {}, F.distanceUnit()), ask, el("button.button", { type: "button", onclick: typed }, "Show"))),
      el("p.quiet", {}, "“Find me” asks this device for its position, once. It needs no signal and the position leaves the page nowhere."),
      answer));
    if (Q.last !== undefined && Q.last !== null) tell(Q.last, Q.away);
  };

  function typed() {
    const value = Number(ask.value);
    if (ask.value === "" || !Number.isFinite(value)) return;
    const metres = (value / F.inUnits(1000)) * 1000;
    if (metres > R.length + 500) R.fill(answer, el("p.caution", {}, G.icon("caution", 16), el("span", {}, `The route is ${F.distance(R.length)} long.`)));
    else tell(Math.max(0, Math.min(R.length, metres)), null);
  }

  const FAULTS = {
    1: "This device did not allow its position. Type your distance instead, or touch the route.",
    2: "No position found. Step outside and try again, or type your distance.",
    3: "Finding the position took too long. Try again, or type your distance.",
  };

  function find() {
    if (!navigator.geolocation) {
      R.fill(answer, el("p", {}, FAULTS[1]));
      return;
    }
    R.fill(answer, el("p", {}, "Looking for your position…"));
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const near = Q.project(coords.longitude, coords.latitude);
        R.view.showSelf(coords.latitude, coords.longitude, coords.accuracy || 0);
        choose(near, coords.accuracy || 0);
      },
      (error) => R.fill(answer, el("p.caution", {}, G.icon("caution", 16), el("span", {}, FAULTS[error.code] || FAULTS[2]))),
      { enableHighAccuracy: true, timeout: 30000, maximumAge: 60000 },
    );
  }

  // A route that meets itself has several kilometres for one place: the rider says which.
  function choose(near, accuracy) {
    if (near[0].away > 20000) {
      R.fill(answer, el("p.caution", {}, G.icon("caution", 16), el("span", {}, `You are ${F.distance(near[0].away)} from the route: nothing can be read from it here.`)));
      return;
    }
    const close = near.filter((n) => n.away < near[0].away + Math.max(150, accuracy));
    if (close.length === 1) {
      tell(close[0].chainage, close[0].away);
      return;
    }
    R.fill(answer, el("p", {}, "The route passes here more than once. Which time is it?"),
      close.map((n) => el("button.button", { type: "button", onclick: () => tell(n.chainage, n.away) }, `${F.at(n.chainage)}, day ${(R.legAt(n.chainage) || {}).number}`)));
  }

  // Nearest places of the drawn line, one for each time the route comes by; metres, in a
  // plane around the rider, which is good to a few metres over the distances that matter.
  Q.project = (lon, lat) => {
    const { chainage_m: chain, lat: lats, lon: lons, parts } = R.line;
    const here = R.draw.lonNear(lon);
    const [kx, ky] = [111320 * Math.cos((lat * Math.PI) / 180), 110574 + 1120 * Math.sin((lat * Math.PI) / 180) ** 2];
    const starts = new Set(parts);
    const found = [];
    for (let i = 0; i < chain.length - 1; i++) {
      if (starts.has(i + 1)) continue;
      const [ax, ay] = [(lons[i] - here) * kx, (lats[i] - lat) * ky];
      const [dx, dy] = [(lons[i + 1] - lons[i]) * kx, (lats[i + 1] - lats[i]) * ky];
      const t = Math.max(0, Math.min(1, -(ax * dx + ay * dy) / (dx * dx + dy * dy || 1)));
      found.push({ away: Math.hypot(ax + t * dx, ay + t * dy), chainage: chain[i] + t * (chain[i + 1] - chain[i]) });
    }
    found.sort((a, b) => a.away - b.away);
    const out = [];
    for (const n of found) {
      if (out.length === 6 || n.away > found[0].away + 5000) break;
      if (out.every((other) => Math.abs(other.chainage - n.chainage) > 3000)) out.push(n);
    }
    return out;
  };

  function tell(chainage, away) {
    Q.last = chainage;
    Q.away = away;
    const leg = R.legAt(chainage);
    R.tell("place", { chainage, from: "road" });
    const stop = (R.plan.stops || []).find((s) => s.chainage_m > chainage + 50);
    const shop = (R.plan.passes || []).filter((c) => c.chainage_m > chainage + 50 && G.isShop(R.place(c.place)) && !R.stopByPass.has(c.id))[0];
    R.fill(answer,
      el("p.big-line", {}, `${F.at(chainage)}${leg ? `, day ${leg.number}` : ""}`, away > 300 ? el("span.quiet", {}, ` (you are ${F.short(away)} off the route)`) : null),
      food(chainage, stop),
      stop ? ahead(chainage, stop, R.passById.get(stop.pass), `Stop ${stop.number}`) : el("p", {}, "No more shop stops on this route."),
      shop && (!stop || shop.chainage_m < stop.chainage_m) ? ahead(chainage, shop, shop, "Sooner, not a chosen stop") : null,
      unknownAhead(chainage, stop));
  }

  function food(chainage, stop) {
    if (!T.food.present()) return null;
    const meals = T.valueAt(R.plan.carry_profile, chainage, "meals");
    const left = el("p", {}, el("b", {}, "Food: "), `by the plan ${F.plural(meals, "meal")} each on board, ${F.days(meals / R.mealsPerDay())}. `);
    left.append(stop ? `It is meant to last ${F.distance(stop.chainage_m - chainage)}, to stop ${stop.number}.` : "It is meant to last to the end.");
    return left;
  }

  function ahead(chainage, item, crossing, over) {
    const metres = item.chainage_m - chainage;
    const speed = R.plan.trip.speed_kmh || 60;
    const soon = new Date(Date.now() + (metres / 1000 / speed) * 3600e3);
    const planned = crossing && [Date.parse(crossing.eta_early || crossing.eta), Date.parse(crossing.eta_late || crossing.eta)];
    const onPlan = planned && soon >= planned[0] && soon <= planned[1];
    return el("div.ahead", {},
      el("p.over", {}, over),
      el("p.ahead-name", {}, el("b", { dir: "auto" }, R.placeName(item.place)), ` in ${F.distance(metres)}, about ${F.hours((metres / 1000 / speed) * 3600)} riding`),
      el("p", {}, `As planned, ${F.when(crossing ? crossing.eta : item.arrive)}: `, G.badge(item), crossing && [" Hours: ", R.popups.hours(crossing)]),
      !onPlan && el("p.caution", {}, G.icon("caution", 16), el("span", {}, "By this device's clock you are not there at the planned time, so the state above may be wrong. Read the hours yourself.")));
  }

  function unknownAhead(chainage, stop) {
    const until = stop ? stop.chainage_m : R.length;
    const dark = ((R.plan.coverage || {}).unknown || []).filter((s) => s.end_m > chainage && s.start_m < until);
    return dark.length > 0 && el("p.caution", {}, G.icon("caution", 16), el("span", {}, `No map data from ${F.at(dark[0].start_m)} to ${F.at(dark[0].end_m)}: there may be shops, or none.`));
  }

  R.road = Q;
})(window.Resupply);
