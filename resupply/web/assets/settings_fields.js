// The fields of the settings: a number, a choice, a date, a time, a tick, each for one key of the trip.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const T = R.trip;
  const { KM_PER_MI, KG_PER_LB, L_PER_GAL } = R.factors;
  const imperial = () => R.prefs.units === "imperial";
  const round = (value, step) => Math.round(value / step) * step;

  // One field for each setting: the key of the trip file, and how it is read and shown.
  const tenths = (per) => ({
    read: (text) => Number(text) * (imperial() ? per : 1),
    show: (value) => String(Math.round((imperial() ? value / per : value) * 10) / 10),
  });
  const asKm = tenths(KM_PER_MI);
  const asKg = tenths(KG_PER_LB);
  const asLitres = tenths(L_PER_GAL);
  const asC = {
    read: (text) => (imperial() ? (Number(text) - 32) / 1.8 : Number(text)),
    show: (c) => String(Math.round(imperial() ? c * 1.8 + 32 : c)),
  };
  const plain = { read: Number, show: String };

  /**
   * @param {string} path
   * @param {string} label
   * @param {{ unit?: string, kind?: any, min?: number, max?: number, step?: number, empty?: string,
   *   wide?: boolean, value?: number, set?: (to: any, words: string, gesture?: string) => void }} how
   *   `value` and `set` for what is a row of a list in the trip
   */
  function numberField(path, label, how) {
    const { unit = "", kind = plain, min, max, step = 1, empty = null, wide, value = T.get(path) } = how;
    const change = how.set || ((to, words, gesture) => T.change({ [path]: to }, words, gesture));
    const input = el("input", {
      type: "number",
      inputmode: "decimal",
      id: `set-${path}`,
      "data-keep": `set-${path}`,
      step: "any",
      min: min === undefined ? null : kind.show(min),
      max: max === undefined ? null : kind.show(max),
      placeholder: empty,
      onchange: () => {
        if (input.value === "" && empty !== null) change(null, `${label}: ${empty}`);
        else if (input.value !== "" && input.checkValidity())
          change(Math.round(kind.read(input.value) * 1000) / 1000, `${label} ${input.value}${unit ? ` ${unit}` : ""}`);
        else input.reportValidity();
      },
    });
    if (value !== undefined && value !== null) input.value = kind.show(value);
    const nudge = (by, sign, word) =>
      el(
        "button.step",
        {
          type: "button",
          "aria-label": `${label}: ${word}`,
          "data-keep": `nudge-${path}-${by}`,
          onclick: () => {
            const from = value ?? min ?? 0;
            const to = Math.max(min ?? -Infinity, Math.min(max ?? Infinity, round(from + by * step, step)));
            change(to, `${label} ${kind.show(to)}${unit ? ` ${unit}` : ""}`, `nudge-${path}`);
          },
        },
        sign,
      );
    return el(
      `div.setting${wide ? ".wide" : ""}`,
      {},
      el("label", { for: `set-${path}` }, label),
      el(
        "span.setting-row",
        {},
        nudge(-1, "−", "less"),
        input,
        unit && el("span.unit", {}, unit),
        nudge(1, "+", "more"),
      ),
    );
  }

  // `set` takes what was chosen and its word; what is not among the options is shown as it is.
  function pickField(id, label, options, value, set) {
    const pick = el(
      "select",
      { id: `set-${id}`, "data-keep": `set-${id}`, onchange: () => set(...chosen()) },
      options.map(([one, word]) => el("option", { value: String(one) }, word)),
    );
    const chosen = () => options.find(([one]) => String(one) === pick.value);
    if (!options.some(([one]) => String(one) === String(value)))
      pick.append(el("option", { value: String(value) }, String(value)));
    pick.value = String(value);
    return el("div.setting", {}, el("label", { for: `set-${id}` }, label), pick);
  }
  const choiceField = (path, label, options) =>
    pickField(path, label, options, T.get(path), (to, word) => T.change({ [path]: to }, `${label}: ${word}`));

  // Browsers write dates in the order of their own language: the day is named beside it.
  function dateField(id, label, value, set) {
    const input = el("input", {
      type: "date",
      id: `set-${id}`,
      "data-keep": `set-${id}`,
      min: "1970-01-01",
      max: "2199-12-31",
      onchange: () => {
        if (input.value && input.checkValidity()) set(input.value, `${label} ${F.date(input.value)}`);
      },
    });
    input.value = value;
    return el(
      "div.setting",
      {},
      el("label", { for: `set-${id}` }, input.value ? `${label}, ${F.date(input.value)}` : label),
      input,
    );
  }

  // Typed, not the browser's own field: that has the clock of its own language.
  function timeField(id, label, value, set) {
    const [hour, minute] = value.split(":").map(Number);
    const input = el("input", {
      type: "text",
      id: `set-${id}`,
      "data-keep": `set-${id}`,
      autocomplete: "off",
      oninput: () => input.setCustomValidity(""),
      onchange: () => {
        const time = readTime(input.value);
        input.setCustomValidity(time ? "" : `Write a time like ${F.clock(8, 30)}`);
        if (time) set(`${time}:00`, `${label} ${F.clock(...time.split(":").map(Number))}`);
        else input.reportValidity();
      },
    });
    input.value = F.clock(hour, minute);
    return el("div.setting", {}, el("label", { for: `set-${id}` }, label), input);
  }
  function readTime(text) {
    const m = /^\s*(\d{1,2})(?:[:.h ]?(\d\d))?\s*([ap])?\.?m?\.?\s*$/i.exec(text);
    if (!m) return null;
    const [given, minute, half] = [Number(m[1]), Number(m[2] || 0), (m[3] || "").toLowerCase()];
    const hour = half ? (given % 12) + (half === "p" ? 12 : 0) : given;
    if (hour > 23 || minute > 59 || (half && (given < 1 || given > 12))) return null;
    return `${String(hour).padStart(2, "0")}:${String(minute).padStart(2, "0")}`;
  }

  // A name: at most so many letters, blanks around it cut off; empty where it is taken away.
  function textField(id, label, value, most, set) {
    const input = el("input", {
      type: "text",
      id: `set-${id}`,
      "data-keep": `set-${id}`,
      autocomplete: "off",
      maxlength: most,
      onchange: () => {
        const text = input.value.trim().slice(0, most);
        set(text, `${label}: ${text || "none"}`);
      },
    });
    input.value = value;
    return el("div.setting", {}, el("label", { for: `set-${id}` }, label), input);
  }

  function tickField(path, label) {
    const box = el("input", {
      type: "checkbox",
      "data-keep": `set-${path}`,
      onchange: () => T.change({ [path]: box.checked }, `${label}: ${box.checked ? "yes" : "no"}`),
    });
    box.checked = Boolean(T.get(path));
    return el("label.setting-tick", {}, box, el("span", {}, label));
  }

  // How a field of kilograms is read and shown: in pounds where the rider has these.
  const inKg = (how) => ({
    unit: imperial() ? "lb" : "kg",
    kind: asKg,
    min: 0,
    step: imperial() ? KG_PER_LB : 0.5,
    ...how,
  });

  R.fields = {
    numberField,
    pickField,
    choiceField,
    dateField,
    timeField,
    textField,
    tickField,
    inKg,
    imperial,
    asKm,
    asLitres,
    asC,
  };
})(window.Resupply);
