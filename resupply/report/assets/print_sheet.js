// The printed sheet: a line per day on the first page, lists and menu on the second.
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
    const { trip, attribution } = R.plan;
    R.byId("sheet").classList.toggle("dense", dense());
    const credit = [
      "Times are the plan’s, at the door",
      attribution && `${attribution.text}, ${attribution.url}`,
      attribution && attribution.data_date && `data of ${F.date(attribution.data_date, true)}`,
    ];
    R.fill(
      R.byId("sheet"),
      el(
        "section.sheet-page",
        {},
        el(
          "header.sheet-head",
          {},
          el("h1", { dir: "auto" }, trip.name),
          el("p", { dir: "auto" }, `${R.byId("trip-line").textContent} · ${F.plural(trip.people, "rider")}${other()}`),
        ),
        three(),
        el(
          "div.sheet-strip",
          {},
          R.strip.picture(760, [0, R.length], "hatch-sheet", [R.tracks.days, R.tracks.shops]).root,
        ),
        days(),
        el("div.sheet-low", {}, el("div", {}, shutDoors(), notes()), sketch()),
        el("p.sheet-foot", {}, credit.filter(Boolean).join(" · ")),
      ),
      el(
        "section.sheet-page",
        {},
        el("header.sheet-head", {}, el("h2", {}, "Lists and menu"), el("p", { dir: "auto" }, trip.name)),
        lists(),
        menu(),
        packing(),
        bikes(),
      ),
      atTheStove(trip),
    );
  }

  // Paper says which plan it is.
  const other = () => (R.pocket.current ? ` · ${R.changed.words(R.pocket.plan(R.pocket.current))}` : "");

  const table = (caption, head, rows) =>
    el(
      "table.sheet-table",
      {},
      caption && el("caption", {}, caption),
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

  // More than a week still has to fit on one page: smaller type and fewer words.
  const dense = () => R.plan.legs.length > 7;

  // The three answers in a row.
  function three() {
    const told = R.plan.answers;
    if (!told) return null;
    const shop = told.shops[0];
    return el(
      "div.sheet-answers",
      {},
      [shop, told.stretch, told.ice].map((one) =>
        el(
          "div",
          {},
          el("p", {}, F.words(one.question)),
          el(
            "b",
            { dir: "auto" },
            one === told.ice || F.words(one.figure) === "?"
              ? F.words(one.answer)
              : `${F.words(one.figure)}, ${F.words(one.answer)}`,
          ),
          el("p", {}, [F.words(one.state_words), F.words(one.detail)].filter(Boolean).join(" · ")),
        ),
      ),
    );
  }

  // A line per day: what is done where and when, with a box to tick. Doubt is bold italic.
  function days() {
    const visits = R.visits();
    const is = (one, kinds) => [one.kind, ...one.also].some((kind) => kinds.includes(kind));
    const of = (leg, ...kinds) => visits.filter((one) => one.leg === leg.number && is(one, kinds));
    const row = (leg) =>
      cells(
        [
          el("b.sheet-day", {}, leg.number),
          el("br"),
          F.date(leg.date),
          leg.rest_days_before > 0 && el("i", {}, ` after ${F.waited(leg)}`),
        ],
        [
          el("span.sheet-km", {}, `${F.number(F.inUnits(leg.start_m), 0)}–${F.number(F.inUnits(leg.end_m), 0)}`),
          el("br"),
          el("span.sheet-km", {}, F.distance(leg.length_m)),
        ],
        [`${F.time(leg.depart)}–`, el("br"), F.time(leg.arrive)],
        food(leg, of(leg, "food", "meal_out")),
        doubled(of(leg, "ice"), (one) => F.mass(((one.ice || {}).buy || []).reduce((sum, buy) => sum + buy.kg, 0))),
        doubled(of(leg, "fuel"), () => ""),
        el("span.sheet-km", {}, litres(leg)),
        night(leg),
        typeof leg.low_c === "number" && el("span.sheet-km", {}, `${F.degrees(leg.low_c)}–${F.degrees(leg.high_c)}`),
      );
    const unit = F.distanceUnit();
    return table(null, ["Day", unit, "Ride", "Food", "Ice", "Fuel", "Water", "Night", "°"], R.plan.legs.map(row));
  }

  const at = (one) => [
    el("span.sheet-box", {}),
    el("b", {}, F.number(F.inUnits(one.chainage_m), 0)),
    ` ${F.time(one.when)} `,
  ];
  // Open, also "open_unless_holiday", is no doubt.
  const doubt = (one) => !one.state.startsWith("open") && el("b.sheet-doubt", {}, ` ${G.word(G.state(one))}`);
  function food(leg, rows) {
    const load = (one) => ` ${F.load(one.stop.carry_meals)}`;
    const stop = (one) => el("div", {}, at(one), el("b", { dir: "auto" }, one.name), doubt(one), load(one));
    const told = rows.sort((a, b) => (a.when < b.when ? -1 : 1)).map((one) => (one.stop ? stop(one) : out(one)));
    const { start_m, end_m } = (R.plan.answers || {}).stretch || {};
    const none = start_m <= leg.start_m && end_m >= leg.end_m ? el("b.sheet-doubt", {}, "no shop") : "–";
    return rows.some((one) => one.stop) ? told : [none, ...told];
  }
  const out = (one) =>
    el("div", {}, at(one), el("span", { dir: "auto" }, one.name), doubt(one), ` ${one.meal.meal} out`);
  const doubled = (rows, more) =>
    rows.length
      ? rows.map((one) =>
          el(
            "div",
            {},
            at(one),
            one.kind !== "food" && el("span", { dir: "auto" }, one.name),
            doubt(one),
            ` ${more(one)}`,
          ),
        )
      : "–";
  const night = (leg) => {
    if (!leg.night) return "";
    const bare = { nominal: el("b.sheet-doubt", {}, "no camp known"), end: "the end" }[leg.night.kind];
    return [
      el("b", {}, F.number(F.inUnits(leg.end_m), 0)),
      " ",
      leg.night.name ? el("span", { dir: "auto" }, leg.night.name) : bare || "",
    ];
  };
  const litres = (leg) => {
    const row = ((R.plan.water || {}).litres_by_day || []).find((one) => one.leg === leg.number);
    return row ? F.volume(row.litres) : "";
  };

  // What to do if a door is shut, stop by stop, and the cautions that come first.
  const MOST_CAUTIONS = 4;
  const shutDoors = () =>
    el(
      "div.sheet-shut",
      {},
      el("h3", {}, "If a door is shut"),
      el(
        "ul",
        {},
        (R.plan.stops || []).map((stop) => {
          const fallback = stop.fallback || { kind: "none" };
          return el(
            "li",
            { dir: "auto" },
            el("b", {}, `${F.at(stop.chainage_m)}: `),
            fallback.kind === "none" ? "no shop on the rest of the route" : F.words(fallback.words),
          );
        }),
      ),
      (R.plan.summary.cautions || []).length > 0 && el("h3", {}, "Beware"),
      el(
        "ul",
        {},
        (R.plan.summary.cautions || []).slice(0, MOST_CAUTIONS).map((text) => el("li", { dir: "auto" }, F.words(text))),
      ),
    );
  const notes = () =>
    !dense() &&
    el(
      "div.sheet-notes",
      {},
      el("h3", {}, "Notes"),
      Array.from({ length: R.plan.legs.length > 5 ? 3 : 5 }, () => el("p")),
    );

  function lists() {
    const { stops, kit, gear, reserve } = R.plan.shopping || { stops: [] };
    const all = [
      ...stops.map((list) => ({
        title: heading(list),
        number: list.stop,
        lines: list.lines,
        noIce: list.if_no_ice,
      })),
      kit && kit.lines.length ? { title: "Pantry kit", number: 0, lines: kit.lines } : null,
      gear && gear.lines.length ? { title: "Kitchen", number: 0, lines: gear.lines } : null,
      reserve && reserve.lines.length ? { title: "Spare", number: 0, lines: reserve.lines } : null,
    ];
    return el(
      "div.sheet-lists",
      {},
      all.filter(Boolean).map((list) =>
        el(
          "div.sheet-list",
          {},
          el("h3", { dir: "auto" }, `${list.number ? `${list.number}  ` : ""}${list.title}`),
          el("ul", {}, R.kitchen.toBuy(list.lines)[0].map(bought)),
          (list.noIce || []).map((said) => el("p", { dir: "auto" }, F.words(said))),
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
      line.bike && el("i", {}, ` ${line.bike}`),
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
    const part = (one) => `${one.name} ${F.words(one.words)}${R.kitchen.each(one)}`;
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
            el("p", { dir: "auto" }, [...dish.ingredients.map(part), R.kitchen.water(dish)].filter(Boolean).join("; ")),
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

  // Who carries what after each stop.
  function bikes() {
    const rows = ((R.plan.packing || {}).stops || []).flatMap((stop) =>
      (stop.bikes || []).map((bike, i) =>
        cells(i ? "" : stop.stop ? `${stop.stop}  ${stop.name}` : "home", el("b", { dir: "auto" }, bike.name), [
          F.words(bike.words),
          F.words(bike.over_words) && el("b.sheet-doubt", {}, ` ${F.words(bike.over_words)}`),
        ]),
      ),
    );
    return rows.length ? table("Who carries what", ["Packed at", "Bike", "Load"], rows) : null;
  }

  // The route as a small line drawing: the map's canvas does not print well. Days that share a road
  // stand side by side, as on the map.
  const SKETCH_LANE = 3.6; // a line and as much white again
  function sketch() {
    const { lat, lon, chainage_m: chain } = R.line;
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
    for (const leg of R.plan.legs)
      for (const piece of R.draw.pieces(leg.start_m, leg.end_m)) {
        const kept = piece.filter((_, n) => !(n % step) || n === piece.length - 1);
        const ring = kept.map(([la, lo]) => at(la, lo)).map(([x, y]) => ({ x, y }));
        const lanes = R.lanesOf(
          leg,
          kept.map(([, , i]) => i),
          R.plan.legs,
        );
        const points = R.aside(ring, lanes, SKETCH_LANE).map((xy) => xy.map((one) => one.toFixed(1)).join(" "));
        root.append(svg("path.sketch-line", { d: `M${points.join("L")}` }));
      }
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
