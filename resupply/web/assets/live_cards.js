// What the live page tells of its work: loading, faults, and what was just changed.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const G = R.glyphs;
  const T = R.trip;
  const A = R.asking;
  const K = {};
  let card, toast;

  R.on("asking", ({ at, words, status: code }) => {
    document.body.classList.toggle("working", at === "quick" || at === "whole");
    if (at === "rest") return;
    A.working = at === "quick" || at === "whole";
    if (A.working && !R.plan && !A.load && !card.dataset.shows) busy("Working out the plan…");
    if (at === "fault" || at === "stopped" || at === "gone") fault(words, at, code);
    else if (!A.load) clear("fault");
  });
  R.on("drawn", ({ quick, newest }) => {
    clear("fault");
    clear("busy");
    if (quick || !newest) return;
    const { plan } = R;
    if (T.at(T.state.trip, "start.date") === undefined) T.fix("start.date", plan.trip.settings["start.date"]);
    R.store.set("last", {
      hash: location.hash,
      words: `${plan.trip.name}, ${F.distance(plan.trip.daily_m)} a day from ${F.date(plan.trip.start_date)}`,
    });
    R.say(
      `${F.distance(plan.trip.daily_m)} a day: ${F.plural(plan.trip.days, "day")}, ` +
        `${F.plural(plan.stops.length, "stop")}. ${F.words(plan.summary.headline)}`,
    );
  });

  function fault(words, at, code) {
    const again = at === "stopped" || code === undefined;
    const tone = at === "stopped" ? "" : ".alarm";
    const buttons = [
      again &&
        at !== "gone" &&
        el(
          "button.button.strong",
          { type: "button", id: "resume", onclick: () => A.resume() },
          at === "stopped" ? "Go on loading" : "Try again",
        ),
      T.past.length > 0 && el("button.button", { type: "button", onclick: () => T.undo() }, "Undo the last change"),
      at === "gone" &&
        el("button.button.strong", { type: "button", onclick: () => R.opening.choose() }, "Open the file"),
    ].filter(Boolean);
    show(
      "fault",
      `div.live-card${tone}`,
      { role: "alert" },
      el("p.fault-words", {}, G.icon(tone ? "alarm" : "caution", 18), el("span", {}, sentence(words))),
      buttons.length > 0 && el("div.card-buttons", {}, buttons),
    );
  }
  const sentence = (words) => F.upper(words) + (/[.!?]$/.test(words) ? "" : ".");
  // A card says why the page stands still: it is brought into sight wherever the rider is.
  function show(kind, spec, attributes, ...parts) {
    R.fill(card, el(spec, attributes, parts));
    card.dataset.shows = kind;
    const { top, bottom } = card.getBoundingClientRect();
    if (top < 0 || bottom > innerHeight) card.scrollIntoView({ block: "start" });
  }
  function clear(kind) {
    if (card.dataset.shows === kind) {
      R.fill(card);
      delete card.dataset.shows;
    }
  }

  // What was just changed, with the way back in reach wherever the rider is on the page.
  let fading = 0;
  function tell(words) {
    clearTimeout(fading);
    R.say(F.upper(words));
    if (!T.past.length) return;
    R.fill(
      toast,
      el("span", { dir: "auto" }, F.upper(words)),
      !/^Undone/.test(words) && el("button.link", { type: "button", onclick: () => T.undo() }, "Undo"),
    );
    toast.hidden = false;
    fading = setTimeout(() => (toast.hidden = true), 6000);
  }
  function busy(words) {
    show("busy", "div.live-card", {}, el("p.load-words", {}, words));
  }

  // Map data being read: what, how much, day by day where the service is asked.
  let words, meter;
  R.on("loading", (told) => {
    document.body.classList.toggle("loading", Boolean(told));
    if (!told) {
      clear("load");
      // Between the map data and the first plan the page is not left blank.
      if (!R.plan && A.working) busy("Working out the plan…");
      return;
    }
    if (card.dataset.shows !== "load") {
      words = el("p.load-words", {});
      meter = el("div.load-meter", {
        role: "progressbar",
        "aria-label": "Map data",
        "aria-valuemin": "0",
        "aria-valuemax": "100",
      });
      show(
        "load",
        "div.live-card",
        {},
        el("p.over", { dir: "auto" }, `Map data for ${R.opening.nameOf(T.state)}`),
        words,
        meter,
        el(
          "div.card-buttons",
          {},
          el("button.button", { type: "button", id: "stop-loading", onclick: () => A.stop() }, "Stop loading"),
          el("span.quiet", {}, "What is fetched is kept: a stopped load goes on where it was."),
        ),
      );
    }
    const legs = told.share === null ? [] : days();
    const leg = legs.findIndex(([, to]) => told.share < to - 1e-9);
    R.fill(
      words,
      `${told.what}…`,
      legs.length > 1 && leg >= 0 && el("span.load-leg", {}, `day ${leg + 1} of ${legs.length}`),
    );
    meter.classList.toggle("vague", told.share === null);
    if (told.share === null) {
      meter.removeAttribute("aria-valuenow");
      R.fill(meter, el("i", {}));
      return;
    }
    const percent = Math.round(told.share * 100);
    meter.setAttribute("aria-valuenow", String(percent));
    R.fill(
      meter,
      legs.map(([from, to], i) => {
        const cell = el(`span.load-day.${G.dayClass(i + 1)}`, {}, el("i", {}));
        cell.style.flexGrow = String(to - from);
        cell.firstChild.style.width = `${100 * Math.max(0, Math.min(1, (told.share - from) / (to - from)))}%`;
        return cell;
      }),
    );
  });

  // The route's days as shares of its length: the service is asked in this order.
  function days() {
    const length = R.opening.lengthOf(T.state.route);
    if (!length) return [[0, 1]];
    const count = Math.max(1, Math.ceil(length / (T.get("pace.daily_km") * 1000)));
    const share = (T.get("pace.daily_km") * 1000) / length;
    return Array.from({ length: count }, (_, i) => [i * share, Math.min(1, (i + 1) * share)]);
  }

  // A request of the page that was refused, or that nobody answered.
  function failed(problem) {
    fault(problem.status ? problem.message : K.SILENT, "fault", problem.status || 0);
  }

  K.SILENT = "The page's server does not answer. Start it again with: resupply page";
  K.start = () => {
    card = el("div.live-cards", {});
    toast = el("div.toast", { hidden: true });
    document.body.append(toast);
    return card;
  };
  Object.assign(K, { busy, clear, failed, show, tell });
  R.cards = K;
})(window.Resupply);
