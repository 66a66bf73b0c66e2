// The page's own signs. What a sign means is carried by its shape; colour only helps.
// Open: full disc. Tight: disc half full. Shut: square with a bar. Not known: diamond, empty.
// Usually open or shut (an estimate): the same disc or square drawn as a broken outline.
// Open unless it is a public holiday: a disc inside a ring. The words are the plan's own.
"use strict";
(function (R) {
  const TONES = {
    open: "open",
    open_unless_holiday: "open",
    tight: "tight",
    usually_open: "usual",
    unknown: "unknown",
    usually_shut: "usual",
    shut: "shut",
    untimed: "untimed",
  };

  const G = {};
  G.state = (crossing) => (TONES[crossing.state] ? crossing.state : "unknown");
  G.states = () => R.page.states;
  G.word = (state) => (state === "untimed" ? "always there" : R.page.states[state].word);
  G.tone = (state) => TONES[state];

  // Paths in a 16 × 16 box: [what to fill, what to stroke, dashes]
  const disc = (r) => `M8 ${8 - r}a${r} ${r} 0 1 1 0 ${2 * r}a${r} ${r} 0 1 1 0 ${-2 * r}z`;
  const SHAPES = {
    open: { fill: disc(6.5) },
    tight: { fill: "M8 1.5a6.5 6.5 0 0 0 0 13z", line: disc(6) },
    shut: { fill: "M2 2h12v4.2H2zM2 9.8h12V14H2z" },
    unknown: { line: "M8 1.3 14.7 8 8 14.7 1.3 8z" },
    open_unless_holiday: { fill: disc(3.6), line: disc(6.2) },
    usually_open: { line: disc(6), dash: "3 2.2" },
    usually_shut: { line: "M2.5 2.5h11v11h-11z", dash: "3 2.2" },
    untimed: { line: disc(5.5) },
  };
  // What a place is for, in the same box.
  const SUPPLIES = {
    groceries: { word: "Full shop", fill: "M2 6h12l-1.5 8.5h-9z", line: "M5 6a3 3.6 0 0 1 6 0" },
    small_groceries: { word: "Small shop", line: "M2.8 6.5h10.4l-1.3 7.5H4.1zM5.2 6.2a2.8 3.4 0 0 1 5.6 0" },
    ice: { word: "Ice", line: "M8 1.5v13M2.4 4.8l11.2 6.4M13.6 4.8 2.4 11.2" },
    water: { word: "Water", fill: "M8 1.2c3 3.8 4.6 6.2 4.6 8.5a4.6 4.6 0 0 1-9.2 0C3.4 7.400 5 5 8 1.200z" },
    fuel: { word: "Fuel", fill: "M3 2h6.500v12.500H3z", line: "M9.500 6h2.200l1.300 1.800v4.400" },
    camp: { word: "Camp", fill: "M8 2.500 15 14H9.800L8 10.600 6.200 14H1z" },
    meal_out: {
      word: "Meal out",
      line: "M5 1.500v13M2.800 1.500v4.300h4.400V1.500M11.500 14.500v-13c-1.800 1.500-2.400 4-2 7h2",
    },
    mark: { word: "Your own mark", line: "M4 14.500v-13h8l-2 3.200 2 3.200H4" },
  };
  G.supplies = SUPPLIES;
  G.supplyWord = (supply) => (SUPPLIES[supply] ? SUPPLIES[supply].word : String(supply).replaceAll("_", " "));

  function draw(shape, className, size) {
    return R.svg(
      `svg.${className}`,
      { viewBox: "0 0 16 16", width: size, height: size, "aria-hidden": "true", focusable: "false" },
      shape.fill && R.svg("path.glyph-fill", { d: shape.fill }),
      shape.line && R.svg("path.glyph-line", { d: shape.line, "stroke-dasharray": shape.dash }),
    );
  }
  G.stateGlyph = (state, size = 16) => draw(SHAPES[state], `glyph.tone-${TONES[state]}`, size);
  G.supplyGlyph = (supply, size = 16) => draw(SUPPLIES[supply] || SUPPLIES.mark, "glyph.supply", size);
  G.shape = (state) => SHAPES[state];
  G.supplyShape = (supply) => SUPPLIES[supply];

  // Sign and word together: the only way a state is shown in text.
  G.badge = (crossing, words) => {
    const state = G.state(crossing);
    return R.el(`span.state.tone-${TONES[state]}`, {}, G.stateGlyph(state), R.el("span", {}, words || G.word(state)));
  };

  // The place's foremost use decides its sign on the map.
  const ORDER = ["groceries", "small_groceries", "fuel", "ice", "camp", "water", "meal_out"];
  G.mainSupply = (place) => ORDER.find((supply) => supply in (place.supplies || {})) || "groceries";
  G.isShop = (place) => "groceries" in (place.supplies || {}) || "small_groceries" in (place.supplies || {});

  G.dayColours = 6;
  G.dayVar = (number) => `--day-${((number - 1) % G.dayColours) + 1}`;
  G.dayClass = (number) => `day-${((number - 1) % G.dayColours) + 1}`;

  // Pins: one family. The top says what is done there, the sign inside with what.
  // Round: buy. Cut corners: fill up. Gable: sleep. Awning: a meal. Square: start and end.
  const FOOT = "h-6l-4 6-4-6z";
  const TOPS = {
    buy: `M6 31V15a10 10 0 0 1 20 0v16${FOOT}`,
    fill: `M6 31V11l5-5h10l5 5v20${FOOT}`,
    sleep: `M6 31V14L16 4.5l10 9.5v17${FOOT}`,
    eat: `M6 31V10a3.34 3.34 0 0 1 6.67 0 3.34 3.34 0 0 1 6.66 0 3.34 3.34 0 0 1 6.67 0v21${FOOT}`,
    mark: `M6 31V7h20v24${FOOT}`,
  };
  const PINS = {
    food: { top: "buy", word: "Food", sign: "M10.5 18.500h11l-1.600 7h-7.800zM13 18.500c0-5 6-5 6 0", size: 1.08 },
    ice: {
      top: "buy",
      word: "Ice",
      sign: "M16 12.500l5.300 3v6.500l-5.300 3-5.300-3v-6.500zM10.700 15.500l5.300 3 5.300-3M16 18.500v6.500",
      size: 0.92,
    },
    fuel: {
      top: "fill",
      word: "Fuel",
      sign: "M11.500 15h7l2 2.500v8.500h-9zM13 15v-2.500h4.500M13 18.500l6 5.500M19 18.500l-6 5.500",
      size: 0.8,
    },
    water: {
      top: "fill",
      word: "Water",
      sign: "M16 12.500c3 3.800 4.500 6 4.500 8.300a4.500 4.500 0 0 1-9 0c0-2.300 1.500-4.500 4.500-8.300z",
      size: 0.8,
    },
    camp: {
      top: "sleep",
      word: "Camp",
      sign: "M16 14.500l5.800 11h-11.600zM16 20l-2.300 5.500M16 20l2.300 5.500",
      size: 0.84,
    },
    meal_out: {
      top: "eat",
      word: "Meal out",
      sign: "M12.500 14.500v12M10.500 14.500v3.500h4v-3.500M20 26.500v-12c-2 1.500-2.500 4-2.500 6.500h2.500",
      size: 0.84,
    },
    mark: { top: "mark", word: "Start and end", sign: "M12 26V13h8.500l-2 3 2 3H12", size: 0.76 },
  };
  G.pins = PINS;
  G.pinKinds = Object.keys(PINS);

  // State is a doorway: shutter half down, it may be shut; down, it is shut. Open ones carry none.
  const DOORS = { shut: 4, tight: 2, unknown: 2, usually_open: 2, usually_shut: 2 };
  const door = (state) =>
    DOORS[state] &&
    R.svg(
      "g.pin-door",
      {},
      R.svg("path.door-plate", { d: "M20.500 21h10.500v11.500h-10.500z" }),
      R.svg("path.door-slats", {
        d: Array.from({ length: DOORS[state] }, (_, i) => `M21.500 ${22 + 2.6 * i}h8.500v1.500h-8.500z`).join(""),
      }),
    );

  // Drawn in a box of 32 × 40, its foot at 16, 37. `bare`: nothing is known there.
  G.pin = (kind, { scale = PINS[kind].size, next = false, bare = false, state = "open" } = {}) =>
    R.svg(
      `svg.pin-shape${next ? ".pin-next" : ""}${bare ? ".pin-bare" : ""}`,
      {
        viewBox: "0 0 32 40",
        width: Math.round(32 * scale * 10) / 10,
        height: Math.round(40 * scale * 10) / 10,
        "aria-hidden": "true",
        focusable: "false",
      },
      R.svg("path.pin-body", { d: TOPS[PINS[kind].top] }),
      R.svg("path.pin-sign", { d: PINS[kind].sign }),
      door(state),
    );

  const UI = {
    find: "M8 1v3M8 12v3M1 8h3M12 8h3M8 4.500a3.500 3.500 0 1 1 0 7 3.500 3.500 0 1 1 0-7z",
    fit: "M2 6V2h4M10 2h4v4M14 10v4h-4M6 14H2v-4",
    key: "M2 4h5M2 8h5M2 12h5M10 4h4M10 8h4M10 12h4",
    sliders: "M2 4.500h7M12.500 4.500H14M2 11.500h2M7.500 11.500H14M9 2.500v4h3.500v-4zM4 9.500v4h3.500v-4z",
    plus: "M8 2.500v11M2.500 8h11",
    minus: "M2.500 8h11",
    map: "M1.500 4 6 2l4.500 2L14.500 2v10L10 14l-4.500-2-4 2zM6 2v10M10.200 4v10",
    answers: "M3 14.500V7a5 5 0 0 1 10 0v7.500zM6 8h4M6 11h2.500",
    lists: "M3 5h10l-1.300 9.500H4.300zM5.500 5c0-4.500 5-4.500 5 0",
    change: "M2 6h9L8 3M14 10H5l3 3",
    go: "M6 2.500 11.500 8 6 13.500",
    days: "M2 3.500h12v11H2zM2 6.500h12M5 1.500v3M11 1.500v3",
    stops: "M2 6h12l-1.500 8.500h-9zM5 6a3 3.600 0 0 1 6 0",
    cold: "M8 1.500v13M2.400 4.800l11.200 6.400M13.600 4.800 2.400 11.200",
    kitchen: "M2 7.500h12v3a4 4 0 0 1-4 4H6a4 4 0 0 1-4-4zM5 5V3.500M8 5V2M11 5V3.500",
    whatif: "M3 14V9l5-3.500L13 9M8 5.500V1.500M5.500 3.500 8 1.200l2.500 2.300",
    notes: "M3 1.500h7l3 3v10H3zM5.500 7h5M5.500 10h5",
    caution: "M8 2 15 14H1zM8 6.500v3.500M8 11.800v.6",
    undo: "M6 2.500 2.500 6 6 9.500M2.500 6H10a3.750 3.750 0 0 1 0 7.500H6",
    redo: "M10 2.500 13.500 6 10 9.500M13.500 6H6a3.750 3.750 0 0 0 0 7.500h4",
    save: "M8 1.500v8.500M4.500 6.800 8 10.300l3.500-3.500M2 11.500v3h12v-3",
    upload: "M8 10.500V2M4.500 5.200 8 1.700l3.500 3.500M2 11.500v3h12v-3",
    keep: "M4 1.500h8v13l-4-3.200-4 3.200z",
    pin: "M8 14.500V9.500M4.500 9.500h7L10 6.500V1.500H6v5z",
    tick: "M3 8.500l3.500 3.500L13 4.500",
    cross: "M3 3l10 10M13 3 3 13",
    alarm: "M5 1.500h6l3.500 3.500v6L11 14.500H5L1.500 11V5zM8 4.500v4.500M8 11v.8",
  };
  G.icon = (name, size = 20) => draw({ line: UI[name] }, "glyph.icon", size);

  R.glyphs = G;
})(window.Resupply);
