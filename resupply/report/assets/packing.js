// The cooler as it is packed, drawn from the bottom up, with the same in words beside it.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;

  function draw() {
    const block = R.plan.packing;
    const layers = [...(block.layers || [])].sort((a, b) => a.order - b.order);
    return [
      el("p.lead", {}, F.words(block.words)),
      el("div.packing", {},
        layers.length > 0 && el("div.packing-picture", {}, picture(layers)),
        el("ol.packing-list", { reversed: true }, [...layers].reverse().map((layer) =>
          el("li", { value: layer.order }, el("h3", {}, layer.title), el("p", { dir: "auto" }, (layer.items || []).join(", ")), layer.note && el("p.quiet", {}, F.words(layer.note)))))),
      (block.bags || []).map((bag) => el("div.bag", {}, el("h3", {}, bag.title), el("p", { dir: "auto" }, (bag.items || []).join(", ")), bag.note && el("p.quiet", {}, F.words(bag.note)))),
    ];
  }

  // Pattern by what a layer is, number by its order: readable without colour.
  function kind(title) {
    if (/\bice\b|\bcubes\b/i.test(title)) return "ice";
    if (/\braw\b|\bmeat\b/i.test(title)) return "raw";
    return "food";
  }

  function picture(layers) {
    const [width, inner, step] = [220, 168, 40];
    const deep = layers.length * step;
    const height = deep + 62;
    const root = svg("svg.cooler-picture", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `Cooler from the bottom up: ${layers.map((l) => l.title).join(", ")}` });
    root.append(
      svg("defs", {},
        svg("pattern", { id: "pack-ice", width: 10, height: 10, patternUnits: "userSpaceOnUse" }, svg("rect.pack-ice-ground", { width: 10, height: 10 }), svg("path.pack-ice-line", { d: "M0 10 10 0M0 0l10 10" })),
        svg("pattern", { id: "pack-raw", width: 8, height: 8, patternUnits: "userSpaceOnUse" }, svg("rect.pack-raw-ground", { width: 8, height: 8 }), svg("circle.pack-raw-dot", { cx: 4, cy: 4, r: 1.5 }))),
      svg("path.cooler-lid", { d: `M14 22q0-12 12-12h${width - 52}q12 0 12 12v6H14z` }),
      svg("path.cooler-handle", { d: `M${width / 2 - 26} 10V4h52v6` }),
      svg("path.cooler-wall", { d: `M18 30h${width - 36}l-5 ${deep + 16}q-1 8-8 8H31q-7 0-8-8z` }));
    layers.forEach((layer, i) => {
      const y = 34 + deep - (i + 1) * step;
      const what = kind(layer.title);
      root.append(svg("g", {},
        svg(`rect.pack-layer.pack-${what}`, { x: (width - inner) / 2, y: y + 2, width: inner, height: step - 4, rx: 4, fill: what === "food" ? null : `url(#pack-${what})` }),
        svg("rect.pack-plate", { x: (width - inner) / 2 + 6, y: y + 8, width: Math.min(inner - 12, 30 + layer.title.length * 7.4), height: step - 16, rx: 3 }),
        svg("text.pack-number", { x: (width - inner) / 2 + 13, y: y + 25 }, layer.order),
        svg("text.pack-text", { x: (width - inner) / 2 + 30, y: y + 25 }, layer.title.length > 18 ? `${layer.title.slice(0, 17)}…` : layer.title)));
    });
    return root;
  }

  R.packing = { draw };
})(window.Resupply);
