// Two charts: a cooler's temperature and ice by the hour, and the choice of daily distance.
// Both have their numbers in a table or in words beside them.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const C = {};
  const round = (value) => Math.round(value * 10) / 10;

  // Charts are drawn at the width they get, so that text keeps its size on a phone.
  C.fitted = (draw, label) => {
    const box = el("div.chart", { role: "img", "aria-label": label });
    let width = 0;
    const observer = new ResizeObserver(() => {
      const now = Math.floor(box.clientWidth);
      if (now < 50 || now === width) return;
      width = now;
      R.fill(box, draw(now));
    });
    observer.observe(box);
    return box;
  };

  C.cooler = (cooler) =>
    C.fitted((width) => drawCooler(cooler, width), `${cooler.name}: temperature by hour. ${F.words(cooler.words)}`);

  // Hours whose weather is not known have no temperature: the line stops and the ground is
  // hatched there.
  function drawCooler(cooler, width) {
    const trace = cooler.trace;
    const [left, right, top, mid, iceTop, height] = [52, 8, 16, 156, 182, 262];
    const floor = height - 22;
    const from = Date.parse(trace[0].t);
    const to = Date.parse(trace.at(-1).t);
    const at = (t) => round(left + ((t - from) / (to - from || 1)) * (width - left - right));
    const x = (t) => at(Math.max(from, Math.min(to, Date.parse(t))));
    const known = trace.filter((p) => p.temp_c !== null);
    const outside = trace.map((p) => p.ambient_c).filter((c) => c !== null && c !== undefined);
    const most = Math.max(cooler.limit_c * 2.5, ...known.map((p) => p.temp_c), ...outside) * 1.04;
    const least = Math.min(0, ...known.map((p) => p.temp_c), ...outside);
    // Square root above zero: the few degrees around the limit get the room they need.
    const bend = (c) => Math.sign(c) * Math.sqrt(Math.abs(c));
    const y = (c) => round(mid - ((bend(c) - bend(least)) / (bend(most) - bend(least))) * (mid - top));
    const ice = Math.max(0.5, ...trace.map((p) => p.ice_kg || 0));
    const yIce = (kg) => round(floor - (kg / (ice * 1.1)) * (floor - iceTop));
    const limit = y(cooler.limit_c);
    const root = svg("svg.cooler-chart", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    // The limit matters only while something that spoils is inside.
    const needs = cooler.needs || [{ from: trace[0].t, to: trace.at(-1).t }];
    for (const need of needs)
      root.append(
        svg("rect.too-warm", {
          x: x(need.from),
          y: top,
          width: Math.max(1, round(x(need.to) - x(need.from))),
          height: Math.max(0, limit - top),
        }),
      );
    const needed = needs.map((need) => [Date.parse(need.from), Date.parse(need.to)]);
    // Of two samples at the start of a need the first is before the ice and the food went in.
    const before = (i) => i + 1 < trace.length && trace[i + 1].t === trace[i].t;
    const inNeed = (p, i) =>
      needed.some(
        ([a, b]) => Date.parse(p.t) >= a - 1 && Date.parse(p.t) <= b + 1 && !(Date.parse(p.t) === a && before(i)),
      );
    for (const [a, b] of runs(trace, (p) => p.temp_c === null)) {
      root.append(
        svg("rect.not-known", {
          x: x(trace[a].t),
          y: top,
          width: Math.max(2, x(trace[b].t) - x(trace[a].t)),
          height: floor - top,
        }),
        svg(
          "text.unknown-text",
          { x: (x(trace[a].t) + x(trace[b].t)) / 2, y: mid - 40, "text-anchor": "middle" },
          "not known",
        ),
      );
    }
    midnights(root, from, to, at, top, floor, width);
    for (const c of [0, 5, 10, 20, 30, 40].filter((v) => v >= least && v <= most)) {
      root.append(
        svg("text.scale-text", { x: left - 6, y: y(c) + 4, "text-anchor": "end" }, `${F.number(F.inTemp(c), 0)}°`),
      );
    }
    const line = (spec, key, fy) =>
      runs(trace, (p) => p[key] !== null && p[key] !== undefined).forEach(([a, b]) =>
        root.append(
          svg(spec, {
            d: path(
              trace.slice(a, b + 1),
              (p) => x(p.t),
              (p) => fy(p[key]),
            ),
          }),
        ),
      );
    line("path.ambient-line", "ambient_c", y);
    root.append(
      svg("line.limit", { x1: left, x2: width - right, y1: limit, y2: limit }),
      svg(
        "text.limit-text",
        { x: left + 5, y: limit - 5 },
        `${cooler.safety === false ? "wanted below" : "safe limit"} ${F.limit(cooler.limit_c)}`,
      ),
    );
    line("path.temp-idle", "temp_c", y);
    for (const [a, b] of runs(trace, (p, i) => p.temp_c !== null && inNeed(p, i)))
      root.append(
        svg("path.temp-line", {
          d: path(
            trace.slice(a, b + 1),
            (p) => x(p.t),
            (p) => y(p.temp_c),
          ),
        }),
      );
    for (const [a, b] of runs(trace, (p) => p.ice_kg !== null)) {
      root.append(
        svg("path.ice-area", {
          d: `${path(
            trace.slice(a, b + 1),
            (p) => x(p.t),
            (p) => yIce(p.ice_kg),
          )}L${x(trace[b].t)} ${floor}L${x(trace[a].t)} ${floor}z`,
        }),
      );
    }
    root.append(
      svg("text.scale-text", { x: left + 5, y: iceTop - 6 }, "ice left"),
      svg("text.scale-text", { x: left - 6, y: yIce(ice) + 4, "text-anchor": "end" }, F.mass(ice)),
    );
    for (const buy of cooler.purchases || []) {
      const px = x(buy.at);
      root.append(
        svg("line.buy-line", { x1: px, x2: px, y1: top, y2: floor }),
        svg("path.buy-mark", { d: `M${px - 6} ${top - 12}h12l-6 10z` }),
      );
    }
    return root;
  }

  // First and last index of each run of rows that hold; a run of one is kept.
  function runs(rows, holds) {
    const out = [];
    rows.forEach((row, i) => {
      if (!holds(row, i)) return;
      if (out.length && out.at(-1)[1] === i - 1) out.at(-1)[1] = i;
      else out.push([i, i]);
    });
    return out;
  }

  function midnights(root, from, to, at, top, floor, width) {
    const zone = (R.plan.legs[0].depart.match(/(Z|[+-]\d\d:\d\d)$/) || ["Z"])[0];
    const days = Math.ceil((to - from) / 86400e3);
    const every = Math.max(1, Math.ceil(days / (width / 74)));
    let midnight = Date.parse(`${R.plan.cold.coolers[0].trace[0].t.slice(0, 10)}T00:00:00${zone}`);
    for (let n = 0; midnight <= to; midnight += 86400e3, n++) {
      const px = at(Math.max(from, midnight));
      if (midnight > from) root.append(svg("line.midnight", { x1: px, x2: px, y1: top, y2: floor }));
      const day = new Date(midnight + 43200e3).toISOString();
      if (n % every === 0 && px < width - 40)
        root.append(svg("text.scale-text", { x: px + 2, y: floor + 16 }, F.date(day).replace(/ \w+$/, "")));
    }
  }
  const path = (rows, fx, fy) => `M${rows.map((row) => `${fx(row)} ${fy(row)}`).join("L")}`;

  // Daily distance against the most food carried (bars) and the extra minutes (line).
  C.sweep = (rows, choose) => {
    const words = rows
      .filter((row) => row.best.length)
      .map((row) => `${F.distance(row.daily_m)}: ${row.best.join(", ")}`)
      .join("; ");
    return C.fitted((width) => drawSweep(rows, width, choose), `Daily distance compared. ${words}`);
  };

  function drawSweep(rows, width, choose) {
    const [left, right, top, base, height] = [26, 52, 22, 168, 206];
    const limit = R.plan.trip.carry_limit_days || 3;
    const most = Math.max(limit, ...rows.map((r) => r.max_carry_days)) * 1.12;
    const minutes = Math.max(10, ...rows.map((r) => r.extra_s / 60)) * 1.12;
    const slot = (width - left - right) / rows.length;
    const x = (i) => round(left + (i + 0.5) * slot);
    const y = (days) => round(base - (days / most) * (base - top));
    const yMin = (m) => round(base - (m / minutes) * (base - top));
    const root = svg("svg.sweep-chart", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    rows.forEach((row, i) => {
      const tone = row.excess_meals > 0 ? ".over" : "";
      const group = svg(
        `g.sweep-bar${tone}${row.chosen ? ".chosen" : ""}`,
        { onclick: choose ? () => choose(row) : null },
        svg(
          "title",
          {},
          `${F.distance(row.daily_m)} a day: ${F.days(row.max_carry_days)} of food at most, ` +
            `${F.hours(row.extra_s)} extra`,
        ),
        svg("rect.sweep-touch", { x: round(left + i * slot), y: top, width: round(slot), height: base - top }),
        svg("rect.sweep-fill", {
          x: round(x(i) - slot * 0.34),
          y: y(row.max_carry_days),
          width: round(slot * 0.68),
          height: round(base - y(row.max_carry_days)),
        }),
      );
      if (row.best.length) group.append(svg("path.best-mark", { d: `M${x(i)} ${base + 4}l5 7h-10z` }));
      if (row.chosen)
        group.append(
          svg("path.chosen-mark", {
            d: `M${round(x(i) - slot * 0.46)} ${y(row.max_carry_days) - 4}h${round(slot * 0.92)}`,
          }),
        );
      root.append(group);
      const every = Math.ceil(58 / slot);
      if (i % every === 0)
        root.append(
          svg(
            "text.scale-text",
            { x: x(i), y: height - 14, "text-anchor": "middle" },
            F.number(F.inUnits(row.daily_m), 0),
          ),
        );
    });
    root.append(svg("line.limit", { x1: left, x2: width - right, y1: y(limit), y2: y(limit) }));
    root.append(
      svg("path.extra-line", {
        d: path(
          rows.map((row, i) => ({ row, i })),
          (p) => x(p.i),
          (p) => yMin(p.row.extra_s / 60),
        ),
      }),
    );
    for (let d = 1; d <= most; d++)
      root.append(svg("text.scale-text", { x: left - 7, y: y(d) + 4, "text-anchor": "end" }, d));
    const unit = minutes > 90 ? 60 : 30;
    for (let m = unit; m <= minutes; m += unit)
      root.append(svg("text.scale-text", { x: width - right + 6, y: yMin(m) + 4 }, `${m} min`));
    root.append(
      svg("text.scale-text", { x: 0, y: 11 }, "days of food carried (bars)"),
      svg("text.scale-text", { x: width, y: 11, "text-anchor": "end" }, "extra time (line)"),
      svg("text.scale-text", { x: width / 2, y: height - 1, "text-anchor": "middle" }, `${F.distanceUnit()} a day`),
    );
    return root;
  }

  R.charts = C;
})(window.Resupply);
