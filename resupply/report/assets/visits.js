// Every planned visit of the trip in riding order: food, ice, fuel, water, a meal out, the nights.
// Gathered from the plan's own blocks; one place visited for two things is one visit.
"use strict";
(function (R) {
  const G = R.glyphs;
  let made = null;
  let madeOf = null;

  // `kind` is what it is foremost for, `also` what else is done there.
  R.visits = () => {
    if (madeOf !== R.plan) [made, madeOf] = [gather(R.plan), R.plan];
    return made;
  };

  function gather(plan) {
    const byPass = new Map();
    const out = [];
    const add = (visit) => {
      const known = visit.pass && byPass.get(visit.pass);
      if (known) {
        known.also.push(visit.kind);
        for (const what of ["ice", "fuel", "water"]) known[what] ??= visit[what];
      } else {
        out.push(visit);
        if (visit.pass) byPass.set(visit.pass, visit);
      }
    };
    const of = (kind, row, more) => {
      const crossing = R.passById.get(row.pass);
      if (!crossing) return;
      add({
        kind,
        also: [],
        pass: row.pass,
        leg: row.leg ?? crossing.leg,
        chainage_m: row.chainage_m ?? crossing.chainage_m,
        at: R.draw.placeAt(R.place(crossing.place), crossing),
        name: R.placeName(crossing.place),
        when: row.arrive || row.eta || crossing.eta,
        state: row.state || crossing.state,
        ...more,
      });
    };
    for (const stop of plan.stops || []) of("food", stop, { stop });
    const atStop = (row) => row.at_stop && (plan.stops || [])[row.at_stop - 1];
    const ice = ((plan.ice || {}).stops || []).filter((row) => !row.buy || row.buy.length);
    for (const row of ice) of("ice", atStop(row) ? { ...row, pass: atStop(row).pass } : row, { ice: row });
    for (const row of (plan.fuel || {}).stops || [])
      of("fuel", atStop(row) ? { ...row, pass: atStop(row).pass } : row, { fuel: row });
    for (const row of (plan.water || {}).gaps || []) of("water", row, { water: row });
    for (const row of plan.eat_out || []) eaten(row, of, byPass);
    plan.legs.slice(0, -1).forEach((leg) => add(night(leg)));
    return out.sort((a, b) => a.chainage_m - b.chainage_m);
  }

  // A meal takes its own time, also where something else is bought on the way.
  function eaten(row, of, byPass) {
    byPass.delete(row.pass);
    of("meal_out", { pass: row.pass, leg: row.day, eta: row.at, state: row.state }, { meal: row });
  }

  function night(leg) {
    const told = leg.night || {};
    const known = told.place && (R.plan.places || {})[told.place];
    const here = R.positionAt(leg.end_m);
    return {
      kind: "camp",
      also: [],
      leg: leg.number,
      chainage_m: leg.end_m,
      at: known ? [known.lat, R.draw.lonNear(known.lon, here[1])] : here,
      name: told.name || "Night",
      when: leg.arrive,
      state: "open",
      bare: told.kind !== "camp",
      night: leg,
    };
  }

  R.visitWords = (visit) => [visit.kind, ...visit.also].map((kind) => G.pins[kind].word.toLowerCase()).join(", ");
  R.visitOf = (pass) => R.visits().find((visit) => visit.pass === pass) || null;
})(window.Resupply);
