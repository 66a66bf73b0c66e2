// Before the first route: what the page will show, drawn with its own signs. Nobody's trip.
"use strict";
(function (R) {
  const { el, svg } = R;
  const G = R.glyphs;

  const DAYS = [[0, 170], [170, 350], [350, 540], [540, 640]];
  const SHOPS = [[46, "open"], [98, "shut"], [128, "usual"], [216, "tight"], [282, "unknown"], [330, "open"], [398, "shut"], [470, "shut"], [590, "open"]];
  const STOPS = [[150, 1], [430, 2]];
  const FOOD = [[0, 3], [60, 2], [120, 1], [150, 5], [210, 4], [270, 3], [330, 2], [390, 1], [430, 4], [500, 3], [560, 2], [615, 1], [640, 0]];

  R.welcome = () => {
    const root = svg("svg.welcome-picture", { viewBox: "0 0 640 190", "aria-hidden": "true", focusable: "false" });
    DAYS.forEach(([from, to], i) => root.append(
      svg(`rect.day-band.day-${i + 1}`, { x: from + 1, y: 0, width: to - from - 2, height: 26, rx: 3 }),
      svg("text.day-text", { x: (from + to) / 2, y: 17.5, "text-anchor": "middle" }, `Day ${i + 1}`)));
    root.append(svg("line.rail", { x1: 0, x2: 640, y1: 76, y2: 76 }));
    for (const [at, state] of SHOPS) {
      const sign = G.stateGlyph(state, 14);
      sign.setAttribute("x", at - 7);
      sign.setAttribute("y", 69);
      root.append(sign);
    }
    for (const [at, number] of STOPS) {
      root.append(svg("g.strip-pin", { transform: `translate(${at} 34)` }, svg("path", { d: "M-11 1h22v20h-7l-4 15l-4 -15h-7z" }), svg("text", { x: 0, y: 16, "text-anchor": "middle" }, number)));
    }
    const y = (meals) => 180 - meals * 15;
    const line = FOOD.map(([at, meals], i) => `${i ? `L${at} ${y(FOOD[i - 1][1])}` : ""}${i ? "L" : ""}${at} ${y(meals)}`).join("");
    root.append(svg("path.food-area", { d: `M${line}L640 180L0 180z` }), svg("path.food-line", { d: `M${line}` }), svg("line.limit", { x1: 0, x2: 640, y1: y(5.4), y2: y(5.4) }));
    const told = [["Where each day ends", "and where you sleep there."], ["Which shops are open", "when you come by, and which only may be."], ["What to carry", "from each stop, how cold it stays, what to cook."]];
    return el("section.welcome", { "aria-label": "What the page shows" }, root,
      el("dl.welcome-words", {}, told.map(([term, words]) => el("div", {}, el("dt", {}, term), el("dd", {}, words)))));
  };
})(window.Resupply);
