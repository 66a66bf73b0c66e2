// Two plans side by side: the present one and one that was kept. What is compared are figures of
// the two plan documents; nothing is planned here.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const P = { kept: R.store.get("kept", null) };

  // The few figures of a plan that are compared.
  function digest(plan) {
    const crossing = (stop) => R.passById.get(stop.pass) || {};
    return {
      route: T.state.route,
      hash: T.write(T.state),
      name: plan.trip.name,
      start: plan.trip.start_date,
      daily_m: plan.trip.daily_m,
      days: plan.trip.days,
      ends_m: plan.legs.map((leg) => leg.end_m),
      start_carry: { meals: plan.start_carry.meals, days: plan.start_carry.days },
      stops: plan.stops.map((stop) => ({
        place: stop.place,
        name: R.placeName(stop.place),
        chainage_m: stop.chainage_m,
        number: stop.number,
        arrive: stop.arrive,
        minutes: stop.minutes,
        detour_s: crossing(stop).detour_s || 0,
        carry_meals: stop.carry_meals,
        carry_days: stop.carry_days,
        state: stop.state,
      })),
      gap:
        plan.gaps.groceries && plan.gaps.groceries.longest
          ? { length_m: plan.gaps.groceries.longest.length_m, days: plan.gaps.groceries.longest.days }
          : null,
      shut: plan.passes.filter((one) => one.state === "shut" && G.isShop(R.place(one.place))).length,
      over: plan.shortfalls.reduce((sum, short) => sum + (short.excess_meals || 0), 0),
    };
  }
  const tenth = (value) => Math.round(value * 10) / 10;
  const mostDays = (one) => Math.max(one.start_carry.days, ...one.stops.map((stop) => stop.carry_days));
  const extraMin = (one) => Math.round(one.stops.reduce((sum, stop) => sum + stop.minutes + stop.detour_s / 60, 0));
  const sure = (one) =>
    one.stops.filter((stop) => stop.state === "open" || stop.state === "open_unless_holiday").length;

  P.keep = () => {
    P.kept = digest(R.plan);
    R.store.set("kept", P.kept);
    R.say("This plan is kept. Changes are compared with it.");
    changed();
  };
  P.drop = () => {
    P.kept = null;
    R.store.set("kept", null);
    changed();
  };
  P.back = () => {
    const state = T.read(P.kept.hash);
    if (state) T.open(state, "back to the kept plan");
  };
  function changed() {
    tell();
    R.strip.draw();
    R.tabs.refresh();
  }

  // ---- Beside the daily distance ---------------------------------------------------------------
  let button, line;
  R.actions.pace = () => {
    button = el("button.button.keep-button", { type: "button", id: "keep-plan", onclick: P.keep });
    return button;
  };
  P.start = () => {
    line = el("p.pace-kept", { id: "pace-kept", hidden: true });
    R.byId("pace").append(line);
    R.tracks.all.splice(2, 0, track);
    R.on("plan", tell);
    tell();
  };

  // A length as it is shown, in metres again.
  const shownMetres = (metres) => {
    const unit = metres / F.inUnits(metres);
    const value = metres / unit;
    return (value < 9.95 ? tenth(value) : Math.round(value)) * unit;
  };

  const changes = (now) => {
    const { kept } = P;
    const parts = [];
    const add = (difference, words) =>
      difference && parts.push(words(Math.abs(difference), difference > 0 ? "more" : "less"));
    add(now.days - kept.days, (n, way) => `${F.plural(n, "day")} ${way === "more" ? "more" : "fewer"}`);
    add(
      now.stops.length - kept.stops.length,
      (n, way) => `${F.plural(n, "stop")} ${way === "more" ? "more" : "fewer"}`,
    );
    // Of what is shown, so that the difference is that of the two figures.
    add(
      Math.round((tenth(mostDays(now)) - tenth(mostDays(kept))) * 10) / 10,
      (n, way) => `${F.days(n)} of food ${way} at most`,
    );
    add(extraMin(now) - extraMin(kept), (n, way) => `${F.hours(n * 60)} ${way} at shops`);
    add(
      now.shut - kept.shut,
      (n, way) => `${n} ${way === "more" ? "more" : "fewer"} ${n === 1 ? "shop" : "shops"} shut`,
    );
    return parts;
  };
  const title = (one) => `${F.distance(one.daily_m)} a day from ${F.date(one.start)}`;

  function tell() {
    if (!button) return;
    R.fill(button, G.icon("keep", 16), el("span", {}, P.kept ? "Keep this instead" : "Keep to compare"));
    line.hidden = !P.kept || !R.plan || !T.state;
    if (line.hidden) return;
    const parts = changes(digest(R.plan));
    R.fill(
      line,
      el(
        "button.link",
        { type: "button", "data-keep": "compare", onclick: () => R.tabs.open("change", "compare") },
        `Against ${P.kept.start === R.plan.trip.start_date ? `${F.distance(P.kept.daily_m)} a day` : title(P.kept)}`,
      ),
      `: ${parts.length ? parts.join(", ") : "no difference"}.`,
    );
  }

  // ---- On the strip: the kept plan's stops and day ends ------------------------------------------
  const track = {
    title: "Kept",
    height: 20,
    present: () => Boolean(P.kept && T.state && P.kept.route === T.state.route),
    draw(group, x, top, height, range) {
      const inside = (at) => at >= range[0] && at <= range[1];
      const middle = top + height / 2;
      group.append(svg("line.kept-rail", { x1: x(range[0]), x2: x(range[1]), y1: middle, y2: middle }));
      for (const end of P.kept.ends_m.slice(0, -1).filter(inside))
        group.append(svg("line.kept-day", { x1: x(end), x2: x(end), y1: top + 2, y2: top + height - 2 }));
      for (const stop of P.kept.stops.filter((one) => inside(one.chainage_m))) {
        const px = Math.round(x(stop.chainage_m) * 10) / 10;
        group.append(
          svg("rect.kept-stop", { x: px - 9, y: top + 1, width: 18, height: 18, rx: 4 }),
          svg("text.kept-number", { x: px, y: top + 14.5, "text-anchor": "middle" }, stop.number),
        );
      }
    },
  };

  // ---- The table under "What if" ------------------------------------------------------------------
  R.actions.whatif = () =>
    P.kept && T.state && { id: "compare", title: "Against the kept plan", short: "Kept plan", draw };

  function draw() {
    const { kept } = P;
    const now = digest(R.plan);
    const row = (name, show, before, after, words) => {
      // The difference of the two figures as they are shown: they add up.
      const difference = tenth(tenth(after) - tenth(before));
      return el(
        "tr",
        {},
        el("th", { scope: "row" }, name),
        el("td", {}, show(before)),
        el("td", {}, show(after)),
        el("td", {}, difference ? words(Math.abs(difference), difference > 0) : "the same"),
      );
    };
    const more = (one, many) => (n, up) => `${F.plural(n, one, many)} ${up ? "more" : "fewer"}`;
    return [
      kept.route !== now.route &&
        el(
          "p.caution",
          {},
          G.icon("caution", 16),
          el("span", {}, "The kept plan is for another route: only the figures say something."),
        ),
      R.scroll(
        el(
          "table.compare",
          {},
          el("caption", {}, "The two plans"),
          el(
            "thead",
            {},
            el(
              "tr",
              {},
              el("td", {}),
              el("th", { scope: "col" }, "Kept"),
              el("th", { scope: "col" }, "Now"),
              el("th", { scope: "col" }, "Change"),
            ),
          ),
          el(
            "tbody",
            {},
            el(
              "tr",
              {},
              el("th", { scope: "row" }, "Plan"),
              el("td", {}, title(kept)),
              el("td", {}, title(now)),
              el("td", {}, ""),
            ),
            row("Days", (n) => F.plural(n, "day"), kept.days, now.days, more("day")),
            row("Stops", (n) => F.plural(n, "stop"), kept.stops.length, now.stops.length, more("stop")),
            row("known to be open", String, sure(kept), sure(now), more("stop")),
            row(
              "Most food on board",
              F.days,
              mostDays(kept),
              mostDays(now),
              (n, up) => `${F.days(n)} ${up ? "more" : "less"}`,
            ),
            row(
              "Over your limit",
              (n) => (n ? F.plural(n, "meal") : "nowhere"),
              kept.over,
              now.over,
              (n, up) => `${F.plural(n, "meal")} ${up ? "more" : "fewer"}`,
            ),
            row(
              "Time at shops and to them",
              (n) => F.hours(n * 60),
              extraMin(kept),
              extraMin(now),
              (n, up) => `${F.hours(n * 60)} ${up ? "more" : "less"}`,
            ),
            row("Shops shut when you pass", String, kept.shut, now.shut, more("shop")),
            kept.gap && now.gap
              ? row(
                  "Longest gap between shops",
                  F.distance,
                  shownMetres(kept.gap.length_m),
                  shownMetres(now.gap.length_m),
                  (n, up) => `${F.distance(n)} ${up ? "longer" : "shorter"}`,
                )
              : null,
          ),
        ),
      ),
      stopTable(kept, now),
      el(
        "p.compare-buttons",
        {},
        el("button.button", { type: "button", onclick: P.back }, "Go back to the kept plan"),
        el("button.button", { type: "button", onclick: P.drop }, "Forget the kept plan"),
      ),
    ];
  }

  // Stops in riding order; one at the same shop in both plans is one row.
  function stopTable(kept, now) {
    const rows = new Map();
    for (const [side, plan] of [
      ["kept", kept],
      ["now", now],
    ]) {
      for (const stop of plan.stops) {
        const key = `${stop.place} ${Math.round(stop.chainage_m / 1000)}`;
        rows.set(key, { ...rows.get(key), at: stop.chainage_m, name: stop.name, [side]: stop });
      }
    }
    const cell = (stop) =>
      stop
        ? el(
            "td",
            {},
            el("span.cell-line", {}, el("b.num", {}, stop.number), F.when(stop.arrive)),
            el("span.cell-line", {}, G.badge(stop)),
            el("span.cell-line", {}, `carry ${F.plural(stop.carry_meals, "meal")}`),
          )
        : el("td.no-stop", {}, "no stop");
    const start = (one) => el("td", {}, `carry ${F.plural(one.start_carry.meals, "meal")}`);
    return R.scroll(
      el(
        "table.compare",
        {},
        el("caption", {}, "Stop by stop"),
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            el("th", { scope: "col" }, "Shop"),
            el("th", { scope: "col" }, "Kept"),
            el("th", { scope: "col" }, "Now"),
          ),
        ),
        el(
          "tbody",
          {},
          el("tr", {}, el("th", { scope: "row" }, "At the start"), start(kept), start(now)),
          [...rows.values()]
            .sort((a, b) => a.at - b.at)
            .map((one) =>
              el(
                `tr${one.kept && one.now ? "" : ".changed-row"}`,
                {},
                el(
                  "th",
                  { scope: "row" },
                  el("span", { dir: "auto" }, one.name),
                  el("span.quiet", {}, ` ${F.at(one.at)}`),
                ),
                cell(one.kept),
                cell(one.now),
              ),
            ),
        ),
      ),
    );
  }

  R.compare = P;
})(window.Resupply);
