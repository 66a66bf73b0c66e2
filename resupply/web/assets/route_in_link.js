// A link that carries the route's line as well, so that whoever opens it needs no file: the line as
// the page draws it, without heights, in steps of 0.00001° (1 m) from point to point.
"use strict";
(function (R) {
  const SIGNS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
  const PER_DEGREE = 1e5;
  // Our choice: what browsers and most messengers carry whole.
  const MOST_SIGNS = 16_000;
  const N = {};

  // Five bits a sign, the lowest first; the sixth says that more follow. The sign of a step comes first.
  function number(value) {
    let rest = value < 0 ? -2 * value - 1 : 2 * value;
    let out = "";
    for (; rest >= 32; rest = Math.floor(rest / 32)) out += SIGNS[(rest % 32) + 32];
    return out + SIGNS[rest];
  }

  N.write = ({ lon, lat, part_start: starts = [0] }) => {
    let out = "";
    let [x, y] = [0, 0];
    for (let i = 0; i < lon.length; i++) {
      const [u, v] = [Math.round(lon[i] * PER_DEGREE), Math.round(lat[i] * PER_DEGREE)];
      out += (i && starts.includes(i) ? "." : "") + number(u - x) + number(v - y);
      [x, y] = [u, v];
      if (out.length > MOST_SIGNS) return null;
    }
    return out;
  };

  // The lines of a text, each a list of [lon, lat]; null if it is none of ours.
  N.read = (text) => {
    if (text.length > MOST_SIGNS + 100 || !/^[\w.-]+$/.test(text)) return null;
    let [x, y] = [0, 0];
    const lines = text.split(".").map((part) => {
      const values = [];
      let [value, times] = [0, 1];
      for (const sign of part) {
        const six = SIGNS.indexOf(sign);
        value += (six % 32) * times;
        times *= 32;
        if (six >= 32) continue;
        values.push(value % 2 ? -(value + 1) / 2 : value / 2);
        [value, times] = [0, 1];
      }
      const line = [];
      for (let i = 0; i + 1 < values.length; i += 2) {
        [x, y] = [x + values[i], y + values[i + 1]];
        line.push([x / PER_DEGREE, y / PER_DEGREE]);
      }
      return line;
    });
    const whole = lines.every(
      (line) => line.length > 1 && line.every(([lon, lat]) => Math.abs(lon) <= 180 && Math.abs(lat) <= 90),
    );
    return whole ? lines : null;
  };

  // The line that an address carries, as a file the server reads; null if there is none.
  N.file = (hash, name) => {
    const [, text] = /[#&]line=([^&]*)/.exec(hash) || [];
    const lines = text ? N.read(text) : null;
    if (!lines) return null;
    const geometry = { type: "MultiLineString", coordinates: lines };
    const route = { type: "Feature", properties: { name }, geometry };
    return new TextEncoder().encode(JSON.stringify(route));
  };

  R.routeInLink = N;
})(window.Resupply);
