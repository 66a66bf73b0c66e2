// Before the first route: what the page will show, drawn with its own signs. Nobody's trip.
"use strict";
(function (R) {
  const { el, svg } = R;
  const G = R.glyphs;

  // Places along the picture as shares of its width.
  const DAYS = [
    [0, 0.265],
    [0.265, 0.547],
    [0.547, 0.844],
    [0.844, 1],
  ];
  const SHOPS = [
    [0.07, "open"],
    [0.15, "shut"],
    [0.2, "usually_open"],
    [0.34, "tight"],
    [0.44, "unknown"],
    [0.515, "open"],
    [0.62, "shut"],
    [0.735, "shut"],
    [0.92, "open"],
  ];
  const STOPS = [
    [0.235, 1],
    [0.672, 2],
  ];
  const FOOD = [
    [0, 3],
    [0.095, 2],
    [0.19, 1],
    [0.235, 5],
    [0.33, 4],
    [0.42, 3],
    [0.515, 2],
    [0.61, 1],
    [0.672, 4],
    [0.78, 3],
    [0.875, 2],
    [0.96, 1],
    [1, 0],
  ];

  R.welcome = () => {
    const told = [
      ["Where each day ends", "and where you sleep there."],
      ["Which shops are open", "when you come by, and which only may be."],
      ["What to carry", "from each stop, how cold it stays, what to cook."],
    ];
    return el(
      "section.welcome",
      { "aria-label": "What the page shows" },
      R.charts.fitted(
        draw,
        "A route by distance: its days, the shops by their state, two stops, " +
          "and the food on board that falls and jumps.",
      ),
      el(
        "dl.welcome-words",
        {},
        told.map(([term, words]) => el("div", {}, el("dt", {}, term), el("dd", {}, words))),
      ),
    );
  };

  function draw(width) {
    const root = svg("svg", {
      viewBox: `0 0 ${width} 190`,
      width,
      height: 190,
      "aria-hidden": "true",
      focusable: "false",
    });
    const x = (share) => Math.round(share * width * 10) / 10;
    DAYS.forEach(([from, to], i) =>
      root.append(
        svg(`rect.day-band.day-${i + 1}`, { x: x(from) + 1, y: 0, width: x(to) - x(from) - 2, height: 26, rx: 3 }),
        svg("text.day-text", { x: x((from + to) / 2), y: 17.5, "text-anchor": "middle" }, `Day ${i + 1}`),
      ),
    );
    root.append(svg("line.rail", { x1: 0, x2: width, y1: 76, y2: 76 }));
    for (const [at, state] of SHOPS) {
      const sign = G.stateGlyph(state, 14);
      sign.setAttribute("x", x(at) - 7);
      sign.setAttribute("y", 69);
      root.append(sign);
    }
    for (const [at, number] of STOPS) {
      root.append(
        svg(
          "g.strip-pin",
          { transform: `translate(${x(at)} 34)` },
          svg("path", { d: "M-11 1h22v20h-7l-4 15l-4 -15h-7z" }),
          svg("text", { x: 0, y: 16, "text-anchor": "middle" }, number),
        ),
      );
    }
    const y = (meals) => 180 - meals * 15;
    const line = FOOD.map(([at, meals], i) => `${i ? `L${x(at)} ${y(FOOD[i - 1][1])}L` : ""}${x(at)} ${y(meals)}`).join(
      "",
    );
    root.append(
      svg("path.food-area", { d: `M${line}L${width} 180L0 180z` }),
      svg("path.food-line", { d: `M${line}` }),
      svg("line.limit", { x1: 0, x2: width, y1: y(5.4), y2: y(5.4) }),
    );
    return root;
  }
})(window.Resupply);
