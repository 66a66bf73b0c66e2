// On the road: where am I on the route, what is next, will it be open, how long does the
// food last. Nothing is planned here: the plan's own figures are read at a place.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const K = R.lookup;
  const Q = {};
  let answer, ask;

  // In the sheet: find the device, or type the distance.
  Q.open = () =>
    R.card.open({ key: "road", tab: R.tabs.current, draw: () => ({ title: "Where am I?", over: "", body: panel() }) });

  function panel() {
    answer = el("div.road-answer", { "aria-live": "polite" });
    ask = el("input", {
      type: "number",
      inputmode: "decimal",
      min: "0",
      step: "any",
      "aria-label": `Your distance on the route in ${F.distanceUnit()}`,
      onkeydown: (event) => event.key === "Enter" && typed(),
    });
    if (Q.last !== undefined && Q.last !== null) tell(Q.last, Q.away, Q.rough);
    return el(
      "div.card-row.road-box",
      {},
      el(
        "div.road-ask",
        {},
        el("button.button.strong", { type: "button", onclick: find }, "Find me"),
        el(
          "span.road-km",
          {},
          el("span", {}, `or at ${imperial() ? "mile" : "km"}`),
          ask,
          el("button.button", { type: "button", onclick: typed }, "Show"),
        ),
      ),
      answer,
      el(
        "details",
        {},
        el("summary", {}, "What is asked"),
        el(
          "p.quiet",
          {},
          "“Find me” asks this device for its position, once. It needs no signal, " +
            "and the position does not leave this page.",
        ),
      ),
    );
  }
  const imperial = () => R.prefs.units === "imperial";
  const warn = (text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, text));

  function typed() {
    const value = Number(ask.value);
    if (ask.value === "" || !Number.isFinite(value)) return;
    const metres = (value / F.inUnits(1000)) * 1000;
    if (metres > R.length + 500) R.fill(answer, warn(`The route is ${F.distance(R.length)} long.`));
    else Q.at(Math.max(0, Math.min(R.length, metres)));
  }
  // Said by hand: typed, or a tap on the route.
  Q.at = (chainage) => {
    Q.position = null;
    if (R.card.shown && R.card.shown.key === "road") tell(chainage, null);
    else {
      [Q.last, Q.away, Q.rough] = [chainage, null, 0];
      R.tell("found", chainage);
      Q.open();
    }
  };
  // Another plan is shown, or something was ticked: the same place, told anew.
  Q.again = () => {
    if (Q.last === undefined || Q.last === null || !R.plan) return;
    R.tell("found", Q.last);
    R.card.redraw();
  };

  const FAULTS = {
    1: "This device did not allow its position. Type your distance instead, or touch the route.",
    2: "No position found. Step outside and try again, or type your distance.",
    3: "Finding the position took too long. Try again, or type your distance.",
  };

  function find() {
    if (!navigator.geolocation) {
      R.fill(answer, warn(FAULTS[1]));
      return;
    }
    R.fill(answer, el("p", {}, "Looking for your position…"));
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const near = Q.project(coords.longitude, coords.latitude);
        Q.position = [coords.latitude, coords.longitude];
        R.view.showSelf(coords.latitude, coords.longitude, coords.accuracy || 0);
        choose(near, coords.accuracy || 0);
      },
      (error) => R.fill(answer, warn(FAULTS[error.code] || FAULTS[2])),
      { enableHighAccuracy: true, timeout: 30000, maximumAge: 5000 },
    );
  }

  // A position this far from the route, or this rough, says nothing about it.
  const FAR_M = 20000;
  const ROUGH_M = 500;

  // A route that meets itself has several kilometres for one place: the rider says which.
  function choose(near, accuracy) {
    const rough = accuracy > ROUGH_M ? accuracy : 0;
    if (rough > FAR_M)
      return R.fill(
        answer,
        warn(
          `This device knows its position only to ${F.distance(rough)}: that says nothing about the route. ` +
            `Go outside and try again, or type your distance.`,
        ),
      );
    if (near[0].away > FAR_M)
      return R.fill(
        answer,
        warn(`You are ${F.distance(near[0].away)} from the route: nothing can be read from it here.`),
      );
    const close = near.filter((n) => n.away < near[0].away + Math.max(150, accuracy));
    if (close.length === 1) return tell(close[0].chainage, close[0].away, rough);
    return R.fill(
      answer,
      roughly(rough),
      el("p", {}, "The route passes here more than once. Which time is it?"),
      close.map((n) =>
        el(
          "button.button",
          { type: "button", onclick: () => tell(n.chainage, n.away, rough) },
          `${F.at(n.chainage)}, day ${(R.legAt(n.chainage) || {}).number}`,
        ),
      ),
    );
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

  const roughly = (rough) =>
    rough > 0 && warn(`This device knows its position only to ${F.distance(rough)}: the distances here are as rough.`);

  function tell(chainage, away, rough) {
    const box = R.byId("hand-over");
    const opened = Boolean(box && box.open);
    const moved = Q.last !== chainage;
    [Q.last, Q.away, Q.rough] = [chainage, away, rough];
    if (moved) R.tell("found", chainage);
    const leg = R.isBehind(chainage) ? null : legNow(chainage);
    R.tell("place", { chainage, from: "road" });
    const found = R.ticks.found();
    const stop = (R.plan.stops || []).find(
      (s) => s.chainage_m > chainage + 50 && !found.shut.has(s.place) && !found.bought.has(s.place),
    );
    const shop = (R.plan.passes || []).find(
      (c) =>
        c.chainage_m > chainage + 50 &&
        G.isShop(R.place(c.place)) &&
        !found.shut.has(c.place) &&
        !R.stopByPass.has(c.id) &&
        stateThere(chainage, leg, c, c) !== "shut",
    );
    R.fill(
      answer,
      el(
        "p.big-line",
        {},
        `${F.at(chainage)}${leg ? `, day ${leg.number}` : ""}`,
        away > 300 ? el("span.quiet", {}, ` (you are ${F.short(away)} off the route)`) : null,
      ),
      roughly(rough),
      R.riding.late(chainage),
      R.more("here", chainage),
      R.riding.food(chainage),
      stop
        ? ahead(chainage, leg, stop, R.passById.get(stop.pass), `Stop ${stop.number}`)
        : el("p", {}, "No more shop stops are planned on this route."),
      shop && (!stop || shop.chainage_m < stop.chainage_m)
        ? ahead(chainage, leg, shop, shop, stop ? "Sooner, not a chosen stop" : "A shop on the way")
        : null,
      unknownAhead(chainage, stop),
      R.riding.rest(chainage),
      R.riding.fits(chainage, leg, ridingOn),
      R.riding.panel(chainage, opened),
    );
  }

  // In camp the next day has begun once its date has.
  function legNow(chainage) {
    const { legs } = R.plan;
    const leg = R.legAt(chainage);
    const next = legs[legs.indexOf(leg) + 1];
    return next && chainage > leg.end_m - 1000 && today(next.depart) >= next.date ? next : leg;
  }
  // Date of this device's clock in the time zone of a time of the plan.
  const today = (iso) => F.later(iso, (Date.now() - Date.parse(iso)) / 60000).slice(0, 10);

  function ahead(chainage, leg, item, crossing, over) {
    const far = F.distance(item.chainage_m - chainage);
    const on = leg && K.between(R.plan.legs, leg, chainage, item.chainage_m);
    return el(
      "div.ahead",
      {},
      el("p.over", {}, over),
      el(
        "p.ahead-name",
        {},
        el("b", { dir: "auto" }, R.placeName(item.place)),
        ` in ${far}`,
        leg && `, about ${F.hours(Math.max(60, on))} with the halts of the plan`,
      ),
      !leg || item.leg > leg.number ? later(leg, item, crossing) : soon(chainage, leg, item, crossing),
      // As a person writes them; what nobody can read stays as the map has it.
      crossing && el("p", {}, "Hours: ", R.popups.hoursWords(R.place(item.place)) || R.popups.hours(crossing)),
    );
  }

  const planned = (item, crossing) =>
    el("p", {}, `As planned, ${F.when(crossing ? crossing.eta : item.arrive)}: `, G.badge(item));

  // A night lies between: the plan's own time counts, as long as the rider is on its day.
  function later(leg, item, crossing) {
    const off = leg && today(leg.depart) !== leg.date;
    return [
      planned(item, crossing),
      off &&
        warn(
          `By this device’s clock it is not ${F.date(leg.date)}: the state above may be wrong. ` +
            "Read the hours yourself.",
        ),
    ];
  }

  // The state to expect at a place ahead: as planned behind a night or where hours are not known
  // well enough, else for a rider who rides on now.
  function stateThere(chainage, leg, item, crossing) {
    const now = !leg || item.leg > leg.number ? "unknown" : ridingOn(chainage, leg, item, crossing).state;
    return now === "unknown" ? item.state : now;
  }

  // Riding on now: as late as planned from here on, by the stated hours.
  function ridingOn(chainage, leg, item, crossing) {
    const eta = crossing ? crossing.eta : item.arrive;
    const planned = Date.parse(eta) / 1000;
    const at = Date.now() / 1000 + Math.max(0, planned - K.at(leg.arrivals, chainage, true).arrive_s);
    const doors = crossing && crossing.doors;
    const state = K.state(doors, at, K.doubt(leg.arrivals, chainage, item.chainage_m));
    return { eta, planned, at, doors, state };
  }

  function soon(chainage, leg, item, crossing) {
    const { eta, planned: due, at, doors, state } = ridingOn(chainage, leg, item, crossing);
    const clock = (second) => F.later(eta, (second - due) / 60);
    const when = clock(at);
    if (state === "unknown") {
      const early = crossing && Date.parse(crossing.eta_early || eta) - 60000;
      const late = crossing && Date.parse(crossing.eta_late || eta) + 60000;
      const there = at * 1000;
      return [
        planned(item, crossing),
        !(there >= early && there <= late) &&
          warn("Not then by this device’s clock: the state above may be wrong. Read the hours yourself."),
      ];
    }
    const turn = doors.open.flat().find((second) => second > at && second < doors.known_to_s);
    const shuts = doors.open.some(([from, to]) => at >= from && at < to);
    const turns = turn !== undefined && clock(turn);
    const told = turns && (turns.slice(0, 10) === when.slice(0, 10) ? F.time(turns) : F.when(turns));
    return [
      el(
        "p.ahead-state",
        {},
        `If you ride on now, there about ${F.when(when)}: `,
        G.badge({ state }),
        turns && `, ${shuts ? "shuts" : "opens"} ${told}`,
      ),
      el("p.quiet", {}, `Planned: ${F.when(eta)}.`),
    ];
  }

  function unknownAhead(chainage, stop) {
    const until = stop ? stop.chainage_m : R.length;
    const dark = ((R.plan.coverage || {}).unknown || []).filter((s) => s.end_m > chainage && s.start_m < until);
    return (
      dark.length > 0 &&
      warn(`No map data from ${F.at(dark[0].start_m)} to ${F.at(dark[0].end_m)}: there may be shops, or none.`)
    );
  }

  R.road = Q;
})(window.Resupply);
