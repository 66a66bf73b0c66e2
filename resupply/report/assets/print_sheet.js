// The printed sheet: days and stops on the first page, lists and menu on the second.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;

  // The sheet is made when paper asks for it.
  let due = false;
  const draw = () => {
    due = true;
    if (matchMedia("print").matches) fill();
  };
  addEventListener("beforeprint", fill);
  matchMedia("print").addEventListener("change", (event) => event.matches && fill());

  function fill() {
    if (!due) return;
    due = false;
    const { trip, summary, attribution } = R.plan;
    R.byId("sheet").classList.toggle("dense", dense());
    R.fill(
      R.byId("sheet"),
      el(
        "section.sheet-page",
        {},
        el("header.sheet-head", {}, el("h1", { dir: "auto" }, trip.name), el("p", {}, R.byId("trip-line").textContent)),
        el("p.sheet-headline", { dir: "auto" }, F.words(summary.headline)),
        el(
          "div.sheet-top",
          {},
          sketch(),
          el(
            "ul.sheet-facts",
            {},
            (summary.facts || []).map((fact) =>
              el("li", {}, el("span", {}, fact.label), el("b", {}, F.words(fact.value_words))),
            ),
          ),
        ),
        el(
          "ul.sheet-cautions",
          {},
          (summary.cautions || []).map((text) => el("li", {}, `▲ ${F.words(text)}`)),
        ),
        el(
          "div.sheet-strip",
          {},
          R.strip.picture(760, [0, R.length], "hatch-sheet", [
            R.tracks.days,
            R.tracks.shops,
            R.tracks.gaps,
            R.tracks.food,
          ]).root,
        ),
        days(),
        stops(),
        el(
          "p.sheet-foot",
          {},
          [
            attribution && `${attribution.text}, ${attribution.url}`,
            attribution && attribution.data_date && `data of ${F.date(attribution.data_date, true)}`,
          ]
            .filter(Boolean)
            .join(", "),
        ),
      ),
      el(
        "section.sheet-page",
        {},
        el("header.sheet-head", {}, el("h2", {}, "Lists"), el("p", { dir: "auto" }, trip.name)),
        lists(),
        menu(),
        packing(),
      ),
      atTheStove(trip),
    );
  }

  const table = (caption, head, rows) =>
    el(
      "table.sheet-table",
      {},
      el("caption", {}, caption),
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          head.map((h) => el("th", { scope: "col" }, h)),
        ),
      ),
      el("tbody", {}, rows),
    );
  const cells = (...values) =>
    el(
      "tr",
      {},
      values.map((value) => el("td", {}, value)),
    );

  // More than a week still has to fit on two pages: smaller type and fewer words.
  const dense = () => R.plan.legs.length > 7;
  const night = (leg) => {
    if (!leg.night) return "";
    return dense()
      ? leg.night.name || { nominal: "no camp known", end: "the end" }[leg.night.kind] || ""
      : F.words(leg.night.words);
  };
  const days = () =>
    table(
      "Days",
      [
        "Day",
        "Date",
        "Ride",
        "Leave, arrive",
        R.plan.legs.some(night) ? "Night" : "",
        R.plan.fuel ? "Fuel" : "",
        "Water",
      ],
      R.plan.legs.map((leg) =>
        cells(
          el("b", {}, leg.number),
          `${F.date(leg.date)}${leg.rest_days_before ? ` (after ${F.waited(leg)})` : ""}`,
          `${F.distance(leg.length_m)}, to ${F.at(leg.end_m)}`,
          `${F.time(leg.depart)}, ${F.time(leg.arrive)}`,
          night(leg),
          R.days.fuelOf(leg),
          litres(leg),
        ),
      ),
    );
  const litres = (leg) => {
    const row = ((R.plan.water || {}).litres_by_day || []).find((one) => one.leg === leg.number);
    return row ? F.volume(row.litres) : "";
  };

  const stops = () =>
    table(
      "Stops",
      ["", "Shop", "Where, when", "Then", "Leave with", "If it is shut"],
      (R.plan.stops || []).map((stop) => {
        /** @type {Partial<FallbackRow>} */
        const fallback = stop.fallback || {};
        const raw = R.place(stop.place).opening_hours;
        return cells(
          el("b", {}, stop.number),
          [
            el("b", { dir: "auto" }, R.placeName(stop.place)),
            el("br"),
            el("span", { dir: "auto" }, raw || "no hours on the map"),
          ],
          `${F.at(stop.chainage_m)}, ${F.when(stop.arrive)}`,
          G.badge(stop),
          [F.load(stop.carry_meals), stop.carry_kg ? `, ${F.mass(stop.carry_kg)}` : ""],
          fallback.pass && R.passById.has(fallback.pass) ? F.words(fallback.words) : "nothing on the rest of the route",
        );
      }),
    );

  function lists() {
    const { stops, kit, reserve } = R.plan.shopping || { stops: [] };
    const all = [
      ...stops.map((list) => ({ title: heading(list), number: list.stop, lines: list.lines })),
      kit && kit.lines.length ? { title: "Pantry kit", number: 0, lines: kit.lines } : null,
      reserve && reserve.lines.length ? { title: "Spare", number: 0, lines: reserve.lines } : null,
    ];
    return el(
      "div.sheet-lists",
      {},
      all
        .filter(Boolean)
        .map((list) =>
          el(
            "div.sheet-list",
            {},
            el("h3", { dir: "auto" }, `${list.number ? `${list.number}  ` : ""}${list.title}`),
            el("ul", {}, R.kitchen.toBuy(list.lines)[0].map(bought)),
          ),
        ),
    );
  }
  const heading = (list) => (list.pass ? `${R.kitchen.title(list)}, ${F.when(list.when)}` : R.kitchen.title(list));
  const bought = (line) =>
    el(
      "li",
      { dir: "auto" },
      `${line.name}, ${F.words(line.words)}`,
      line.aisle === "ice" && line.doubtful && " (likely there)",
    );

  // How a dish is cooked, short: what to have at hand that evening.
  const HOW = { foil: "foil, coals", pot: "pot", pan: "pan" };
  function menu() {
    const block = R.plan.menu;
    if (!block) return null;
    const how = (dish) =>
      HOW[dish.method] && !dense() ? ` (${HOW[dish.method]}, ${F.number(dish.minutes, 0)} min)` : "";
    const dish = (day, kind) =>
      day.meals
        .filter((meal) => meal.kind === kind)
        .map((meal) => (meal.dish ? `${meal.dish.name}${how(meal.dish)}` : "no dish fits"))
        .join("; ");
    return table(
      "Menu",
      ["Date", "Breakfast", "Lunch", "Dinner"],
      block.days.map((day) => cells(F.date(day.date), dish(day, "breakfast"), dish(day, "lunch"), dish(day, "dinner"))),
    );
  }

  // What to have in mind at the stove, in a box.
  function rules() {
    const said = (R.plan.care || {}).short || [];
    return said.length
      ? el(
          "ul.sheet-rules",
          {},
          said.map((text) => el("li", {}, F.words(text))),
        )
      : null;
  }

  // A page to cook from: the rules, and every dish of the menu once.
  function atTheStove(trip) {
    const block = R.plan.menu;
    if (!block) return null;
    const served = block.days.flatMap((day) => day.meals.map((meal) => meal.dish)).filter(Boolean);
    const dishes = new Map(served.map((dish) => [dish.id, dish]));
    const part = (one) => `${one.name} ${F.words(one.words)}`;
    return el(
      "section.sheet-page",
      {},
      el("header.sheet-head", {}, el("h2", {}, `To cook, for ${block.people}`), el("p", { dir: "auto" }, trip.name)),
      rules(),
      el(
        "div.sheet-recipes",
        {},
        [...dishes.values()].map((dish) =>
          el(
            "div.sheet-recipe",
            {},
            el("h3", { dir: "auto" }, `${dish.name}, ${F.number(dish.minutes, 0)}\u00a0min`),
            el("p", { dir: "auto" }, dish.ingredients.map(part).join("; ")),
            R.kitchen.recipe(dish),
          ),
        ),
      ),
    );
  }

  // The cooler after each stop, from the bottom up.
  function packing() {
    const rows = ((R.plan.packing || {}).stops || []).filter((stop) => (stop.cooler || []).length);
    const layer = (one) =>
      one.items.length
        ? `${one.kind === "raw" ? "raw, bagged twice: " : ""}${one.items.map((item) => item.name).join("; ")}`
        : one.kind === "fill"
          ? "fill up"
          : F.words(one.words);
    return rows.length
      ? table(
          "Cooler, from the bottom up",
          ["Packed at", "Layers"],
          rows.map((stop) =>
            cells(stop.stop ? `${stop.stop}  ${stop.name}` : "home", stop.cooler.map(layer).join("  /  ")),
          ),
        )
      : null;
  }

  // The route as a small line drawing: the map's canvas does not print well.
  function sketch() {
    const { lat, lon, chainage_m: chain, parts } = R.line;
    const [south, north] = [lat.reduce((a, b) => Math.min(a, b)), lat.reduce((a, b) => Math.max(a, b))];
    const [west, east] = [lon.reduce((a, b) => Math.min(a, b)), lon.reduce((a, b) => Math.max(a, b))];
    const narrow = Math.cos(((south + north) / 2) * (Math.PI / 180));
    const scale = Math.min(300 / ((east - west) * narrow || 1e-6), 190 / (north - south || 1e-6));
    const at = (la, lo) => [
      Math.round(((lo - west) * narrow * scale + 14) * 10) / 10,
      Math.round(((north - la) * scale + 14) * 10) / 10,
    ];
    const root = svg("svg.sheet-sketch", {
      viewBox: `0 0 ${Math.round((east - west) * narrow * scale + 28)} ${Math.round((north - south) * scale + 28)}`,
      "aria-hidden": "true",
    });
    const step = Math.max(1, Math.floor(chain.length / 700));
    const starts = new Set(parts);
    let d = "";
    for (let i = 0; i < chain.length; i++) {
      const jump = starts.has(i);
      if (i % step && !jump && i !== chain.length - 1) continue;
      d += `${jump ? "M" : "L"}${at(lat[i], lon[i]).join(" ")}`;
    }
    root.append(svg("path.sketch-line", { d }));
    for (const leg of R.plan.legs) {
      const [x, y] = at(...R.positionAt(leg.end_m));
      root.append(svg("path.sketch-night", { d: `M${x} ${y - 5}l5 8h-10z` }));
    }
    for (const stop of R.plan.stops || []) {
      const [x, y] = at(...R.positionAt(stop.chainage_m));
      root.append(
        svg("rect.sketch-stop", { x: x - 8, y: y - 8, width: 16, height: 16, rx: 3 }),
        svg("text.sketch-number", { x, y: y + 4.5, "text-anchor": "middle" }, stop.number),
      );
    }
    return root;
  }

  R.sheet = { draw };
})(window.Resupply);
