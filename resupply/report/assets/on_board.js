// What is on board by what was ticked off, and how far the rider is from the plan's time. Only looked
// up and subtracted: meals, ice and fuel are the plan's own steps, without those that did not come
// about. `found` is what was ticked: sets of place ids (`shut`, `no_ice`, `bought`, `filled`) and of
// meals.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const B = {};
  // Nearer than that the rider is at the place, and the time decides what is behind (our choice).
  const NEAR_M = 1000;
  // Water so near to a camp is fetched there: as `supply/water.py` has it.
  const AT_CAMP_M = 500;
  const seconds = (iso) => Date.parse(iso) / 1000;

  // Whether something that the plan does at a place and time is behind the rider.
  B.isDone = (at_m, at_s, chainage, now_s) =>
    at_m < chainage - NEAR_M || (at_m <= chainage + NEAR_M && (at_s === undefined || at_s <= now_s));

  B.mealKey = (meal) => `${meal.when.slice(0, 10)} ${meal.kind}`;

  // Meals each on board now, and the meal before which they run out. `assumed` are stops passed
  // that nobody ticked: they count as bought as planned, and the page says so.
  B.food = (plan, chainage, now_s, found) => {
    const profile = plan.carry_profile || [];
    if (!profile.length) return null;
    const spare = plan.spare ? plan.spare.meals : 0;
    const stopOf = (step) => (step.stop ? plan.stops[step.stop - 1] : null);
    const eaten = eatenAhead(plan, chainage, now_s, found);
    const assumed = [];
    const ahead = [];
    let meals = profile[0].meals;
    for (const step of profile.slice(1)) {
      const stop = stopOf(step);
      if (stop && found.shut.has(stop.place)) continue;
      const done = B.isDone(stop ? stop.chainage_m : step.chainage_m, step.at_s, chainage, now_s);
      if (stop && (done || found.bought.has(stop.place))) {
        if (!found.bought.has(stop.place)) assumed.push(stop);
        meals = Math.max(meals, stop.carry_meals + spare);
      } else if (!stop && done) meals = Math.max(meals - 1, 0);
      else ahead.push(step);
    }
    meals = Math.max(meals - eaten.size, 0);
    let left = meals;
    let out = null;
    for (const step of ahead) {
      if (step.stop) return { meals, assumed, next: stopOf(step), out };
      if (eaten.delete(step.at_s)) continue;
      if (left > 0) left -= 1;
      else out ??= step;
    }
    return { meals, assumed, next: null, out };
  };

  // Meals ticked as eaten before the plan eats them, by their time.
  function eatenAhead(plan, chainage, now_s, found) {
    const meals = plan.menu ? plan.menu.days.flatMap((day) => day.meals) : [];
    const profile = new Map((plan.carry_profile || []).map((step) => [step.at_s, step]));
    const early = new Set();
    for (const meal of meals) {
      const at_s = Math.round(seconds(meal.when));
      const step = profile.get(at_s);
      if (step && found.eaten.has(B.mealKey(meal)) && !B.isDone(step.chainage_m, at_s, chainage, now_s))
        early.add(at_s);
    }
    return early;
  }

  // Ice in the cooler for food, kg, and when it is gone; null where the plan does not know it.
  B.ice = (plan, chainage, now_s, found) => {
    const cooler = ((plan.cold || {}).coolers || []).find((one) => one.name === "food");
    if (!cooler || !cooler.trace.length) return null;
    const missing = ((plan.ice || {}).stops || [])
      .filter((row) => {
        const pass = plan.passes.find((one) => one.id === row.pass);
        const place = pass && pass.place;
        const gone = found.no_ice.has(place) || found.shut.has(place);
        return gone && B.isDone(row.chainage_m, seconds(row.eta), chainage, now_s);
      })
      .reduce((kg, row) => kg + (row.buy || []).reduce((sum, buy) => sum + (buy.cooler === "food" ? buy.kg : 0), 0), 0);
    const { trace } = cooler;
    const i = trace.findIndex((row) => seconds(row.t) > now_s) - 1;
    if (i < 0 || trace[i].ice_kg === null) return null;
    const kg = Math.max(trace[i].ice_kg - missing, 0);
    const empty = trace.slice(i).find((row) => row.ice_kg !== null && row.ice_kg - missing < 0.05);
    return { kg, gone: empty ? empty.t : null, missing };
  };

  // Metres that the fuel still goes, by the last filling that came about; null if not known.
  B.fuel = (plan, chainage, now_s, found) => {
    const { fuel } = plan;
    if (!fuel) return null;
    let [from, has] = [plan.legs[0].start_m, fuel.tank_m];
    let last = null;
    for (const stop of fuel.stops) {
      const pass = plan.passes.find((one) => one.id === stop.pass);
      const place = pass ? pass.place : null;
      const done = found.bought.has(place) || B.isDone(stop.chainage_m, seconds(stop.eta), chainage, now_s);
      if (done && !found.shut.has(place)) [from, has, last] = [stop.chainage_m, fuel.range_m, stop];
    }
    if (has === null || has === undefined) return null;
    const next = fuel.stops.find((stop) => stop.chainage_m > chainage + 50 && stop !== last) || null;
    return { left_m: Math.max(has - Math.max(chainage - from, 0), 0), last, next };
  };

  // Litres of water left for all by the last filling that came about, and those needed to the next
  // known place with water; `litres` is null where the plan was not told what is on board. `tonight`
  // is what the camp at hand takes of it. Of a place that the plan does not fill up at, and that was
  // ticked, it is taken that as much was filled as is needed to the next.
  B.water = (plan, chainage, now_s, found) => {
    const { fills, litres_by_day: days, on_board: stated } = plan.water || {};
    if (!fills || !fills.length) return null;
    const route_end = plan.legs.at(-1).end_m;
    const passOf = new Map(plan.passes.map((one) => [one.id, one]));
    const planned = fills.map((row) => {
      const pass = passOf.get(row.pass);
      return { ...row, place: pass ? pass.place : null, at_s: pass && seconds(pass.eta) };
    });
    const there = planned.filter((row) => !found.shut.has(row.place) || found.filled.has(row.place));
    const done = there.filter((row) => row.place === null || B.isDone(row.start_m, row.at_s, chainage, now_s));
    const nextAfter = (at_m) => there.find((row) => row.start_m > at_m + 50) || null;
    const ends = (row) => (row ? row.start_m : route_end);
    const dayOf = (leg) => days.find((one) => one.leg === leg.number);
    const road = (from_m, to_m) =>
      plan.legs.reduce((litres, leg) => {
        const part = Math.min(to_m, leg.end_m) - Math.max(from_m, leg.start_m);
        return part > 0 ? litres + (dayOf(leg).road_l * part) / (leg.end_m - leg.start_m) : litres;
      }, 0);
    // Camps without water near: those are not carried for that have it (supply/water.py).
    const camps = (from_m, to_m) =>
      plan.legs.slice(0, -1).filter((leg) => leg.end_m > from_m + AT_CAMP_M && leg.end_m < to_m - AT_CAMP_M);
    const sum = (legs) => legs.reduce((litres, leg) => litres + dayOf(leg).camp_l, 0);
    const needed = (from_m, to_m) => road(from_m, to_m) + sum(camps(from_m, to_m));

    let last = done.at(-1);
    for (const place of found.filled)
      for (const pass of plan.passes)
        if (pass.place === place && pass.chainage_m <= chainage + NEAR_M && pass.chainage_m > last.start_m + 50)
          last = { pass: pass.id, place, start_m: pass.chainage_m, litres: null };
    const to = Math.max(chainage, last.start_m);
    const next = nextAfter(to);
    if (last.pass !== null && last.litres === null) last.litres = needed(last.start_m, ends(nextAfter(last.start_m)));
    const has = last.pass === null && stated ? stated.litres : last.litres;
    const gone = (leg) => B.isDone(leg.end_m, seconds(plan.legs[plan.legs.indexOf(leg) + 1].depart), chainage, now_s);
    const nights = camps(last.start_m, ends(next));
    const used = road(last.start_m, to) + sum(nights.filter(gone));
    const here = nights.find((leg) => Math.abs(leg.end_m - chainage) <= NEAR_M && !gone(leg));
    return {
      litres: has === null ? null : Math.max(has - used, 0),
      needed: Math.max(road(to, ends(next)) + sum(nights.filter((leg) => !gone(leg))), 0),
      tonight: here ? dayOf(here).camp_l : 0,
      last,
      next,
      ticked: found.filled.has(last.place),
    };
  };

  // Seconds behind the plan at a place, below 0 ahead; in a halt or a night of the plan 0.
  B.behind = (legs, chainage, now_s) => {
    const K = R.lookup;
    const leg = legs.find((one) => chainage <= one.end_m + 0.5) || legs.at(-1);
    const next = legs[legs.indexOf(leg) + 1];
    const arrive =
      chainage <= legs[0].start_m + NEAR_M && leg === legs[0] ? -Infinity : K.at(leg.arrivals, chainage).arrive_s;
    const camp = next && chainage > leg.end_m - NEAR_M;
    const depart = camp ? next.arrivals.arrive_s[0] : K.at(leg.arrivals, chainage, true).arrive_s;
    if (leg === legs.at(-1) && chainage > leg.end_m - NEAR_M && now_s >= arrive) return 0;
    return now_s > depart ? now_s - depart : now_s < arrive ? now_s - arrive : 0;
  };

  R.board = B;
})(globalThis.Resupply);
