// Reads a plan that is told by its differences from another one, column by column; how each column is
// told stands in resupply/report/differences.py. Nothing is planned here.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  const [ABSENT, NULL, FALSE, TRUE, WHOLE, DECIMAL, TEXT, LIST, OBJECT, ELSEWHERE] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];
  const BARE = { [ABSENT]: undefined, [NULL]: null, [FALSE]: false, [TRUE]: true };

  const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
  function kindOf(value) {
    if (value === undefined) return ABSENT;
    if (value === null) return NULL;
    if (value === false) return FALSE;
    if (value === true) return TRUE;
    if (typeof value === "number") return Number.isSafeInteger(value) ? WHOLE : DECIMAL;
    if (typeof value === "string") return TEXT;
    return Array.isArray(value) ? LIST : OBJECT;
  }

  function wholeOf(value, digits) {
    if (typeof value !== "number") return null;
    const scaled = value * 10 ** digits;
    if (!(Math.abs(scaled) < 2 ** 53)) return null;
    const whole = Math.round(scaled);
    return whole / 10 ** digits === value ? whole : null;
  }

  // Times are written and read by the thousand: the browser's own way takes a second on a phone.
  const TIME = /^([12]\d{3}-\d\d-\d\d)(?:T(\d\d):(\d\d)(?::(\d\d))?([+-]\d\d:\d\d))?$/;
  const TWO = Array.from({ length: 60 }, (_, n) => String(n).padStart(2, "0"));
  const CLOCK = Array.from({ length: 1440 }, (_, n) => `T${TWO[Math.floor(n / 60)]}:${TWO[n % 60]}`);
  const [dates, days] = [new Map(), new Map()];
  function dateOf(day) {
    let date = dates.get(day);
    if (date === undefined) dates.set(day, (date = new Date(day * 864e5).toISOString().slice(0, 10)));
    return date;
  }
  // Days since 1970; null for a date that there is not.
  function dayOf(date) {
    if (!days.has(date)) {
      const day = Math.round(Date.parse(date) / 864e5);
      days.set(date, Number.isNaN(day) || dateOf(day) !== date ? null : day);
    }
    return days.get(date);
  }
  // Seconds by the clock on the wall, and what stands behind the clock; the same times come again and
  // again.
  const times = new Map();
  function timeOf(text) {
    let time = times.get(text);
    if (time === undefined) {
      if (times.size > 50000) times.clear();
      times.set(text, (time = timeIn(text)));
    }
    return time;
  }
  function timeIn(text) {
    const match = typeof text === "string" && text.length < 26 && TIME.exec(text);
    const day = match && dayOf(match[1]);
    if (!match || day === null) return null;
    if (match[2] === undefined) return [day * 86400, "d"];
    const [hour, minute, second] = [Number(match[2]), Number(match[3]), Number(match[4] || 0)];
    if (hour > 23 || minute > 59 || second > 59) return null;
    return [day * 86400 + hour * 3600 + minute * 60 + second, (match[4] ? "s" : "") + match[5]];
  }
  function clockOf(at, tail) {
    const day = Math.floor(at / 86400);
    if (tail === "d") return dateOf(day);
    const rest = at - day * 86400;
    const told = dateOf(day) + CLOCK[Math.floor(rest / 60)];
    return tail[0] === "s" ? `${told}:${TWO[rest % 60]}${tail.slice(1)}` : told + tail;
  }

  const NUMBERED = /^([^0-9]*)(0|[1-9][0-9]{0,9})$/;
  function numberOf(text, prefix) {
    const match = typeof text === "string" && NUMBERED.exec(text);
    return match && match[1] === prefix ? Number(match[2]) : null;
  }

  // Everything with an inside, and every text, outermost first.
  function parts(value, into) {
    if (typeof value === "string") into.push(value);
    else if (value !== null && typeof value === "object") {
      into.push(value);
      for (const one of Array.isArray(value) ? value : Object.values(value)) parts(one, into);
    }
    return into;
  }

  function reader(known) {
    // Values of a column of `count`; `others` stand at the same places of the other document.
    const read = (told, count, others) => (told === 0 ? others.slice(0, count) : READ[told[0]](told, count, others));

    const lists = (count, others, lengths, rows, told) => {
      const beside = others.map((other) => (Array.isArray(other) ? other : []));
      const sizes = read(
        lengths,
        count,
        beside.map((one) => one.length),
      );
      const against = [];
      sizes.forEach((size, k) => {
        for (let i = 0; i < size; i++) against.push(beside[k][rows ? rows[against.length] : i]);
      });
      const flat = read(told, against.length, against);
      let at = 0;
      return sizes.map((size) => flat.slice(at, (at += size)));
    };

    const READ = {
      v: ([, values], count) =>
        values.length === 1 || !values.length ? new Array(count).fill(values[0]) : values.slice(),
      n: ([, mode, numbers], count, others) => {
        let last = 0;
        return numbers.map((number, i) => {
          last = mode & 2 ? last + number : number;
          return mode & 1 && Number.isSafeInteger(others[i]) ? last + others[i] : last;
        });
      },
      f: ([, digits, told], count, others) =>
        read(
          told,
          count,
          others.map((other) => wholeOf(other, digits)),
        ).map((whole) => whole / 10 ** digits),
      t: ([, step, steps, tails], count, others) => {
        const beside = others.map(timeOf);
        const at = read(
          steps,
          count,
          beside.map((one) => one && Math.floor(one[0] / step)),
        );
        const behind = read(
          tails,
          count,
          beside.map((one) => one && one[1]),
        );
        return at.map((n, i) => clockOf(n * step, behind[i]));
      },
      k: ([, prefix, told], count, others) =>
        read(
          told,
          count,
          others.map((other) => numberOf(other, prefix)),
        ).map((number) => prefix + number),
      e: ([, different, told], count, others) => {
        const number = new Map(different.map((text, n) => [text, n]));
        const beside = others.map((other) => (number.has(other) ? number.get(other) : null));
        return read(told, count, beside).map((n) => different[n]);
      },
      x: ([, steps, told], count, others) => {
        const out = others.slice(0, count);
        let at = -1;
        const rows = steps.map((step) => (at += step));
        read(
          told,
          rows.length,
          rows.map((row) => others[row]),
        ).forEach((value, i) => (out[rows[i]] = value));
        return out;
      },
      o: ([, columns], count, others) => {
        const beside = others.map((other) => (isObject(other) ? other : {}));
        const out = [];
        for (let i = 0; i < count; i++) out.push({ ...beside[i] });
        for (const key of Object.keys(columns)) {
          const column = columns[key];
          const own = column[0] === "@";
          const of = own ? out : beside;
          const name = own ? column[1] : key;
          const values = read(
            own ? column[2] : column,
            count,
            of.map((one) => one[name]),
          );
          for (let i = 0; i < count; i++) {
            if (values[i] === undefined) delete out[i][key];
            else out[i][key] = values[i];
          }
        }
        return out;
      },
      l: ([, lengths, told], count, others) => lists(count, others, lengths, null, told),
      p: ([, lengths, rows, told], count, others) =>
        lists(count, others, lengths, read(rows, rows[2].length, []), told),
      m: ([, codes, columns], count, others) => {
        const kinds = read(codes, count, others.map(kindOf));
        const out = kinds.map((kind) => BARE[kind]);
        for (const [name, column] of Object.entries(columns)) {
          const [rows, one] = [[], Number(name)];
          for (let i = 0; i < count; i++) if (kinds[i] === one) rows.push(i);
          const values = read(
            column,
            rows.length,
            rows.map((row) => others[row]),
          );
          rows.forEach((row, i) => (out[row] = one === ELSEWHERE ? known[values[i]] : values[i]));
        }
        return out;
      },
    };
    return read;
  }

  // Gives a function that reads what is told against a document. Its parts are read when they are
  // first asked for: map and answers need neither the menu nor the packing, and wait for neither.
  const PRESENT = ["o", "l", "p"]; // what is told so is never absent
  R.against = (other, lookedThrough) => {
    const known = lookedThrough.flatMap((key) => parts(other[key], []));
    known.unshift(null); // what is looked through counts as the outermost part
    const read = reader(known);
    return (told) => {
      if (told === 0 || told[0] !== "o") return read(told, 1, [other])[0];
      const columns = Object.entries(told[1]);
      const asked = columns.filter(([, column]) => column[0] === "@").map(([, column]) => column[1]);
      const waits = ([key, column]) => key in other && PRESENT.includes(column[0]) && !asked.includes(key);
      const now = columns.filter((one) => !waits(one));
      const [plan] = read(["o", Object.fromEntries(now)], 1, [other]);
      for (const [key, column] of columns.filter(waits)) later(plan, key, () => read(column, 1, [other[key]])[0]);
      return plan;
    };
  };
  const later = (of, key, make) => {
    const put = (value) => Object.defineProperty(of, key, { value, writable: true, enumerable: true });
    Object.defineProperty(of, key, {
      get: () => put(make())[key],
      set: put,
      enumerable: true,
      configurable: true,
    });
  };
})(globalThis.Resupply);
