// Menu, shopping lists with ticks that are remembered, and the load.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const K = {};

  K.sections = () => [
    R.plan.shopping && { id: "lists", title: "Shopping lists", draw: lists },
    R.plan.menu && { id: "menu", title: "Menu", draw: menu },
    R.plan.packing && { id: "packing", title: "Packing", draw: () => R.packing.draw() },
    R.plan.load && { id: "load", title: "Load", draw: load },
  ].filter(Boolean);

  const MEALS = { breakfast: "Breakfast", lunch: "Lunch", dinner: "Dinner" };
  const HEAT = { none: "no cooking", stove: "stove", coals: "coals", fire: "fire", pot: "pot" };

  function menu() {
    const block = R.plan.menu;
    return [
      (block.moved || []).map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))),
      (block.unfilled || []).length > 0 && el("div.unknown-box", {}, el("h3", {}, "No dish found for"), el("ul", {}, block.unfilled.map((row) => el("li", {}, F.words(typeof row === "string" ? row : row.words || ""))))),
      (block.days || []).map((day) => el("div.menu-day", {},
        el("h3", {}, el(`span.day-dot.${G.dayClass(day.leg)}`, {}), `Day ${day.leg} · ${F.date(day.date)}`),
        el("ul.menu-list", {}, day.meals.map((meal) => el("li.meal", {},
          el("p.meal-head", {}, el("span.meal-kind", {}, MEALS[meal.kind] || meal.kind), el("b", { dir: "auto" }, meal.dish), meal.perishable && el("span.mark", {}, meal.use_by ? `eat by ${F.when(meal.use_by)}` : "perishable")),
          el("p.quiet", {}, [meal.minutes ? `${meal.minutes} min` : null, HEAT[meal.heat] || meal.heat, meal.stop ? `bought at stop ${meal.stop}` : "from home"].filter(Boolean).join(" · ")),
          el("details", {}, el("summary", {}, "How, and why then"), el("p", {}, F.words(meal.words)), el("p", {}, F.words(meal.why)), (meal.cautions || []).map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))))))))),
    ];
  }

  const ticksKey = () => `ticks:${R.plan.trip.id}`;
  K.ticks = () => R.store.get(ticksKey(), {});

  function lists() {
    const ticks = K.ticks();
    const note = el("p.quiet", {}, "Ticks are kept on this device.");
    return [note, (R.plan.shopping.lists || []).map((list) => {
      const count = el("span.count", {});
      const recount = () => R.fill(count, `${list.items.filter((item) => ticks[item.id]).length} of ${list.items.length}`);
      const rows = byAisle(list.items).map(([aisle, items]) => el("div.aisle", {}, el("h4", {}, aisle), el("ul", {}, items.map((item) => {
        const box = el("input", { type: "checkbox", "data-item": item.id, onchange: () => {
          if (box.checked) ticks[item.id] = 1;
          else delete ticks[item.id];
          if (!R.store.set(ticksKey(), ticks)) R.fill(note, "This browser does not let a file remember ticks: they last until you close the page.");
          recount();
        } });
        box.checked = Boolean(ticks[item.id]);
        return el("li", {}, el("label.tick", {}, box,
          el("span.tick-text", {}, el("b", { dir: "auto" }, item.name), el("span", {}, ` ${F.words(item.packs_words)}`), item.amount_words && el("span.quiet", {}, ` for ${F.words(item.amount_words)}`),
            item.note && el("span.tick-note", {}, F.words(item.note)),
            item.maybe_missing && !(item.note || "").includes("missing") && el("span.tick-note", {}, "may be missing in a shop of this size"))));
      }))));
      recount();
      return el("details.list", { open: true }, el("summary", {}, el("span.list-title", {}, list.stop ? el("b.num", {}, list.stop) : null, el("span", { dir: "auto" }, list.title)), count), rows);
    })];
  }
  K.byAisle = byAisle;
  function byAisle(items) {
    const groups = new Map();
    for (const item of items) groups.set(item.aisle || "Other", [...(groups.get(item.aisle || "Other") || []), item]);
    return [...groups];
  }

  function load() {
    const block = R.plan.load;
    const peak = block.peak;
    return [
      peak && el("p.big-line", {}, `At most ${F.mass(peak.mass_kg)}, ${F.volume(peak.volume_l)}`),
      peak && el("p", {}, peak.over && G.icon("alarm", 16), F.words(peak.words)),
      R.charts.fitted((width) => drawLoad(block, width), peak ? `Load along the route. ${F.words(peak.words)}` : "Load along the route"),
      el("p.chart-key", {}, el("span.key-food", {}, "food"), el("span.key-water", {}, "water"), el("span.key-ice", {}, "ice")),
    ];
  }

  function drawLoad(block, width) {
    const [left, right, top, base, height] = [56, 8, 14, 138, 160];
    const total = (p) => p.food_kg + p.water_kg + p.ice_kg;
    const limit = block.peak && block.peak.limit_kg;
    const most = Math.max(limit || 0, ...block.profile.map(total)) * 1.08;
    const x = (c) => Math.round((left + (c / R.length) * (width - left - right)) * 10) / 10;
    const y = (kg) => Math.round((base - (kg / most) * (base - top)) * 10) / 10;
    const root = svg("svg.load-chart", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    const layers = [["ice", (p) => [0, p.ice_kg]], ["water", (p) => [p.ice_kg, p.ice_kg + p.water_kg]], ["food", (p) => [p.ice_kg + p.water_kg, total(p)]]];
    for (const [name, edge] of layers) {
      const up = block.profile.map((p) => `${x(p.chainage_m)} ${y(edge(p)[1])}`);
      const down = [...block.profile].reverse().map((p) => `${x(p.chainage_m)} ${y(edge(p)[0])}`);
      root.append(svg(`path.load-${name}`, { d: `M${[...up, ...down].join("L")}z` }));
    }
    if (limit) root.append(svg("line.limit", { x1: left, x2: width - right, y1: y(limit), y2: y(limit) }), svg("text.scale-text", { x: left + 4, y: y(limit) - 4 }, `limit ${F.mass(limit)}`));
    for (const stop of R.plan.stops || []) root.append(svg("text.scale-text", { x: x(stop.chainage_m), y: height - 5, "text-anchor": "middle" }, stop.number));
    const peak = Math.max(...block.profile.map(total));
    root.append(svg("text.scale-text", { x: 0, y: height - 5 }, "stop"), svg("text.scale-text", { x: left - 6, y: y(peak) + 4, "text-anchor": "end" }, F.mass(peak)));
    return root;
  }

  R.kitchen = K;
})(window.Resupply);
