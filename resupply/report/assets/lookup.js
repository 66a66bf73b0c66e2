// What a rider on the road may read from the plan's tables: when they are where, and whether a
// door is open then. Nothing is worked out here that the planner has not: times and openings
// are UTC seconds, looked up. Tested with docs/open_doors.json, as the planner is.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const K = {};

  // Time at a chainage of a day, straight between the rows of its table. A halt stands there
  // twice: the first row is the arrival, the last (`past`) the departure.
  K.at = ({ chainage_m: chain, arrive_s: arrive, half_width_s: half }, chainage, past) => {
    const last = chain.length - 1;
    const meter = Math.min(Math.max(chainage, chain[0]), chain[last]);
    let i = chain.findIndex((m) => m >= meter);
    if (past) while (i < last && chain[i + 1] === meter) i += 1;
    if (i === 0 || chain[i] === meter) return { arrive_s: arrive[i], half_width_s: half[i] };
    const t = (meter - chain[i - 1]) / (chain[i] - chain[i - 1]);
    const between = (row) => row[i - 1] + t * (row[i] - row[i - 1]);
    return { arrive_s: between(arrive), half_width_s: between(half) };
  };

  // Seconds on the road from a place of a day to a place of the same or a later day, halts of the
  // plan included, nights left out.
  K.between = (legs, leg, chainage, ahead) => {
    const days = legs.filter((one) => one.number >= leg.number && one.start_m < ahead);
    return days.reduce(
      (sum, { arrivals }, i) =>
        sum + K.at(arrivals, ahead).arrive_s - (i ? arrivals.arrive_s[0] : K.at(arrivals, chainage, true).arrive_s),
      0,
    );
  };

  // How far off an arrival may be for a rider who is at a place now: what it grows by until then.
  K.doubt = (arrivals, chainage, ahead) =>
    arrivals.half_width_s[0] + K.at(arrivals, ahead).half_width_s - K.at(arrivals, chainage, true).half_width_s;

  // State of a door for a visit begun at a time, give or take the doubt.
  K.state = (doors, at, doubt) => {
    if (!doors || at < doors.known_from_s || at >= doors.known_to_s) return "unknown";
    const opening = doors.open.find(([opens, shuts]) => at >= opens && at < shuts);
    if (!opening) return "shut";
    const [from, to] = [at - doubt, at + doubt + doors.stay_s];
    if (from < doors.known_from_s || to > doors.known_to_s) return "unknown";
    if (from < opening[0] || to > opening[1]) return "tight";
    return doors.unless_holiday ? "open_unless_holiday" : "open";
  };

  R.lookup = K;
})(globalThis.Resupply);
