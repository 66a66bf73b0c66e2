// Shopping lists with ticks that are remembered, the menu by day, and the load.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const K = {};

  K.sections = () =>
    [
      R.plan.shopping && { id: "lists", title: "Shopping lists", short: "Lists", draw: lists },
      R.plan.menu && { id: "menu", title: "Menu", draw: menu },
      R.plan.packing && { id: "packing", title: "Packing", draw: () => R.packing.draw() },
      R.plan.load && { id: "load", title: "Load", draw: load },
    ].filter(Boolean);

  // The ticks of one trip, by shop and thing: another plan of it finds them.
  const ticksKey = () => `ticks:${R.ticks.identity(R.plan)}`;
  const title = (list) => (list.stop === 0 ? "Before you leave" : list.name);

  function lists() {
    const ticks = R.store.get(ticksKey(), {});
    const note = el("p.quiet", {}, R.ticks.KEPT_WORDS);
    const { stops, kit, gear, reserve } = R.plan.shopping;
    // What another tab has ticked meanwhile stays.
    const keep = (id) => {
      const ticked = Boolean(ticks[id]);
      Object.assign(ticks, R.store.get(ticksKey(), {}));
      if (!ticked) delete ticks[id];
      if (!R.store.set(ticksKey(), ticks))
        R.fill(note, "This browser does not let a file remember ticks: they last until you close the page.");
    };
    // One list at a time is open: the next one to be bought.
    const next = R.answers.next();
    const shop = next && (R.plan.stops || []).find((stop) => stop.pass === next.pass);
    const first = stops.find((list) => shop && list.stop === shop.number) || stops[0];
    const all = stops.map((list) =>
      oneList(`${list.stop ?? list.pass}`, list.stop, title(list), list, ticks, keep, list === first),
    );
    if (kit && kit.lines.length) all.push(oneList("kit", null, "Pantry kit", kit, ticks, keep, false));
    if (gear && gear.lines.length) all.push(oneList("gear", null, "Kitchen", gear, ticks, keep, false));
    if (reserve && reserve.lines.length) all.push(oneList("reserve", null, "Spare", reserve, ticks, keep, false));
    return [all, note];
  }

  function oneList(key, number, name, list, ticks, keep, open) {
    const count = el("span.count", {});
    const id = (line) => `${key}:${line.id}`;
    const shop = number ? R.plan.stops[number - 1] : R.passById.get(list.pass);
    const kept = (line) => `${shop ? shop.place : key}:${line.id}`;
    const [buy, have] = K.toBuy(list.lines);
    const recount = () => R.fill(count, `${buy.filter((line) => ticks[kept(line)]).length} of ${buy.length}`);
    const rows = K.byAisle(buy).map(([aisle, lines]) =>
      el(
        "div.aisle",
        {},
        el("h3", {}, F.upper(aisle)),
        el(
          "ul",
          {},
          lines.map((line) => {
            const box = el("input", {
              type: "checkbox",
              "data-item": id(line),
              onchange: () => {
                if (box.checked) ticks[kept(line)] = 1;
                else delete ticks[kept(line)];
                keep(kept(line));
                recount();
              },
            });
            box.checked = Boolean(ticks[kept(line)]);
            return el(
              "li",
              {},
              el(
                "label.tick",
                {},
                box,
                el(
                  "span.tick-text",
                  {},
                  el("b", { dir: "auto" }, line.name),
                  el("span", {}, ` ${F.words(line.words)}`),
                  F.words(line.left_words) && el("span.quiet", {}, ` (${F.words(line.left_words)})`),
                  line.bike && [" ", el("span.mark", { dir: "auto" }, line.bike)],
                  F.words(line.doubt_words) && el("span.tick-note", {}, F.words(line.doubt_words)),
                ),
              ),
            );
          }),
        ),
      ),
    );
    recount();
    const mark = number ? el("b.num", {}, number) : list.pass ? G.supplyGlyph("ice", 18) : null;
    const place = list.pass && el("p.quiet", {}, `${F.at(list.chainage_m)}, ${F.when(list.when)}`);
    return el(
      "details.list",
      { open, id: `title-list-${key}`, tabindex: "-1" },
      el("summary", {}, el("span.list-title", {}, mark, el("span", { dir: "auto" }, name)), count),
      place,
      F.words(list.words) && el("p.quiet", {}, F.words(list.words)),
      rows,
      (list.if_no_ice || []).map((said) => el("p.quiet", { dir: "auto" }, F.words(said))),
      have.length > 0 &&
        el(
          "p.aboard",
          {},
          el("b", {}, "Enough on board: "),
          have.map((line, i) => [i ? "; " : "", el("span", { dir: "auto" }, line.name)]),
        ),
    );
  }

  // What has to be bought, and what is on board already and needs no pack.
  K.toBuy = (lines) => {
    const have = lines.filter((line) => line.bought === 0);
    return [lines.filter((line) => !have.includes(line)), have];
  };

  K.byAisle = (lines) => {
    const groups = new Map();
    for (const line of lines) groups.set(line.aisle || "other", [...(groups.get(line.aisle || "other") || []), line]);
    return [...groups];
  };
  K.title = title;

  const HEAT = { none: "no cooking", stove: "stove", coals: "coals", fire: "fire or coals", either: "stove or fire" };

  function menu() {
    const block = R.plan.menu;
    return [
      moved(block.moves || []),
      (block.warnings || []).map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))),
      menuOfDay(block.days),
      el(
        "details",
        {},
        el("summary", {}, "What the menu rests on"),
        Object.values(block.words || {}).map((text) => el("p.quiet", {}, F.words(text))),
      ),
    ];
  }

  // One day at a time: the one that is chosen, else the first.
  function menuOfDay(days) {
    const box = el("div", {});
    const legOf = (day) => R.plan.legs.find((one) => one.date === day.date);
    const name = (day) =>
      legOf(day) ? `Day ${legOf(day).number} · ${F.date(day.date)}` : `${F.date(day.date)}, rest day`;
    const fill = (i) => R.fill(box, el("div.menu-day", {}, ...menuDay(days[i])));
    const pick = el(
      "select",
      { "aria-label": "Day of the menu", onchange: () => fill(Number(pick.value)) },
      days.map((day, i) => el("option", { value: i }, name(day))),
    );
    const at = days.findIndex((day) => R.strip.day && legOf(day) && legOf(day).number === R.strip.day);
    pick.value = String(Math.max(0, at));
    if (days.length) fill(Math.max(0, at));
    return [el("p.field", {}, pick), box];
  }

  const menuDay = (day) => [
    el("ul.menu-list", {}, day.meals.map(meal)),
    day.extras.length > 0 &&
      el(
        "p.extras",
        {},
        el("b", {}, "Snacks and drinks: "),
        day.extras.map((one, i) => [i ? ", " : "", el("span", { dir: "auto" }, one.name), ` ${F.words(one.words)}`]),
      ),
    el("p.quiet", {}, `About ${F.number(day.kcal_each, 0)} kcal for each of you`),
  ];

  // What the heat changed, the first few in full.
  const MOST_MOVES = 1;
  function moved(moves) {
    const say = (move) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(move.why)));
    const rest = moves.slice(MOST_MOVES);
    return [
      moves.slice(0, MOST_MOVES).map(say),
      rest.length > 0 &&
        el(
          "details",
          {},
          el("summary", {}, `${F.plural(rest.length, "more dish", "more dishes")} moved or left out`),
          rest.map(say),
        ),
    ];
  }

  function meal(one) {
    const { dish } = one;
    const marks = [one.late && "late arrival", one.fire_ban && "no fire", one.no_cook && "no cooking day"].filter(
      Boolean,
    );
    return el(
      "li.meal",
      {},
      el(
        "p.meal-head",
        {},
        el("span.meal-kind", {}, F.upper(one.kind)),
        el("b", { dir: "auto" }, dish ? dish.name : "No dish fits"),
        one.use_by && el("span.mark", {}, `eat by ${F.when(one.use_by)}`),
      ),
      el(
        "p.quiet",
        {},
        [
          ...(dish
            ? [
                `${F.number(dish.minutes, 0)} min`,
                HEAT[dish.heat] || dish.heat,
                dish.diet,
                dish.leftover_of && "from leftovers",
              ]
            : []),
          ...marks,
        ]
          .filter(Boolean)
          .join(" · "),
      ),
      dish
        ? el(
            "details",
            {},
            el("summary", {}, "Recipe"),
            el(
              "ul.parts",
              {},
              dish.ingredients.map((part) =>
                el(
                  "li",
                  {},
                  el("span", { dir: "auto" }, part.name),
                  // What is a small share of a piece, as of a lighter, has no amount.
                  F.words(part.words) && ` ${F.words(part.words)}`,
                  el(
                    "span.quiet",
                    {},
                    K.each(part),
                    part.stop ? `, stop ${part.stop}` : ", from home",
                    part.doubtful && ", may be missing there",
                  ),
                ),
              ),
              K.water(dish) && el("li", {}, K.water(dish)),
            ),
            recipe(dish),
            dish.allergens.length > 0 && el("p", {}, `Allergens: ${dish.allergens.join(", ")}.`),
            (dish.may_contain || []).length > 0 && el("p", {}, `By the label: ${dish.may_contain.join(", ")}.`),
            el("p", {}, F.words(one.why)),
            dish.cautions.map((text) => el("p.caution", {}, G.icon("caution", 16), el("span", {}, F.words(text)))),
          )
        : el("p", {}, F.words(one.why)),
    );
  }

  // The amount for each of those who eat it, where more than one does.
  K.each = (part) => {
    const each = F.words(part.each_words);
    return R.plan.menu.people > 1 && each && each !== F.words(part.words) ? ` (${each} each)` : "";
  };

  // The water it is cooked in, for all; empty where it takes none.
  K.water = (dish) => (dish.water_l ? `Water ${F.words([{ pack_ml: Math.round(dish.water_l * 1000) }])}` : "");

  // How a dish is made, and what must be so before it is eaten.
  function recipe(dish) {
    return [
      (dish.steps || []).length > 0 &&
        el(
          "ol.steps",
          {},
          dish.steps.map((text) => el("li", { dir: "auto" }, text)),
        ),
      (dish.musts || []).map((text) => el("p.must", {}, F.words(text))),
    ];
  }
  K.recipe = recipe;

  function load() {
    const block = R.plan.load;
    const peak = block.peak_kg;
    const where = (point) =>
      point.kind === "stop"
        ? point.index
          ? `leaving stop ${point.index}`
          : "leaving home"
        : `${F.when(point.when)}, ${point.label}`;
    return [
      peak && el("p.big-line", {}, `At most ${F.mass(peak.mass_kg)}, ${where(peak)}`),
      (block.over || []).map((over) =>
        el("p.caution", {}, G.icon("alarm", 16), el("span", {}, `${F.words(over.words)}.`)),
      ),
      block.points.length > 1 &&
        R.charts.fitted(
          (width) => drawLoad(block, width),
          peak ? `Food, water and ice on board by time; at most ${F.mass(peak.mass_kg)}.` : "Load by time",
        ),
      R.popups.facts([
        [
          "Fullest food bag",
          block.peak_bag_l ? `${F.volume(block.peak_bag_l.bag_l)}, ${where(block.peak_bag_l)}` : null,
        ],
        [
          "Fullest cooler",
          block.peak_cooler_l && block.peak_cooler_l.cooler_l > 0
            ? `${F.volume(block.peak_cooler_l.cooler_l)} of food, packs and ice, ${where(block.peak_cooler_l)}`
            : null,
        ],
        ["Stove fuel", block.stove_fuel && block.stove_fuel.total_l > 0 ? F.words(block.stove_fuel.words) : null],
      ]),
      (block.water || []).length > 0 && waterTable(block.water),
    ];
  }

  const waterTable = (rows) => [
    R.scroll(
      el(
        "table",
        {},
        el("caption", {}, "Water by day, for all of you"),
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            ["Day", "To drink", "To cook"].map((h) => el("th", { scope: "col" }, h)),
          ),
        ),
        el(
          "tbody",
          {},
          rows.map((row) =>
            el(
              "tr",
              {},
              el("th", { scope: "row" }, row.date ? F.date(row.date) : row.day),
              el("td.n", {}, F.volume(row.drink_l)),
              el("td.n", {}, F.volume(row.cook_l)),
            ),
          ),
        ),
      ),
    ),
    el(
      "details",
      {},
      el("summary", {}, "Why so much"),
      el(
        "ul",
        {},
        [...new Set(rows.map((row) => F.words(row.why)))].map((why) => el("li", {}, why)),
      ),
    ),
  ];

  function drawLoad(block, width) {
    const [left, right, top, base, height] = [56, 8, 16, 140, 162];
    const limit = Number(R.plan.trip.settings["luggage.food_kg"]);
    const most = Math.max(limit || 0, ...block.points.map((p) => p.mass_kg)) * 1.08;
    const [from, to] = [Date.parse(block.points[0].when), Date.parse(block.points.at(-1).when)];
    const round = (value) => Math.round(value * 10) / 10;
    const x = (when) => round(left + ((Date.parse(when) - from) / (to - from || 1)) * (width - left - right));
    const y = (kg) => round(base - (kg / most) * (base - top));
    const root = svg("svg.load-chart", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    let d = `M${left} ${base}`;
    let last = base;
    for (const point of block.points) {
      d += `L${x(point.when)} ${last}L${x(point.when)} ${y(point.mass_kg)}`;
      last = y(point.mass_kg);
    }
    root.append(
      svg("path.food-area", { d: `${d}L${width - right} ${last}L${width - right} ${base}z` }),
      svg("path.food-line", { d: `${d}L${width - right} ${last}` }),
    );
    if (typeof limit === "number")
      root.append(
        svg("line.limit", { x1: left, x2: width - right, y1: y(limit), y2: y(limit) }),
        svg("text.limit-text", { x: left + 5, y: y(limit) - 4 }, `luggage ${F.mass(limit)}`),
      );
    const peak = Math.max(...block.points.map((p) => p.mass_kg));
    root.append(
      svg("text.scale-text", { x: left - 6, y: y(peak) + 4, "text-anchor": "end" }, F.mass(peak)),
      svg("text.scale-text", { x: left - 6, y: base + 4, "text-anchor": "end" }, "0"),
    );
    let free = 0;
    for (const point of block.points.filter((p) => p.kind === "stop")) {
      const px = x(point.when);
      if (px < free) continue;
      root.append(svg("text.scale-text", { x: px, y: height - 5 }, point.index ? `stop ${point.index}` : "home"));
      free = px + 52;
    }
    return root;
  }

  R.kitchen = K;
})(window.Resupply);
