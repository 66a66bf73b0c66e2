// The cooler after each stop, drawn from the bottom up, with the same in words beside it.
"use strict";
(function (R) {
  const { el, svg } = R;
  const F = R.format;

  function draw() {
    const { stops, rules } = R.plan.packing;
    const box = el("div", {});
    const pick = el(
      "select",
      { onchange: () => R.fill(box, after(stops[Number(pick.value)])) },
      stops.map((stop, i) => el("option", { value: i }, stop.stop ? `stop ${stop.stop}: ${stop.name}` : "home")),
    );
    if (stops.length) R.fill(box, after(stops[0]));
    return [
      stops.length > 1 && el("label.field", {}, el("span", {}, "Packed at"), pick),
      box,
      rules &&
        el(
          "details",
          {},
          el("summary", {}, "Rules of packing, with their sources"),
          el(
            "ul",
            {},
            Object.values(rules).map((rule) => el("li", {}, F.words(rule.words), el("span.source", {}, rule.source))),
          ),
        ),
    ];
  }

  // Layers come bottom first; a list is read from the top, as one looks into the box.
  function after(stop) {
    const layers = (stop.cooler || []).map((layer, i) => ({ ...layer, order: i + 1 }));
    return [
      F.words(stop.words) && el("p.caution", {}, F.words(stop.words)),
      layers.length > 0 &&
        el(
          "div.packing",
          {},
          el("div.packing-picture", {}, picture(layers)),
          el(
            "ol.packing-list",
            { reversed: true },
            [...layers]
              .reverse()
              .map((layer) =>
                el(
                  "li",
                  { value: layer.order },
                  el("h3", {}, F.words(layer.words)),
                  layer.items.length > 0 && el("p", {}, items(layer.items)),
                  layer.first_use && el("p.quiet", {}, `first needed ${F.when(layer.first_use)}`),
                ),
              ),
          ),
        ),
      bag("Food bag", stop.food_bag),
      bag("Spice and gear bag, apart", stop.spice_bag),
      (stop.bikes || []).map((bike) =>
        el(
          "div.bag",
          {},
          el("h3", { dir: "auto" }, bike.name),
          el("p", { dir: "auto" }, F.words(bike.words)),
          F.words(bike.over_words) && el("p.caution", { dir: "auto" }, F.words(bike.over_words)),
        ),
      ),
    ];
  }

  const items = (list) =>
    list.map((item, i) => [
      i ? ", " : "",
      el("span", { dir: "auto" }, item.name),
      F.words(item.words) && el("span.quiet", {}, ` ${F.words(item.words)}`),
    ]);
  const bag = (name, list) =>
    (list || []).length > 0 && el("div.bag", {}, el("h3", {}, name), el("p", {}, items(list)));

  const SHORT = {
    ice: "Ice",
    raw: "Raw meat, fish",
    packs: "Packs",
    food: "Food",
    rests: "Rests of packs",
    fill: "Fill up",
  };

  // What a layer is shows by its pattern, where it lies by its number.
  function picture(layers) {
    const [width, inner, step] = [220, 168, 38];
    const deep = layers.length * step;
    const root = svg("svg.cooler-picture", {
      viewBox: `0 0 ${width} ${deep + 62}`,
      role: "img",
      "aria-label": `Cooler from the bottom up: ${layers.map((layer) => SHORT[layer.kind] || layer.kind).join(", ")}`,
    });
    root.append(
      svg(
        "defs",
        {},
        svg(
          "pattern",
          { id: "pack-ice", width: 10, height: 10, patternUnits: "userSpaceOnUse" },
          svg("rect.pack-ice-ground", { width: 10, height: 10 }),
          svg("path.pack-ice-line", { d: "M0 10 10 0M0 0l10 10" }),
        ),
        svg(
          "pattern",
          { id: "pack-raw", width: 8, height: 8, patternUnits: "userSpaceOnUse" },
          svg("rect.pack-raw-ground", { width: 8, height: 8 }),
          svg("circle.pack-raw-dot", { cx: 4, cy: 4, r: 1.5 }),
        ),
      ),
      svg("path.cooler-lid", { d: `M14 22q0-12 12-12h${width - 52}q12 0 12 12v6H14z` }),
      svg("path.cooler-handle", { d: `M${width / 2 - 26} 10V4h52v6` }),
      svg("path.cooler-wall", { d: `M18 30h${width - 36}l-5 ${deep + 16}q-1 8-8 8H31q-7 0-8-8z` }),
    );
    for (const layer of layers) {
      const y = 34 + deep - layer.order * step;
      const text = SHORT[layer.kind] || layer.kind;
      const left = (width - inner) / 2;
      const patterned = layer.kind === "ice" || layer.kind === "raw";
      root.append(
        svg(`rect.pack-layer.pack-${layer.kind}`, {
          x: left,
          y: y + 2,
          width: inner,
          height: step - 4,
          rx: 4,
          fill: patterned ? `url(#pack-${layer.kind})` : null,
        }),
        svg("rect.pack-plate", { x: left + 6, y: y + 7, width: 32 + text.length * 7.6, height: step - 14, rx: 3 }),
        svg("text.pack-number", { x: left + 13, y: y + 24 }, layer.order),
        svg("text.pack-text", { x: left + 30, y: y + 24 }, text),
      );
    }
    return root;
  }

  R.packing = { draw };
})(window.Resupply);
