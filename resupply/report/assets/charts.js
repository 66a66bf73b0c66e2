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

  C.cooler = (cooler) => C.fitted((width) => drawCooler(cooler, width), `${cooler.name}: temperature by hour. ${F.words(cooler.words)}`);

  function drawCooler(cooler, width) {
    const trace = cooler.trace;
    const [left, right, top, mid, iceTop, height] = [40, 8, 14, 150, 172, 250];
    const from = Date.parse(trace[0].t);
    const to = Date.parse(trace.at(-1).t);
    const x = (t) => round(left + ((Date.parse(t) - from) / (to - from || 1)) * (width - left - right));
    const most = Math.max(cooler.limit_c * 2, ...trace.map((p) => Math.max(p.temp_c, p.ambient_c ?? -99))) * 1.04;
    const least = Math.min(0, ...trace.map((p) => p.temp_c));
    const y = (c) => round(mid - ((c - least) / (most - least)) * (mid - top));
    const ice = Math.max(0.5, ...trace.map((p) => p.ice_kg)) * 1.1;
    const yIce = (kg) => round(height - 22 - (kg / ice) * (height - 22 - iceTop));
    const limit = y(cooler.limit_c);
    const root = svg("svg.cooler-chart", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    root.append(svg("rect.too-warm", { x: left, y: top, width: width - left - right, height: Math.max(0, limit - top) }));
    for (const leg of R.plan.legs) {
      const at = Date.parse(`${leg.date}T00:00:00${leg.depart.slice(19)}`);
      if (at <= from || at >= to) continue;
      const px = round(left + ((at - from) / (to - from)) * (width - left - right));
      root.append(svg("line.midnight", { x1: px, x2: px, y1: top, y2: height - 20 }));
    }
    const step = Math.max(1, Math.round(86400e3 / Math.max(1, to - from) * 0 + (to - from) / 86400e3 / (width / 70)));
    R.plan.legs.forEach((leg, i) => {
      if (i % step) return;
      const px = x(leg.depart);
      if (px < width - 34) root.append(svg("text.scale-text", { x: px, y: height - 5 }, F.date(leg.date).replace(/ \w+$/, "")));
    });
    for (const c of ticks(least, most)) root.append(svg("text.scale-text", { x: left - 6, y: y(c.celsius) + 4, "text-anchor": "end" }, c.text));
    if (trace.every((p) => p.ambient_c !== null && p.ambient_c !== undefined)) root.append(svg("path.ambient-line", { d: path(trace, (p) => x(p.t), (p) => y(p.ambient_c)) }));
    root.append(svg("line.limit", { x1: left, x2: width - right, y1: limit, y2: limit }));
    root.append(svg("text.limit-text", { x: left + 5, y: limit - 5 }, `safe limit ${F.temp(cooler.limit_c)}`));
    root.append(svg("path.temp-line", { d: path(trace, (p) => x(p.t), (p) => y(p.temp_c)) }));
    root.append(svg("path.ice-area", { d: `${path(trace, (p) => x(p.t), (p) => yIce(p.ice_kg))}L${x(trace.at(-1).t)} ${height - 22}L${x(trace[0].t)} ${height - 22}z` }));
    root.append(svg("text.scale-text", { x: left + 5, y: iceTop - 4 }, "ice left"), svg("text.scale-text", { x: left - 6, y: iceTop + 8, "text-anchor": "end" }, F.mass(ice / 1.1)));
    for (const buy of cooler.purchases || []) {
      const px = x(buy.at);
      root.append(svg("line.buy-line", { x1: px, x2: px, y1: top, y2: height - 22 }), svg("path.buy-mark", { d: `M${px - 6} ${top - 10}h12l-6 10z` }));
    }
    return root;
  }

  function ticks(least, most) {
    const [low, high] = [F.inTemp(least), F.inTemp(most)];
    const step = [5, 10, 20, 50].find((s) => (high - low) / s <= 5) || 50;
    const out = [];
    for (let v = Math.ceil(low / step) * step; v <= high; v += step) {
      const share = (v - low) / (high - low);
      out.push({ celsius: least + share * (most - least), text: `${v}°` });
    }
    return out;
  }
  const path = (rows, fx, fy) => `M${rows.map((row) => `${fx(row)} ${fy(row)}`).join("L")}`;

  // Daily distance against the most food carried (bars) and the extra minutes (line).
  C.sweep = (rows, choose) => {
    const words = rows.filter((row) => row.best.length).map((row) => `${F.distance(row.daily_m)}: ${row.best.join(", ")}`).join("; ");
    return C.fitted((width) => drawSweep(rows, width, choose), `Daily distance compared. ${words}`);
  };

  function drawSweep(rows, width, choose) {
    const [left, right, top, base, height] = [34, 42, 22, 168, 206];
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
      const group = svg(`g.sweep-bar${tone}${row.chosen ? ".chosen" : ""}`, { onclick: choose ? () => choose(row) : null },
        svg("title", {}, `${F.distance(row.daily_m)} a day: ${F.days(row.max_carry_days)} of food at most, ${F.hours(row.extra_s)} extra`),
        svg("rect.sweep-touch", { x: round(left + i * slot), y: top, width: round(slot), height: base - top }),
        svg("rect.sweep-fill", { x: round(x(i) - slot * 0.34), y: y(row.max_carry_days), width: round(slot * 0.68), height: round(base - y(row.max_carry_days)) }));
      if (row.best.length) group.append(svg("path.best-mark", { d: `M${x(i)} ${base + 4}l5 7h-10z` }));
      if (row.chosen) group.append(svg("path.chosen-mark", { d: `M${round(x(i) - slot * 0.46)} ${y(row.max_carry_days) - 4}h${round(slot * 0.92)}` }));
      root.append(group);
      const every = Math.ceil(58 / slot);
      if (i % every === 0) root.append(svg("text.scale-text", { x: x(i), y: height - 14, "text-anchor": "middle" }, F.number(F.inUnits(row.daily_m), 0)));
    });
    root.append(svg("line.limit", { x1: left, x2: width - right, y1: y(limit), y2: y(limit) }));
    root.append(svg("path.extra-line", { d: path(rows.map((row, i) => ({ row, i })), (p) => x(p.i), (p) => yMin(p.row.extra_s / 60)) }));
    for (let d = 1; d <= most; d++) root.append(svg("text.scale-text", { x: left - 7, y: y(d) + 4, "text-anchor": "end" }, d));
    const unit = minutes > 90 ? 60 : 30;
    for (let m = unit; m <= minutes; m += unit) root.append(svg("text.scale-text", { x: width - right + 6, y: yMin(m) + 4 }, `${m}'`));
    root.append(
      svg("text.scale-text", { x: 0, y: 11 }, "days of food carried (bars)"),
      svg("text.scale-text", { x: width, y: 11, "text-anchor": "end" }, "extra minutes (line)"),
      svg("text.scale-text", { x: width / 2, y: height - 1, "text-anchor": "middle" }, `${F.distanceUnit()} a day`));
    return root;
  }

  R.charts = C;
})(window.Resupply);
