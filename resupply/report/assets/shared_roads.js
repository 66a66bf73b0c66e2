// Where a route comes by again: the roads that several days ride, to be drawn side by side.
"use strict";
(function (R) {
  const L = window.L;
  const STEP_M = 60; // more on long routes, whose lines are coarser
  const MOST_STEPS = 20_000;
  const AGAIN_M = 1500; // nearer along the road it is a bend
  const ASIDE_PX = 3;

  // For each point of the line the chainages of the other times it comes by there; null if none.
  R.againAt = ({ lon, lat, chainage_m: chain, parts }) => {
    const step = Math.max(STEP_M, (chain.at(-1) - chain[0]) / MOST_STEPS);
    // Lines thinned out and back lie some way from each other.
    const apart = 1.2 * step;
    const wide = 111_320 * Math.cos((lat[0] * Math.PI) / 180);
    const spot = (i, j, t) => [(lon[i] + t * (lon[j] - lon[i])) * wide, (lat[i] + t * (lat[j] - lat[i])) * 111_320];
    const cell = (x, y) => Math.floor(x / apart) * 4_000_000 + Math.floor(y / apart);
    const cells = new Map();
    const starts = new Set(parts);
    for (let i = 1; i < chain.length; i++) {
      if (starts.has(i)) continue;
      const steps = Math.max(1, Math.ceil((chain[i] - chain[i - 1]) / step));
      for (let n = 1; n <= steps; n++) {
        const [x, y] = spot(i - 1, i, n / steps);
        const row = [x, y, chain[i - 1] + (n / steps) * (chain[i] - chain[i - 1])];
        const key = cell(x, y);
        if (cells.has(key)) cells.get(key).push(row);
        else cells.set(key, [row]);
      }
    }
    return Array.from(chain, (at, i) => {
      const [x, y] = spot(i, i, 0);
      const found = [];
      for (const dx of [-apart, 0, apart])
        for (const dy of [-apart, 0, apart])
          for (const [u, v, other] of cells.get(cell(x + dx, y + dy)) || [])
            if (Math.abs(other - at) > AGAIN_M && Math.hypot(u - x, v - y) < apart) found.push(other);
      return found.length ? found : null;
    });
  };

  // A day's line, moved to the right of its own direction where another day rides the same road.
  // Its points name their place in the line as their third value.
  /** @type {any} */
  R.DayLine = L.Polyline.extend({
    _projectLatlngs(latlngs, result, bounds) {
      L.Polyline.prototype["_projectLatlngs"].call(this, latlngs, result, bounds);
      const { start_m: from, end_m: to } = this.options.leg;
      const ring = result.at(-1);
      const shared = latlngs.map(({ alt }) => (R.line.again[alt] || []).some((at) => at < from || at > to));
      result[result.length - 1] = ring.map((point, i) => {
        const [a, b] = [ring[Math.max(0, i - 1)], ring[Math.min(ring.length - 1, i + 1)]];
        const far = a.distanceTo(b);
        if (!far || !shared[i] || !(shared[i - 1] || shared[i + 1])) return point;
        return L.point(point.x - ((b.y - a.y) / far) * ASIDE_PX, point.y + ((b.x - a.x) / far) * ASIDE_PX);
      });
    },
  });
})(window.Resupply);
