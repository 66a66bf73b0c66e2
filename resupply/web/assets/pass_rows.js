// The passes of a step of a drag come in columns; here they become rows as a whole plan has them.
"use strict";
(function (R) {
  // `along`: what is the same for every plan on this map. `now`: what this plan has for the passes ahead.
  // `used`: rows of the passes it uses, which tell more.
  R.passRows = (along, now, used) => {
    const told = new Map(used.map((one) => [one.id, one]));
    const row = (ix, k) => {
      const id = `p${ix}`;
      const walk_m = along.walk_m[ix];
      return (
        told.get(id) || {
          id,
          place: along.place[ix],
          chainage_m: along.chainage_m[ix],
          offset_m: along.offset_m[ix],
          side: along.side[ix],
          leg: now.leg[k],
          eta: now.eta[k],
          state: along.states[now.state[k]],
          detour_m: now.detour_m[k],
          detour_s: now.detour_s[k],
          ...(walk_m === null ? {} : { walk_m }),
          role: "other",
        }
      );
    };
    return now.rows ? now.rows.map(row) : now.leg.map((_, ix) => row(ix, ix));
  };
})(window.Resupply);
