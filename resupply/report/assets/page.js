// Puts the page together: switches, tabs, and drawing a plan, the first or the next one.
"use strict";
(function (R) {
  const { el } = R;
  const G = R.glyphs;
  const cooked = (...ids) => R.kitchen.sections().filter((section) => ids.includes(section.id));
  /** @type {[string, string | null, () => any[]][]} */
  const TABS = [
    ["answers", "Answers", () => [{ id: "answers", draw: R.answers.panel }]],
    ["days", "Days", () => R.days.sections()],
    ["lists", "Lists", () => [...cooked("lists"), ...R.stops.sections(), R.filesBeside()].filter(Boolean)],
    ["kitchen", "Kitchen", () => [...cooked("menu", "packing"), ...R.cold.sections(), ...cooked("load")]],
    ["change", "Change", () => R.whatif.sections()],
    // Not in the bar: the answers lead to it.
    ["notes", null, () => R.notes.sections()],
  ];
  const Tabs = { current: "answers", waiting: new Map() };
  R.tabs = Tabs;

  function set(key, value) {
    R.prefs[key] = value;
    R.store.set("prefs", R.prefs);
    switches();
    if (key === "theme") theme();
    else if (R.plan) redraw();
    if (key !== "theme") R.tell("prefs");
  }
  const pair = (key, label, options) =>
    el(
      "div.switch",
      { role: "group", "aria-label": label },
      options.map(([value, text]) =>
        el(
          "button",
          {
            type: "button",
            "aria-pressed": String(R.prefs[key] === value),
            "data-keep": `switch-${key}-${value}`,
            onclick: () => set(key, value),
          },
          text,
        ),
      ),
    );
  R.switches = () => [
    pair("units", "Distances in", [
      ["metric", "km"],
      ["imperial", "mi"],
    ]),
    pair("clock", "Clock", [
      [24, "24 h"],
      [12, "12 h"],
    ]),
    pair("theme", "Colours", [
      ["auto", "Auto"],
      ["light", "Day"],
      ["dark", "Night"],
    ]),
  ];
  // Units, clock and colours behind one button; the live page has them among its settings.
  function switches() {
    if (R.card.shown && R.card.shown.key === "settings") R.card.redraw();
    if (R.ownSettings) return;
    R.fill(
      R.byId("switches"),
      el(
        "button.tool.plain-tool",
        { type: "button", id: "open-switches", "aria-label": "Units and colours", onclick: openSwitches },
        G.icon("sliders"),
      ),
    );
  }
  const openSwitches = () =>
    R.card.open({
      key: "settings",
      tab: Tabs.current,
      draw: () => ({
        title: "Units and colours",
        over: "",
        body: [el("div.card-row.switch-rows", {}, R.switches()), R.more("settings")],
      }),
    });

  function theme() {
    const night = matchMedia("(prefers-color-scheme: dark)");
    night.onchange = () => theme();
    const dark = R.prefs.theme === "dark" || (R.prefs.theme !== "light" && night.matches);
    document.documentElement.dataset.theme = dark ? "dark" : "light";
    R.tell("theme");
  }

  // Tabs after the usual pattern: arrows move, one tab stop, the panel is named by its tab.
  function drawTabs() {
    if (!TABS.some(([id]) => id === Tabs.current)) Tabs.current = "answers";
    R.fill(
      R.byId("tabs"),
      el(
        "div.tab-list",
        { role: "tablist", "aria-label": "Parts of the plan", onkeydown: arrows },
        TABS.filter(([, word]) => word).map(([id, word]) =>
          el(
            "button.tab",
            {
              type: "button",
              role: "tab",
              id: `tab-${id}`,
              "aria-controls": `panel-${id}`,
              onclick: () => Tabs.open(id),
            },
            G.icon(id),
            el("span", {}, word),
          ),
        ),
      ),
    );
    R.fill(
      R.byId("tab-panels"),
      TABS.map(([id, word, sections]) => {
        const node = el(`div.panel.panel-${id}`, {
          role: word ? "tabpanel" : "region",
          id: `panel-${id}`,
          "aria-labelledby": word ? `tab-${id}` : null,
          "aria-label": word ? null : "Cautions and sources",
          tabindex: "0",
        });
        Tabs.waiting.set(id, () => R.fill(node, panel(id, sections())));
        return node;
      }),
    );
    mark();
  }

  function panel(id, sections) {
    if (id === "answers") return sections[0].draw();
    const jump =
      sections.length > 1 &&
      el(
        "p.jump",
        {},
        sections.map((section) =>
          el("button.chip", { type: "button", onclick: () => reveal(section.id) }, section.short || section.title),
        ),
      );
    return [
      id === "notes" &&
        el("button.link.back-link", { type: "button", onclick: () => Tabs.open("answers") }, "‹ Answers"),
      jump,
      sections.map((section) =>
        el(
          "section.block",
          { id: `block-${section.id}`, "aria-labelledby": `title-${section.id}` },
          el("h2", { id: `title-${section.id}`, tabindex: "-1" }, section.title),
          section.draw(),
        ),
      ),
    ];
  }

  // A panel is filled when it is first looked at, so that a change of plan costs one panel, and
  // none under a sheet.
  function mark() {
    if (!R.card.shown && Tabs.waiting.has(Tabs.current)) {
      Tabs.waiting.get(Tabs.current)();
      Tabs.waiting.delete(Tabs.current);
    }
    const inBar = R.card.shown ? R.card.shown.tab : Tabs.current;
    const current = TABS.some(([id, word]) => id === inBar && word) ? inBar : "answers";
    for (const button of R.findAll("[role=tab]")) {
      const on = button.id === `tab-${current}`;
      button.setAttribute("aria-selected", String(on));
      button.tabIndex = on ? 0 : -1;
    }
    for (const node of R.findAll("#tab-panels > .panel"))
      node.hidden = Boolean(R.card.shown) || node.id !== `panel-${Tabs.current}`;
    document.body.dataset.tab = R.card.shown ? "card" : Tabs.current;
  }

  function reveal(id) {
    const title = R.byId(`title-${id}`);
    if (!title) return;
    title.scrollIntoView({ block: "start" });
    title.focus({ preventScroll: true });
  }

  Tabs.open = (id, section) => {
    Tabs.current = TABS.some(([known]) => known === id) ? id : "answers";
    R.store.set("tab", Tabs.current);
    if (R.card.shown) R.card.close();
    mark();
    R.tell("tab", Tabs.current);
    R.byId("panels").scrollTop = 0;
    if (section) reveal(section);
  };
  R.on("card", mark);
  // Where the rider is decides which shop is the next.
  R.on("found", () => Tabs.waiting.set("answers", () => R.fill(R.byId("panel-answers"), R.answers.panel())));

  // What the tabs show has changed without a new plan.
  Tabs.refresh = () => R.plan && !R.partial && drawTabs();

  function arrows(event) {
    const buttons = R.findAll("[role=tab]");
    const here = buttons.indexOf(document.activeElement);
    const to = { ArrowRight: here + 1, ArrowLeft: here - 1, Home: 0, End: buttons.length - 1 }[event.key];
    if (to === undefined || here < 0) return;
    event.preventDefault();
    const next = buttons[(to + buttons.length) % buttons.length];
    next.focus();
    next.click();
  }

  // While the rider drags only what shows answers, days and stops is drawn; the rest waits, and says so.
  const QUICK = ["answers", "days"];
  function redrawInPart() {
    R.answers.title();
    R.strip.take();
    for (const [id, , sections] of TABS) {
      const node = R.byId(`panel-${id}`);
      if (!node) continue;
      if (QUICK.includes(id)) Tabs.waiting.set(id, () => R.fill(node, panel(id, sections())));
      else node.classList.add("stale");
    }
    mark();
  }

  function redraw() {
    R.answers.title();
    R.strip.take();
    drawTabs();
    R.card.redraw();
    R.sheet.draw();
  }

  // Draw a plan. On the live page this is called after each change: the map keeps its view, and
  // the keyboard its place. `partial` plans have neither menu nor comparison.
  R.show = (plan, geo, { partial = false } = {}) => {
    const first = R.plan === null;
    const ground = R.geo !== geo;
    const held = R.held();
    R.take(plan, geo, partial);
    if (!R.prefs.units) {
      R.prefs = {
        units: plan.trip.units || "metric",
        clock: plan.trip.clock || 24,
        theme: R.prefs.theme,
        ...R.store.get("prefs", {}),
      };
      switches();
    }
    if (ground) R.draw.unwrap(geo);
    if (partial && R.byId("panel-days")) redrawInPart();
    else redraw();
    document.body.classList.add("drawn");
    R.view.settle(first);
    R.view.draw({ ground });
    if (held && !held.isConnected) {
      const again = R.find(`[data-keep="${CSS.escape(held.dataset.keep)}"]`);
      if (again) again.focus({ preventScroll: true });
    }
    R.tell("plan", plan);
  };

  // Before a plan of another route: it is looked at afresh.
  R.forget = () => {
    if (R.plan) R.tell("place", { chainage: null, from: "new" });
    R.plan = R.geo = null;
  };

  function fault(text) {
    const node = R.byId("fault");
    node.hidden = false;
    R.fill(node, text);
  }

  R.prefs.theme = R.store.get("prefs", {}).theme || "auto";
  theme();
  R.page = R.readData("page") || R.page;
  Tabs.current = R.store.get("tab", "answers");
  R.view.start();
  R.strip.start();
  try {
    const plan = R.readData("plan");
    if (plan && plan.schema !== "resupply-plan/2") fault(`This page cannot draw a plan of the kind “${plan.schema}”.`);
    else if (plan) {
      const geo = R.readData("geo");
      R.show(R.pocket.start(plan), geo);
    }
  } catch (error) {
    if (!(error instanceof R.Damaged)) throw error;
    fault(error.message);
  }
})(window.Resupply);
