// Where a route comes by again: the roads that several days ride, to be drawn side by side.
"use strict";
(function (R) {
  const L = window.L;
  const STEP_M = 60; // more on long routes, whose lines are coarser
  const MOST_STEPS = 20_000;
  const AGAIN_M = 1500; // nearer along the road it is a bend
  const LANE_PX = 6; // a day's line and a hair of its casing
  const BUNDLE_PX = 18; // where more than four share a road their lines lie closer
  const REACH_PX = 9; // a line's direction is that over a few pixels, so that hairpins do not shake it
  const ALONG = 0.5; // cosine: a road that only crosses is no shared one

  // For each point of the line the other times it comes by there, each with its chainage and
  // whether it is ridden the same way; null if none.
  R.againAt = ({ lon, lat, chainage_m: chain, parts }) => {
    const step = Math.max(STEP_M, (chain.at(-1) - chain[0]) / MOST_STEPS);
    // Lines thinned out and back lie some way from each other.
    const apart = 1.2 * step;
    const wide = 111_320 * Math.cos((lat[0] * Math.PI) / 180);
    const spot = (i, j, t) => [(lon[i] + t * (lon[j] - lon[i])) * wide, (lat[i] + t * (lat[j] - lat[i])) * 111_320];
    const way = (i, j) => {
      const [a, b] = [spot(i, i, 0), spot(j, j, 0)];
      const far = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
      return [(b[0] - a[0]) / far, (b[1] - a[1]) / far];
    };
    const cell = (x, y) => Math.floor(x / apart) * 4_000_000 + Math.floor(y / apart);
    const cells = new Map();
    const starts = new Set(parts);
    for (let i = 1; i < chain.length; i++) {
      if (starts.has(i)) continue;
      const steps = Math.max(1, Math.ceil((chain[i] - chain[i - 1]) / step));
      const ahead = way(i - 1, i);
      for (let n = 1; n <= steps; n++) {
        const [x, y] = spot(i - 1, i, n / steps);
        const row = [x, y, chain[i - 1] + (n / steps) * (chain[i] - chain[i - 1]), ahead];
        const key = cell(x, y);
        if (cells.has(key)) cells.get(key).push(row);
        else cells.set(key, [row]);
      }
    }
    const last = chain.length - 1;
    return Array.from(chain, (at, i) => {
      const [x, y] = spot(i, i, 0);
      const near = [];
      for (const dx of [-apart, 0, apart])
        for (const dy of [-apart, 0, apart])
          for (const [u, v, other, ahead] of cells.get(cell(x + dx, y + dy)) || []) {
            const away = Math.hypot(u - x, v - y);
            if (Math.abs(other - at) > AGAIN_M && away < apart) near.push({ at: other, ahead, away });
          }
      if (!near.length) return null;
      const [mx, my] = way(
        i && !starts.has(i) ? i - 1 : i,
        i < last && (!starts.has(i + 1) || starts.has(i)) ? i + 1 : i,
      );
      const found = times(near)
        .map(({ at: chainage, ahead }) => ({ at: chainage, along: ahead[0] * mx + ahead[1] * my }))
        .filter(({ along }) => Math.abs(along) > ALONG)
        .map(({ at: chainage, along }) => ({ at: chainage, same: along > 0 }));
      return found.length ? found : null;
    });
  };

  // Of each time the route comes by the point that is nearest.
  function times(near) {
    const found = [];
    let before = -Infinity;
    for (const one of near.sort((a, b) => a.at - b.at)) {
      if (one.at - before > AGAIN_M) found.push(one);
      else if (one.away < found.at(-1).away) found[found.length - 1] = one;
      before = one.at;
    }
    return found;
  }

  // How many lanes to the right of its own direction day `leg` is drawn at a point at `chainage`
  // where the route comes by `again`: one lane per day, the days that ride as the first one does
  // on its right in their order, those against it on its left.
  R.laneOf = (leg, chainage, again, legs) => {
    if (!again) return 0;
    const dayAt = (m) => (legs.find((one) => m <= one.end_m) || legs.at(-1)).number;
    const byDay = new Map();
    const all = again.filter(({ at }) => at > legs[0].start_m).map((one) => ({ ...one, day: dayAt(one.at) }));
    all.push({ at: chainage, same: true, day: leg.number });
    for (const one of all.sort((a, b) => a.at - b.at)) if (!byDay.has(one.day)) byDay.set(one.day, one.same);
    if (byDay.size < 2) return 0;
    const first = all[0].same;
    const days = [...byDay];
    const lanes = [
      ...days.filter(([, same]) => same !== first).reverse(),
      ...days.filter(([, same]) => same === first),
    ].map(([day]) => day);
    const middle = (lanes.length - 1) / 2;
    const right = (lanes.indexOf(leg.number) - middle) * Math.min(1, BUNDLE_PX / LANE_PX / (2 * middle));
    return first ? right : -right;
  };

  // A day's line, moved aside where another day rides the same road, as far at every zoom.
  // Its points name their place in the line as their third value.
  /** @type {any} */
  R.DayLine = L.Polyline.extend({
    _projectLatlngs(latlngs, result, bounds) {
      L.Polyline.prototype["_projectLatlngs"].call(this, latlngs, result, bounds);
      const { leg, legs } = this.options;
      this.lanes ||= R.lanesOf(
        leg,
        latlngs.map(({ alt }) => alt),
        legs,
      );
      result[result.length - 1] = R.aside(result.at(-1), this.lanes).map(([x, y]) => L.point(x, y));
    },
  });

  // The lanes of points of a day's line that are named by their place in the line.
  R.lanesOf = (leg, places, legs) => places.map((i) => R.laneOf(leg, R.line.chainage_m[i], R.line.again[i], legs));

  // How wide the days' lines are together where most of them share a road: what lies under them
  // must be seen on both sides.
  R.bundlePx = (from, to) => {
    const { again, chainage_m: chain } = R.line;
    const { legs } = R.plan;
    let most = 0.5;
    for (let i = 0; i < chain.length; i++)
      if (again[i] && chain[i] >= from && chain[i] <= to)
        most = Math.max(most, Math.abs(R.laneOf(R.legAt(chain[i]), chain[i], again[i], legs)));
    return 2 * LANE_PX * most;
  };

  // Points of a line on the screen, each moved to the right by its lane.
  R.aside = (ring, lanes, lanePx = LANE_PX) => {
    const far = (i, by) => {
      let j = i;
      while (ring[j + by] && Math.hypot(ring[j].x - ring[i].x, ring[j].y - ring[i].y) < REACH_PX) j += by;
      return ring[j];
    };
    return ring.map((point, i) => {
      // A single point where days come near is a crossing.
      if (!lanes[i] || !(lanes[i - 1] || lanes[i + 1])) return [point.x, point.y];
      const [a, b] = [far(i, -1), far(i, 1)];
      const length = Math.hypot(b.x - a.x, b.y - a.y);
      if (!length) return [point.x, point.y];
      const by = (lanes[i] * lanePx) / length;
      return [point.x - (b.y - a.y) * by, point.y + (b.x - a.x) * by];
    });
  };
})(window.Resupply);
