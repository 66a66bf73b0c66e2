// What riders change: the daily distance beside the map, everything else in a panel that folds.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const C = { panel: null };
  const { KM_PER_MI, KG_PER_LB, L_PER_GAL } = R.factors;
  const imperial = () => R.prefs.units === "imperial";
  const round = (value, step) => Math.round(value / step) * step;

  // One field for each setting: the key of the trip file, and how it is read and shown.
  const tenths = (per) => ({
    read: (text) => Number(text) * (imperial() ? per : 1),
    show: (value) => String(Math.round((imperial() ? value / per : value) * 10) / 10),
  });
  const asKm = tenths(KM_PER_MI);
  const asKg = tenths(KG_PER_LB);
  const asLitres = tenths(L_PER_GAL);
  const asC = {
    read: (text) => (imperial() ? (Number(text) - 32) / 1.8 : Number(text)),
    show: (c) => String(Math.round(imperial() ? c * 1.8 + 32 : c)),
  };
  const plain = { read: Number, show: String };

  /**
   * @param {string} path
   * @param {string} label
   * @param {{ unit?: string, kind?: any, min?: number, max?: number, step?: number, empty?: string,
   *   wide?: boolean }} how
   */
  function numberField(path, label, { unit = "", kind = plain, min, max, step = 1, empty = null, wide }) {
    const value = T.get(path);
    const input = el("input", {
      type: "number",
      inputmode: "decimal",
      id: `set-${path}`,
      "data-keep": `set-${path}`,
      step: "any",
      min: min === undefined ? null : kind.show(min),
      max: max === undefined ? null : kind.show(max),
      placeholder: empty,
      onchange: () => {
        if (input.value === "" && empty !== null) T.change({ [path]: null }, `${label}: ${empty}`);
        else if (input.value !== "" && input.checkValidity())
          T.change(
            { [path]: Math.round(kind.read(input.value) * 1000) / 1000 },
            `${label} ${input.value}${unit ? ` ${unit}` : ""}`,
          );
        else input.reportValidity();
      },
    });
    if (value !== undefined && value !== null) input.value = kind.show(value);
    const nudge = (by, sign, word) =>
      el(
        "button.step",
        {
          type: "button",
          "aria-label": `${label}: ${word}`,
          "data-keep": `nudge-${path}-${by}`,
          onclick: () => {
            const from = value ?? min ?? 0;
            const to = Math.max(min ?? -Infinity, Math.min(max ?? Infinity, round(from + by * step, step)));
            T.change({ [path]: to }, `${label} ${kind.show(to)}${unit ? ` ${unit}` : ""}`, `nudge-${path}`);
          },
        },
        sign,
      );
    return el(
      `div.setting${wide ? ".wide" : ""}`,
      {},
      el("label", { for: `set-${path}` }, label),
      el(
        "span.setting-row",
        {},
        nudge(-1, "−", "less"),
        input,
        unit && el("span.unit", {}, unit),
        nudge(1, "+", "more"),
      ),
    );
  }

  function choiceField(path, label, options) {
    const value = T.get(path);
    const pick = el(
      "select",
      {
        id: `set-${path}`,
        "data-keep": `set-${path}`,
        onchange: () => {
          const [to, word] = options.find(([one]) => String(one) === pick.value);
          T.change({ [path]: to }, `${label}: ${word}`);
        },
      },
      options.map(([one, word]) => el("option", { value: String(one) }, word)),
    );
    if (!options.some(([one]) => String(one) === String(value)))
      pick.append(el("option", { value: String(value) }, String(value)));
    pick.value = String(value);
    return el("div.setting", {}, el("label", { for: `set-${path}` }, label), pick);
  }

  // Browsers write dates in the order of their own language: the day is named beside it.
  function dateField(id, label, value, set) {
    const input = el("input", {
      type: "date",
      id: `set-${id}`,
      "data-keep": `set-${id}`,
      min: "1970-01-01",
      max: "2199-12-31",
      onchange: () => {
        if (input.value && input.checkValidity()) set(input.value, `${label} ${F.date(input.value)}`);
      },
    });
    input.value = value;
    return el(
      "div.setting",
      {},
      el("label", { for: `set-${id}` }, input.value ? `${label}, ${F.date(input.value)}` : label),
      input,
    );
  }

  function restField() {
    if (!R.plan || R.plan.legs.length < 2) return null;
    const legs = R.plan.legs.slice(0, -1);
    const pick = el(
      "select",
      { id: "set-rest", "data-keep": "set-rest", onchange: () => R.edit.rest(legs[Number(pick.value)], 1) },
      el("option", { value: "" }, "choose a day"),
      legs.map((leg, i) => el("option", { value: i }, `Day ${leg.number}, ${F.date(leg.date)}`)),
    );
    return el("div.setting", {}, el("label", { for: "set-rest" }, "Add a rest day after"), pick);
  }

  // Typed, not the browser's own field: that has the clock of its own language.
  function timeField(id, label, value, set) {
    const [hour, minute] = value.split(":").map(Number);
    const input = el("input", {
      type: "text",
      id: `set-${id}`,
      "data-keep": `set-${id}`,
      autocomplete: "off",
      oninput: () => input.setCustomValidity(""),
      onchange: () => {
        const time = readTime(input.value);
        input.setCustomValidity(time ? "" : `Write a time like ${F.clock(8, 30)}`);
        if (time) set(`${time}:00`, `${label} ${F.clock(...time.split(":").map(Number))}`);
        else input.reportValidity();
      },
    });
    input.value = F.clock(hour, minute);
    return el("div.setting", {}, el("label", { for: `set-${id}` }, label), input);
  }
  function readTime(text) {
    const m = /^\s*(\d{1,2})(?:[:.h ]?(\d\d))?\s*([ap])?\.?m?\.?\s*$/i.exec(text);
    if (!m) return null;
    const [given, minute, half] = [Number(m[1]), Number(m[2] || 0), (m[3] || "").toLowerCase()];
    const hour = half ? (given % 12) + (half === "p" ? 12 : 0) : given;
    if (hour > 23 || minute > 59 || (half && (given < 1 || given > 12))) return null;
    return `${String(hour).padStart(2, "0")}:${String(minute).padStart(2, "0")}`;
  }

  function tickField(path, label) {
    const box = el("input", {
      type: "checkbox",
      "data-keep": `set-${path}`,
      onchange: () => T.change({ [path]: box.checked }, `${label}: ${box.checked ? "yes" : "no"}`),
    });
    box.checked = Boolean(T.get(path));
    return el("label.setting-tick", {}, box, el("span", {}, label));
  }

  // One switch for the place and the time, which belong together; what is on board goes with them.
  function underWay() {
    const on = R.edit.underWay();
    const box = el("input", {
      type: "checkbox",
      id: "set-now",
      "data-keep": "set-now",
      onchange: () => (box.checked ? R.edit.goOn(0) : R.edit.atHome()),
    });
    box.checked = on;
    const tick = el("label.setting-tick", {}, box, el("span", {}, "I am under way"));
    if (!on) return [tick, R.plan && R.fromPhone.field()];
    const [date, time] = String(T.get("now.time")).split("T");
    return [
      tick,
      numberField("now.at_km", `You are at ${imperial() ? "mile" : "km"}`, {
        kind: asKm,
        min: 0,
        max: R.plan ? Math.floor(R.length / 1000 - 1.5) : undefined,
        step: imperial() ? KM_PER_MI * 5 : 5,
      }),
      dateField("now.date", "Today", date, (to, words) => T.change({ "now.time": `${to}T${time}` }, words)),
      timeField("now.clock", "Clock there", time, (to, words) => T.change({ "now.time": `${date}T${to}` }, words)),
      numberField("now.food_meals", "Meals on board, each rider", { min: 0, max: 300 }),
      numberField("now.fuel_km", "Fuel still lasts", {
        unit: F.distanceUnit(),
        kind: asKm,
        min: 0,
        max: 3000,
        step: imperial() ? KM_PER_MI * 10 : 10,
        empty: "not known",
      }),
      numberField("now.water_l", "Drinking water, all riders", {
        unit: imperial() ? "gal" : "L",
        kind: asLitres,
        min: 0,
        max: 500,
        step: imperial() ? L_PER_GAL / 4 : 1,
        empty: "not known",
      }),
      T.get("cooler.kind") !== "none" &&
        numberField("now.ice_kg", "Ice in the cooler", {
          unit: imperial() ? "lb" : "kg",
          kind: asKg,
          min: 0,
          max: 200,
          step: imperial() ? KG_PER_LB : 0.5,
        }),
      R.plan && R.fromPhone.field(),
    ];
  }

  const CORRIDORS = [1, 2, 3, 5, 7.5, 10, 15, 20, 30, 50];
  const group = (title, ...fields) =>
    el("fieldset.settings-group", {}, el("legend", {}, title), el("div.settings-grid", {}, fields));

  C.settings = () => {
    const cooled = T.get("cooler.kind") !== "none";
    const ofTrip = (path) => (value, words) => T.change({ [path]: value }, words);
    return [
      group(
        "When",
        dateField(
          "start.date",
          "First day",
          T.get("start.date") ?? (R.plan ? R.plan.trip.start_date : ""),
          ofTrip("start.date"),
        ),
        timeField("pace.depart", "Leave each morning", T.get("pace.depart"), ofTrip("pace.depart")),
        timeField("pace.latest_camp", "In camp by", T.get("pace.latest_camp"), ofTrip("pace.latest_camp")),
        restField(),
      ),
      group("Under way", underWay()),
      group(
        "How you ride",
        numberField("pace.speed_kmh", "Average moving speed", {
          unit: imperial() ? "mph" : "km/h",
          kind: asKm,
          min: 3,
          max: 150,
          step: imperial() ? KM_PER_MI * 5 : 5,
          empty: "by the roads",
        }),
        numberField("fuel.range_km", "Full tank lasts", {
          unit: F.distanceUnit(),
          kind: asKm,
          min: 20,
          max: 3000,
          step: imperial() ? KM_PER_MI * 10 : 10,
          empty: "not said",
        }),
        (((R.plan || {}).route || {}).breaks || []).length + (T.get("jumps.kind") === "unknown" ? 0 : 1) > 0 &&
          choiceField("jumps.kind", "Where the line jumps", [
            ["unknown", "not said"],
            ["ferry", "a ferry"],
            ["ridden", "we ride"],
          ]),
        tickField("pace.even_days", "Spread the days evenly"),
        tickField("map.roads", "Detours and times by the roads"),
        tickField("night.camps", "End days at a camp, if one is near"),
        T.get("night.camps") &&
          numberField("night.tolerance_km", "A day’s end may move by", {
            unit: F.distanceUnit(),
            kind: asKm,
            min: 0,
            max: 500,
            step: imperial() ? KM_PER_MI * 5 : 5,
          }),
      ),
      group(
        "Who eats",
        numberField("party.people", "Riders", { min: 1, max: 40 }),
        choiceField("party.diet", "All of you eat", [
          ["any", "everything"],
          ["vegetarian", "vegetarian"],
          ["vegan", "vegan"],
        ]),
        numberField("food.kcal_per_day", "Each eats a day", { unit: "kcal", min: 1000, max: 6000, step: 100 }),
        choiceField("food.eat_out_daily", "Eaten out every day", [
          [[], "nothing"],
          [["breakfast"], "breakfast"],
          [["lunch"], "lunch"],
          [["dinner"], "dinner"],
          [["breakfast", "lunch"], "breakfast and lunch"],
          [["lunch", "dinner"], "lunch and dinner"],
          [["breakfast", "dinner"], "breakfast and dinner"],
        ]),
      ),
      group(
        "Food on board",
        choiceField("food.style", "How often to shop", [
          ["fresh", "often, fresh"],
          ["balanced", "balanced"],
          ["few", "as rarely as can be"],
        ]),
        !R.edit.underWay() &&
          numberField("start.food_meals", "Meals from home, each rider", { min: 0, max: 300, empty: "as needed" }),
        tickField("food.weigh_at_home", "From home only the amounts needed"),
        numberField("food.spare_meals", "Spare meals, each rider", { min: 0, max: 30 }),
        numberField("food.carry_limit_days", "Carry at most (days)", { min: 1, max: 30, step: 0.5 }),
        numberField("food.carry_habit_days", "Usually carry (days)", { min: 0, max: 30, step: 0.5 }),
        choiceField(
          "map.corridor_km",
          "Shops up to this far off the route",
          CORRIDORS.map((km) => [km, F.distance(km * 1000)]),
        ),
      ),
      group(
        "Cooking, water, animals",
        tickField("food.stove", "We have a stove"),
        tickField("food.fire", "We cook over open fire"),
        tickField("food.fire_ban", "No open fire allowed"),
        tickField("food.untreated_water", "Use springs (treat the water)"),
        choiceField("region.bears", "Bears on the way", [
          ["unknown", "not known"],
          ["yes", "yes"],
          ["no", "no"],
        ]),
      ),
      group(
        "Cooler and weather",
        choiceField("cooler.kind", "Cooler", [
          ["none", "none"],
          ["bag", "insulated bag"],
          ["soft", "soft-sided"],
          ["hard", "hard-sided"],
        ]),
        cooled && numberField("cooler.volume_l", "Inside, litres", { min: 1, max: 200, step: 1 }),
        cooled &&
          choiceField("cooler.colour", "Its colour", [
            ["light", "light"],
            ["middle", "middle"],
            ["dark", "dark"],
          ]),
        numberField("weather.low_c", "Nights down to", {
          unit: imperial() ? "°F" : "°C",
          kind: asC,
          min: -40,
          max: 50,
          empty: "not said",
        }),
        numberField("weather.high_c", "Days up to", {
          unit: imperial() ? "°F" : "°C",
          kind: asC,
          min: -40,
          max: 55,
          empty: "not said",
        }),
        (T.get("weather.days") || []).length > 0 &&
          el(
            "p.quiet.setting-note",
            {},
            `${F.plural(T.get("weather.days").length, "day")} of this trip ` +
              `${T.get("weather.days").length === 1 ? "has its" : "have their"} own weather, from the trip file.`,
          ),
      ),
      group("Shown in", el("div.settings-switches", {}, R.switches())),
      R.edit.changes(),
    ];
  };

  // ---- The pace bar -------------------------------------------------------------------------
  const LEAST_KM = 40;
  let bar,
    slider,
    typed,
    unit,
    told,
    chart,
    rows = [],
    rowsFor = "",
    wide = 0;

  const most = () => Math.max(640, Math.ceil((T.get("pace.daily_km") * 1.25) / 20) * 20);
  const fromUnit = (value) => value * (imperial() ? KM_PER_MI : 1);

  C.makeBar = () => {
    slider = el("input.pace-slider", {
      type: "range",
      "aria-label": "Daily distance",
      oninput: () => {
        R.asking.hold(true);
        choose(fromUnit(Number(slider.value)), "drag");
      },
      onchange: () => R.asking.hold(false),
      onpointerup: release,
      onkeyup: () => R.asking.hold(false),
    });
    typed = el("input", {
      type: "number",
      inputmode: "decimal",
      id: "pace-typed",
      step: "any",
      "aria-describedby": "pace-told",
      onchange: () => {
        const km = fromUnit(Number(typed.value));
        if (typed.value !== "" && km >= 5 && km <= 2000) choose(km, null);
        else paint();
      },
    });
    unit = el("span.unit", {});
    told = el("p.pace-told", { id: "pace-told" });
    chart = el("div.pace-chart", { "aria-hidden": "true" });
    const nudge = (by, sign, word) =>
      el(
        "button.step",
        {
          type: "button",
          "aria-label": `Daily distance: ${word}`,
          onclick: () => {
            const step = 5;
            choose(fromUnit(round(T.get("pace.daily_km") / fromUnit(1) + by * step, step)), "nudge");
          },
        },
        sign,
      );
    bar = el(
      "section.pace",
      { id: "pace", "aria-label": "Daily distance" },
      el(
        "div.pace-head",
        {},
        el(
          "span.pace-typed",
          {},
          nudge(-1, "−", "less"),
          el("label.pace-label", { for: "pace-typed" }, typed, unit),
          nudge(1, "+", "more"),
        ),
        el("span.pace-steps", {}, undo, redo),
        told,
        R.more("pace"),
      ),
      el("div.pace-rail", {}, chart, slider),
    );
    R.byId("panels").insertBefore(bar, R.byId("card"));
    new ResizeObserver(() => {
      wide = chart.clientWidth;
      if (R.plan) paintChart();
    }).observe(bar);
  };

  function release() {
    R.asking.hold(false);
    T.settle();
  }

  function choose(km, gesture) {
    const rounded = Math.round(km * 10) / 10;
    T.change(
      { "pace.daily_km": Math.max(5, Math.min(2000, rounded)) },
      `${F.distance(rounded * 1000)} a day`,
      gesture && `daily-${gesture}`,
    );
  }

  // The bar shows what is wanted at once; the plan follows.
  function paint() {
    const per = fromUnit(1);
    const km = T.get("pace.daily_km");
    slider.min = String(Math.ceil(LEAST_KM / per / 5) * 5);
    slider.max = String(Math.floor(most() / per / 5) * 5);
    slider.step = "5";
    if (document.activeElement !== slider || !R.asking.held) slider.value = String(km / per);
    typed.value = String(Math.round((km / per) * 10) / 10);
    R.fill(unit, F.distanceUnit(), el("span.a-day", {}, " a day"));
    slider.setAttribute("aria-valuetext", `${F.distance(km * 1000)} a day`);
    const share = (km / per - slider.min) / (slider.max - slider.min);
    bar.style.setProperty("--share", String(Math.max(0, Math.min(1, share))));
  }

  function tellPlan() {
    const { plan } = R;
    const loads = [plan.start_carry, ...plan.stops.map((stop) => ({ days: stop.carry_days }))].filter(Boolean);
    const most = Math.max(0, ...loads.map((one) => one.days));
    const over = plan.shortfalls.length > 0;
    R.fill(
      told,
      el("b", {}, F.plural(plan.trip.days, "day")),
      el("span", {}, F.plural(plan.stops.length, "stop")),
      el(`span${over ? ".over-word" : ""}`, {}, over && G.icon("alarm", 15), `${F.days(most)} of food at most`),
    );
  }

  // What each daily distance would mean, above the slider's own scale. The rows hold for any
  // daily distance: they are kept until something else changes.
  function takeRows() {
    const others = JSON.stringify({ ...T.state, trip: T.put(T.state.trip, "pace.daily_km", undefined) });
    if (R.plan.sweep && !R.partial) {
      const first = R.plan.trip.start_date;
      rows = R.plan.sweep.rows.filter((row) => !row.start_date || row.start_date === first);
      rowsFor = others;
    }
    chart.classList.toggle("stale", rowsFor !== others);
    paintChart();
  }

  function paintChart() {
    if (!rows.length || !wide) return R.fill(chart);
    const width = wide;
    const height = 30;
    const [low, high] = [Number(slider.min), Number(slider.max)];
    const thumb = 15;
    const x = (km) => thumb + ((km / fromUnit(1) - low) / (high - low)) * (width - 2 * thumb);
    const inside = rows.filter((row) => x(row.daily_m / 1000) >= 0 && x(row.daily_m / 1000) <= width);
    const top = Math.max(R.plan.trip.carry_limit_days || 3, ...inside.map((row) => row.max_carry_days));
    const root = R.svg("svg", { width, height, viewBox: `0 0 ${width} ${height}`, focusable: "false" });
    const end = inside.length ? x(inside.at(-1).daily_m / 1000) + 12 : 0;
    if (width - end > 205)
      root.append(R.svg("text.scale-text", { x: end, y: height - 4 }, "food carried; ▾ best for one goal"));
    for (const row of inside) {
      const tall = Math.max(2, (row.max_carry_days / top) * (height - 9));
      const px = Math.round(x(row.daily_m / 1000) * 10) / 10;
      root.append(
        R.svg(`rect.pace-mark${row.excess_meals > 0 ? ".over" : ""}`, {
          x: px - 1.5,
          y: height - tall,
          width: 3,
          height: tall,
          rx: 1,
        }),
      );
      if (row.best.length)
        root.append(R.svg("path.best-mark", { d: `M${px} 1l4 6h-8z`, transform: `rotate(180 ${px} 4)` }));
    }
    return R.fill(chart, root);
  }

  // ---- The row of buttons and the panel under it ----------------------------------------------
  let buttons, panel, undo, redo;
  C.start = (slot, card) => {
    const open = (id, word, icon) =>
      el(
        "button.bar-button",
        {
          type: "button",
          id: `open-${id}`,
          "aria-expanded": "false",
          "aria-controls": "live-panel",
          onclick: () => C.open(C.panel === id ? null : id),
        },
        G.icon(icon, 18),
        el("span", {}, word),
      );
    undo = el("button.tool", { type: "button", id: "undo", onclick: () => T.undo() }, G.icon("undo"));
    redo = el("button.tool", { type: "button", id: "redo", onclick: () => T.redo() }, G.icon("redo"));
    buttons = el(
      "div.live-bar",
      { role: "group", "aria-label": "The trip" },
      open("routes", "Routes", "map"),
      open("settings", "Settings", "sliders"),
      open("save", "Save", "save"),
    );
    panel = el("div.live-panel", { id: "live-panel", tabindex: "-1", hidden: true });
    R.ownSettings = true;
    R.fill(R.byId("switches"), buttons);
    slot.append(card, panel);
    // What lies under a finger stays there until it is lifted, whatever plan comes in meanwhile.
    panel.addEventListener("pointerdown", () => (pressed = true));
    for (const end of ["pointerup", "pointercancel"])
      addEventListener(end, () => {
        if (!pressed) return;
        setTimeout(() => {
          pressed = false;
          if (due) C.refresh();
        });
      });
    R.on("card", (what) => what && C.panel && R.plan && C.open(null));
    R.on("tab", () => C.panel && R.plan && C.open(null));
    R.on("trip", draw);
    R.on("plan", () => {
      tellPlan();
      takeRows();
      if (!R.partial && C.panel === "settings") C.refresh();
    });
    R.on("theme", () => C.panel === "settings" && C.refresh());
    R.on("prefs", () => {
      if (!T.state) return;
      paint();
      takeRows();
      C.refresh();
      R.asking.change();
    });
    document.addEventListener("keydown", (event) => {
      if (
        !(event.ctrlKey || event.metaKey) ||
        event.altKey ||
        (event.key.toLowerCase() !== "z" && event.key.toLowerCase() !== "y")
      )
        return;
      if (
        /** @type {Element} */ (event.target).closest("input:not([type=range]):not([type=checkbox]), select, textarea")
      )
        return;
      event.preventDefault();
      if (event.key.toLowerCase() === "y" || event.shiftKey) T.redo();
      else T.undo();
    });
  };

  C.panels = { settings: C.settings };
  C.open = (id) => {
    C.panel = id;
    for (const name of Object.keys(C.panels)) {
      const button = R.byId(`open-${name}`);
      if (button) button.setAttribute("aria-expanded", String(name === id));
    }
    if (id && R.card.shown) R.card.close();
    C.refresh();
    R.byId("panels").scrollTop = 0;
    if (id && R.plan) panel.focus({ preventScroll: true });
  };
  let pressed = false;
  let due = false;
  C.refresh = () => {
    due = pressed && C.panel !== null;
    if (due) return panel;
    panel.hidden = C.panel === null;
    document.body.classList.toggle("has-live-panel", C.panel !== null);
    if (C.panel === null) return R.fill(panel);
    const held = R.held()?.dataset.keep;
    R.fill(panel, el(`div.panel-${C.panel}`, {}, C.panels[C.panel]()));
    if (held) panel.querySelector(`[data-keep="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
    return panel;
  };

  function draw() {
    document.body.classList.add("has-trip");
    paint();
    const [last, next] = [T.past.at(-1), T.future.at(-1)];
    for (const [button, word, step] of [
      [undo, "Undo", last],
      [redo, "Redo", next],
    ]) {
      // Not disabled: a button that vanishes under the finger loses the keyboard's place.
      button.setAttribute("aria-disabled", String(!step));
      button.setAttribute("aria-label", step ? `${word}: ${step.words}` : `Nothing to ${word.toLowerCase()}`);
      button.title = button.getAttribute("aria-label");
    }
    if (C.panel === "settings") C.refresh();
  }

  R.controls = C;
})(window.Resupply);
