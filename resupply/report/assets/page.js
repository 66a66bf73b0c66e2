// Puts the page together: switches, tabs, and drawing a plan, the first or the next one.
"use strict";
(function (R) {
  const { el } = R;
  const G = R.glyphs;
  /** @type {[string, string, () => any[]][]} */
  const TABS = [
    ["days", "Days", () => R.days.sections()],
    ["stops", "Stops", () => R.stops.sections()],
    ["kitchen", "Kitchen", () => R.kitchen.sections()],
    ["cold", "Cold", () => R.cold.sections()],
    ["whatif", "What if", () => R.whatif.sections()],
    ["notes", "Notes", () => R.notes.sections()],
  ];
  const Tabs = { current: "days", waiting: new Map() };
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
  const switches = () => R.fill(R.byId("switches"), folded(...R.switches()));

  // On a phone the switches fold away behind one button; on a wide screen it is not shown.
  let unfolded = false;
  function folded(...pairs) {
    const box = el("div.switch-row", { id: "switch-row" }, pairs);
    const button = el(
      "button.tool.switch-fold",
      {
        type: "button",
        "aria-label": "Units and colours",
        "aria-expanded": String(unfolded),
        "aria-controls": "switch-row",
        onclick: () => {
          unfolded = !unfolded;
          button.setAttribute("aria-expanded", String(unfolded));
          box.classList.toggle("unfolded", unfolded);
        },
      },
      G.icon("sliders"),
    );
    box.classList.toggle("unfolded", unfolded);
    return [button, box];
  }

  function theme() {
    const night = matchMedia("(prefers-color-scheme: dark)");
    night.onchange = () => theme();
    const dark = R.prefs.theme === "dark" || (R.prefs.theme !== "light" && night.matches);
    document.documentElement.dataset.theme = dark ? "dark" : "light";
    R.tell("theme");
  }

  // Tabs after the usual pattern: arrows move, one tab stop, the panel is named by its tab.
  function drawTabs() {
    const shown = TABS.map(([id, word, sections]) => ({ id, word, sections: sections() })).filter(
      (tab) => tab.sections.length,
    );
    if (!shown.some((tab) => tab.id === Tabs.current)) Tabs.current = shown[0].id;
    R.fill(
      R.byId("tabs"),
      el(
        "button.to-map",
        { type: "button", onclick: () => R.byId("map-box").scrollIntoView({ block: "start" }) },
        G.icon("map"),
        "Map",
      ),
      el(
        "div.tab-list",
        { role: "tablist", "aria-label": "Parts of the plan", onkeydown: arrows },
        shown.map((tab) =>
          el(
            "button.tab",
            {
              type: "button",
              role: "tab",
              id: `tab-${tab.id}`,
              "aria-controls": `panel-${tab.id}`,
              onclick: () => Tabs.open(tab.id),
            },
            G.icon(tab.id),
            el("span", {}, tab.word),
          ),
        ),
      ),
    );
    R.fill(
      R.byId("tab-panels"),
      shown.map((tab) => {
        const node = el("div.panel", {
          role: "tabpanel",
          id: `panel-${tab.id}`,
          "aria-labelledby": `tab-${tab.id}`,
          tabindex: "0",
        });
        Tabs.waiting.set(tab.id, () => R.fill(node, panel(tab)));
        return node;
      }),
    );
    mark();
  }

  function panel(tab) {
    const jump =
      tab.sections.length > 1 &&
      el(
        "p.jump",
        {},
        tab.sections.map((section) =>
          el("button.chip", { type: "button", onclick: () => reveal(section.id) }, section.short || section.title),
        ),
      );
    return [
      jump,
      tab.sections.map((section) =>
        el(
          "section.block",
          { id: `block-${section.id}`, "aria-labelledby": `title-${section.id}` },
          el("h2", { id: `title-${section.id}`, tabindex: "-1" }, section.title),
          section.draw(),
        ),
      ),
    ];
  }

  // A panel is filled when it is first looked at, so that a change of plan costs one panel.
  function mark() {
    if (Tabs.waiting.has(Tabs.current)) Tabs.waiting.get(Tabs.current)();
    Tabs.waiting.delete(Tabs.current);
    for (const button of R.findAll("[role=tab]")) {
      const on = button.id === `tab-${Tabs.current}`;
      button.setAttribute("aria-selected", String(on));
      button.tabIndex = on ? 0 : -1;
    }
    for (const node of R.findAll("[role=tabpanel]")) node.hidden = node.id !== `panel-${Tabs.current}`;
  }

  function reveal(id) {
    const title = R.byId(`title-${id}`);
    if (!title) return;
    title.scrollIntoView({ block: "start" });
    title.focus({ preventScroll: true });
  }

  Tabs.open = (id, section) => {
    Tabs.current = id;
    R.store.set("tab", id);
    mark();
    if (section) reveal(section);
    else if (R.byId("panels").getBoundingClientRect().top < 0 || matchMedia("(max-width: 979px)").matches)
      R.byId("panels").scrollIntoView({ block: "start" });
    else R.byId("tab-panels").scrollTop = 0;
  };

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

  // While the rider drags only what shows days and stops is drawn; the rest waits, and says so.
  function redrawInPart() {
    R.summary.draw();
    R.strip.take();
    for (const [id, , sections] of TABS) {
      const node = R.byId(`panel-${id}`);
      if (!node) continue;
      if (id === "days" || id === "stops") Tabs.waiting.set(id, () => R.fill(node, panel({ sections: sections() })));
      else node.classList.add("stale");
    }
    mark();
  }

  function redraw() {
    R.summary.draw();
    R.strip.take();
    R.road.draw();
    drawTabs();
    R.notes.colophon();
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
  Tabs.current = R.store.get("tab", "days");
  R.view.start();
  R.strip.start();
  const plan = R.readData("plan");
  if (plan) {
    if (plan.schema !== "resupply-plan/2") fault(`This page cannot draw a plan of the kind “${plan.schema}”.`);
    else R.show(plan, R.readData("geo"));
  }
})(window.Resupply);
