// The rows of the distance strip. Each draws itself into a band of the picture:
// draw(group, x, top, height, range) with x(metres) giving the pixel.
"use strict";
(function (R) {
  const { svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = {};
  const within = (range, chainage) => chainage >= range[0] && chainage <= range[1];
  const meets = (range, from, to) => to > range[0] && from < range[1];
  const round = (value) => Math.round(value * 10) / 10;

  T.days = {
    title: "Days",
    height: 26,
    draw(group, x, top, height, range) {
      for (const leg of R.plan.legs) {
        if (!meets(range, leg.start_m, leg.end_m)) continue;
        const [a, b] = [x(Math.max(leg.start_m, range[0])), x(Math.min(leg.end_m, range[1]))];
        group.append(
          svg(`rect.day-band.${G.dayClass(leg.number)}`, {
            x: round(a + 1),
            y: top,
            width: round(Math.max(1, b - a - 2)),
            height,
            rx: 3,
          }),
        );
        // The mark of a rest before the day takes the first part of its room.
        const rested = leg.rest_days_before > 0 && a > x(range[0]);
        const from = rested ? a + 26 : a;
        const room = b - from;
        const long =
          room > 128
            ? `Day ${leg.number} · ${F.date(leg.date)}`
            : room > 52
              ? `Day ${leg.number}`
              : room > 16
                ? String(leg.number)
                : "";
        if (long)
          group.append(
            svg(
              "text.day-text",
              { x: round((from + b) / 2), y: top + height / 2 + 4.5, "text-anchor": "middle" },
              long,
            ),
          );
        if (rested) {
          const middle = round(long ? a + 17 : (a + b) / 2);
          group.append(
            svg("circle.rest-mark", { cx: middle, cy: top + height / 2, r: 9 }),
            svg(
              "text.rest-text",
              { x: middle, y: top + height / 2 + 4, "text-anchor": "middle" },
              `+${leg.rest_days_before}`,
            ),
          );
        }
      }
    },
  };

  T.shops = {
    title: "Shops",
    height: 46,
    draw(group, x, top, height, range) {
      const rail = top + height - 9;
      group.append(svg("line.rail", { x1: x(range[0]), x2: x(range[1]), y1: rail, y2: rail }));
      const crossings = (R.plan.passes || []).filter(
        (c) => within(range, c.chainage_m) && G.isShop(R.place(c.place)) && !R.stopByPass.has(c.id),
      );
      // More signs than fit become bars of how many; what each is shows on the map and by day.
      if (crossings.length > (x(range[1]) - x(range[0])) / 15) {
        const bins = new Map();
        for (const crossing of crossings) {
          const bin = Math.floor(x(crossing.chainage_m) / 4) * 4;
          bins.set(bin, (bins.get(bin) || 0) + 1);
        }
        for (const [bin, count] of bins) {
          const tall = Math.min(16, 3 + 1.5 * count);
          group.append(svg("rect.pass-bar", { x: bin, width: 3, y: rail - tall + 7, height: tall }));
        }
      } else {
        for (const crossing of crossings) {
          const sign = G.stateGlyph(G.state(crossing), 12);
          sign.setAttribute("x", round(x(crossing.chainage_m) - 6));
          sign.setAttribute("y", rail - 6);
          group.append(sign);
        }
      }
      for (const stop of R.plan.stops || []) {
        if (!within(range, stop.chainage_m)) continue;
        const at = round(x(stop.chainage_m));
        group.append(
          svg(
            "g.strip-pin",
            { transform: `translate(${at} ${top})` },
            svg("path", { d: `M-11 1h22v20h-7l-4 ${height - 31}l-4 ${31 - height}h-7z` }),
            svg("text", { x: 0, y: 16, "text-anchor": "middle" }, stop.number),
          ),
        );
      }
    },
  };

  T.gaps = {
    title: "Gaps",
    height: 22,
    draw(group, x, top, height, range) {
      /** @type {Partial<SupplyGaps>} */
      const gaps = (R.plan.gaps || {}).groceries || {};
      const middle = top + height / 2;
      // Another plan for the way has its longest stretch alone: the list is of the plan as made.
      for (const gap of (R.pocket && R.pocket.current ? [] : gaps.all) || []) {
        if (meets(range, gap.start_m, gap.end_m)) bar(group, x, range, gap, middle - 3, 6, "rect.gap-bar");
      }
      if (gaps.longest && meets(range, gaps.longest.start_m, gaps.longest.end_m)) {
        const [a, b] = bar(group, x, range, gaps.longest, top + 1, height - 2, "rect.gap-bar.gap-longest");
        const text =
          b - a > 190
            ? `longest: ${F.distance(gaps.longest.length_m)}, ${F.days(gaps.longest.days)}`
            : b - a > 64
              ? F.distance(gaps.longest.length_m)
              : "";
        if (text)
          group.append(svg("text.gap-text", { x: round((a + b) / 2), y: middle + 4.5, "text-anchor": "middle" }, text));
      }
    },
  };
  function bar(group, x, range, gap, y, height, spec) {
    const [a, b] = [x(Math.max(gap.start_m, range[0])), x(Math.min(gap.end_m, range[1]))];
    group.append(svg(spec, { x: round(a + 1.5), y, width: round(Math.max(1, b - a - 3)), height, rx: 2 }));
    return [a, b];
  }

  T.food = {
    title: "Food",
    height: 64,
    present: () => (R.plan.carry_profile || []).length > 1,
    draw(group, x, top, height, range) {
      const profile = R.plan.carry_profile;
      const perDay = R.mealsPerDay();
      const limit = (R.plan.trip.carry_limit_days || 3) * perDay;
      const most = Math.max(limit, ...profile.map((p) => p.meals)) * 1.08;
      const y = (meals) => top + height - (meals / most) * height;
      const limitY = round(y(limit));
      // Of what is behind a rider under way nothing is told.
      const from = Math.max(range[0], profile[0].chainage_m);
      const points = [[x(from), y(T.valueAt(profile, from, "meals"))]];
      for (const p of profile) {
        if (!within(range, p.chainage_m)) continue;
        points.push([x(p.chainage_m), points.at(-1)[1]], [x(p.chainage_m), y(p.meals)]);
      }
      points.push([x(range[1]), points.at(-1)[1]]);
      const line = points.map(([px, py]) => `${round(px)} ${round(py)}`).join("L");
      group.append(
        svg("path.food-area", {
          d: `M${line}L${round(x(range[1]))} ${top + height}L${round(x(from))} ${top + height}z`,
        }),
      );
      group.append(svg("path.food-line", { d: `M${line}` }));
      group.append(svg("line.limit", { x1: x(range[0]), x2: x(range[1]), y1: limitY, y2: limitY }));
      group.append(
        svg(
          "text.scale-text",
          { x: x(range[1]) - 3, y: limitY - 4, "text-anchor": "end" },
          `limit ${F.days(R.plan.trip.carry_limit_days || 3)}`,
        ),
      );
    },
  };
  T.valueAt = (profile, chainage, key) => {
    let value = profile.length ? profile[0][key] : 0;
    for (const p of profile) {
      if (p.chainage_m > chainage) break;
      value = p[key];
    }
    return value;
  };

  // Cooler temperature is known by hour; the strip shows the hours food that spoils is inside
  // by kilometre. A night or a halt stands at one kilometre: its warmest hour is drawn there.
  let coolerShown = false;
  T.cooler = {
    title: "Cooler",
    height: 40,
    present: () =>
      R.partial
        ? coolerShown
        : (coolerShown = ((R.plan.cold || {}).coolers || []).some((cooler) => T.coolerByKm(cooler).length > 0)),
    draw(group, x, top, height, range) {
      if (R.partial) {
        group.append(
          svg("rect.pending", { x: x(range[0]), y: top, width: x(range[1]) - x(range[0]), height }),
          svg("text.scale-text", { x: x(range[0]) + 6, y: top + height / 2 + 4 }, "being worked out"),
        );
        return;
      }
      const cooler = R.plan.cold.coolers.find((c) => T.coolerByKm(c).length > 0);
      const spans = T.coolerByKm(cooler);
      const most = Math.max(cooler.limit_c * 2, ...spans.flat().map((p) => p.temp_c)) * 1.05;
      const y = (c) => round(top + height - 2 - (Math.max(0, c) / most) * (height - 2));
      const limitY = y(cooler.limit_c);
      for (const span of spans) {
        const inside = span.filter((p) => within(range, p.chainage_m));
        if (!inside.length) continue;
        const [a, b] = [x(inside[0].chainage_m), x(inside.at(-1).chainage_m)];
        group.append(
          svg("rect.too-warm", {
            x: round(a),
            y: top,
            width: round(Math.max(2, b - a)),
            height: Math.max(0, limitY - top),
          }),
        );
        group.append(
          svg("path.temp-line", { d: `M${inside.map((p) => `${round(x(p.chainage_m))} ${y(p.temp_c)}`).join("L")}` }),
        );
      }
      group.append(svg("line.limit", { x1: x(range[0]), x2: x(range[1]), y1: limitY, y2: limitY }));
      group.append(
        svg("text.scale-text", { x: x(range[1]) - 3, y: limitY - 4, "text-anchor": "end" }, F.limit(cooler.limit_c)),
      );
    },
  };

  // Known hours with food that spoils inside, as runs of { chainage_m, temp_c }.
  const byKm = new WeakMap();
  T.coolerByKm = (cooler) => {
    if (!byKm.has(cooler)) byKm.set(cooler, spansByKm(cooler));
    return byKm.get(cooler);
  };
  function spansByKm(cooler) {
    const rides = R.plan.legs.map((leg) => ({ from: Date.parse(leg.depart), to: Date.parse(leg.arrive), leg }));
    const at = (t) => {
      const ride = rides.findLast((one) => t >= one.from) || rides[0];
      const share = Math.max(0, Math.min(1, (t - ride.from) / (ride.to - ride.from || 1)));
      return ride.leg.start_m + share * ride.leg.length_m;
    };
    const needs = (cooler.needs || [{ from: R.plan.legs[0].depart, to: R.plan.legs.at(-1).arrive }]).map((need) => [
      Date.parse(need.from),
      Date.parse(need.to),
    ]);
    // Of two samples at the start of a need the first is before the ice and the food went in.
    return needs
      .map(([from, to]) =>
        (cooler.trace || [])
          .filter(
            (p, i, all) =>
              p.temp_c !== null &&
              Date.parse(p.t) >= from &&
              Date.parse(p.t) <= to &&
              !(Date.parse(p.t) === from && all[i + 1] && all[i + 1].t === p.t),
          )
          .map((p) => ({ chainage_m: at(Date.parse(p.t)), temp_c: p.temp_c })),
      )
      .filter((span) => span.length > 0);
  }

  T.height = {
    title: "Height",
    height: 40,
    present: () => Boolean(R.line.ele_m && R.line.ele_m.some((e) => e !== null)),
    draw(group, x, top, height, range) {
      const { chainage_m: chain, ele_m: ele } = R.line;
      const seen = ele.filter((e) => e !== null);
      const [low, high] = [seen.reduce((a, b) => Math.min(a, b)), seen.reduce((a, b) => Math.max(a, b))];
      const y = (e) => round(top + height - 3 - ((e - low) / (high - low || 1)) * (height - 8));
      const first = R.before(chain, range[0]);
      const last = Math.min(chain.length - 1, R.before(chain, range[1]) + 1);
      const step = Math.max(1, Math.floor((last - first) / 900));
      let d = "";
      let open = false;
      for (let i = first; i <= last; i += step) {
        if (ele[i] === null) {
          open = false;
          continue;
        }
        d += `${open ? "L" : "M"}${round(Math.max(x(range[0]), Math.min(x(range[1]), x(chain[i]))))} ${y(ele[i])}`;
        open = true;
      }
      group.append(svg("path.height-line", { d }));
      group.append(
        svg(
          "text.scale-text",
          { x: x(range[1]) - 3, y: top + 9, "text-anchor": "end" },
          `${F.heightOf(low)} to ${F.heightOf(high)}`,
        ),
      );
    },
  };

  // Stretches without map data are hatched through every row.
  T.unknown = (group, x, top, bottom, range) => {
    for (const stretch of (R.plan.coverage || {}).unknown || []) {
      if (!meets(range, stretch.start_m, stretch.end_m)) continue;
      const [a, b] = [x(Math.max(stretch.start_m, range[0])), x(Math.min(stretch.end_m, range[1]))];
      group.append(
        svg("rect.unknown-hatch", { x: round(a), y: top, width: round(Math.max(2, b - a)), height: bottom - top }),
      );
      if (b - a > 74)
        group.append(
          svg("text.unknown-text", { x: round((a + b) / 2), y: bottom - 4, "text-anchor": "middle" }, "no map data"),
        );
    }
  };

  T.all = [T.days, T.shops, T.gaps, T.food, T.cooler, T.height];
  // The rows one below the other, on one scale of distance.
  const LEFT = 52;
  const RIGHT = 10;
  T.picture = (width, range, hatchId, wanted = T.all) => {
    const tracks = wanted.filter((track) => !track.present || track.present());
    const gap = 7;
    const axis = 22;
    const height = tracks.reduce((sum, track) => sum + track.height + gap, 0) + axis;
    const x = (chainage) => LEFT + ((chainage - range[0]) / (range[1] - range[0] || 1)) * (width - LEFT - RIGHT);
    const root = svg(
      "svg.strip-picture",
      { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true", focusable: "false" },
      svg(
        "defs",
        {},
        svg(
          "pattern",
          { id: hatchId, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
          svg("rect.hatch-ground", { width: 7, height: 7 }),
          svg("rect.hatch-stroke", { width: 2.4, height: 7 }),
        ),
      ),
    );
    const hatch = svg("g", {});
    T.unknown(hatch, x, 26 + gap, height - axis - 2, range);
    hatch.querySelectorAll("rect").forEach((rect) => rect.setAttribute("fill", `url(#${hatchId})`));
    root.append(hatch);
    let top = 0;
    for (const track of tracks) {
      const group = svg("g", {});
      group.append(svg("text.track-title", { x: 0, y: top + Math.min(track.height / 2 + 4.5, 26) }, track.title));
      track.draw(group, x, top, track.height, range);
      root.append(group);
      top += track.height + gap;
    }
    root.append(axisMarks(x, top, range, width));
    return { root, x, height, bottom: top };
  };

  function axisMarks(x, top, range, width) {
    const group = svg("g.axis", {}, svg("line", { x1: x(range[0]), x2: x(range[1]), y1: top, y2: top }));
    const [from, to] = range.map(F.inUnits);
    const rough = (to - from) / Math.max(2, (width - LEFT) / 90);
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough);
    const perUnit = (range[1] - range[0]) / (to - from);
    for (let at = Math.ceil(from / step) * step; at <= to + 1e-9; at += step) {
      const px = x(at * perUnit);
      const edge = px > width - 36;
      group.append(
        svg("line", { x1: px, x2: px, y1: top, y2: top + 5 }),
        svg(
          "text",
          { x: edge ? width - 2 : px, y: top + 18, "text-anchor": edge ? "end" : "middle" },
          F.number(Math.round(at * 10) / 10, step < 1 ? 1 : 0),
        ),
      );
    }
    group.append(svg("text", { x: 0, y: top + 18 }, F.distanceUnit()));
    return group;
  }

  R.tracks = T;
})(window.Resupply);
