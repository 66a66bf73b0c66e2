// The daily distance: slider, number and steps, and what each distance would mean above the slider.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const { KM_PER_MI } = R.factors;
  const B = {};
  const imperial = () => R.prefs.units === "imperial";
  const round = (value, step) => Math.round(value / step) * step;

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

  B.make = (buttons) => {
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
        el("span.pace-steps", {}, buttons),
        told,
        R.more("pace"),
      ),
      el("div.pace-rail", {}, chart, slider),
    );
    R.byId("panels").insertBefore(bar, R.byId("card"));
    R.on("plan", () => {
      tellPlan();
      takeRows();
    });
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
    const about = plan.styles.some((one) => one.chosen && one.approximate) ? "about " : "";
    R.fill(
      told,
      el("b", {}, F.plural(plan.trip.days, "day")),
      el("span", {}, about + F.plural(plan.stops.length, "stop")),
      el(`span${over ? ".over-word" : ""}`, {}, over && G.icon("alarm", 15), `${about}${F.days(most)} of food at most`),
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

  B.prefs = () => {
    paint();
    takeRows();
  };
  B.paint = paint;
  R.pace = B;
})(window.Resupply);
