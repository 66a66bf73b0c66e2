// Reads what the file carries packed (raw DEFLATE, RFC 1951, in base64): the plan and the map, at a
// fifth of their size. At once and in every browser: the page draws as soon as it is read.
"use strict";
globalThis.Resupply ??= {};
(function (R) {
  // Base and extra bits of lengths and distances (RFC 1951, 3.2.5).
  const LENGTH = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115];
  LENGTH.push(131, 163, 195, 227, 258);
  const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
  const FAR = [1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049];
  FAR.push(3073, 4097, 6145, 8193, 12289, 16385, 24577);
  const FAR_BITS = FAR.map((_, i) => Math.max(0, (i >> 1) - 1));
  const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

  // A code as counts of its lengths and its symbols in order.
  function code(lengths) {
    const count = new Uint16Array(16);
    for (const one of lengths) count[one]++;
    count[0] = 0;
    const start = new Uint16Array(16);
    for (let i = 1; i < 15; i++) start[i + 1] = start[i] + count[i];
    const symbols = new Uint16Array(lengths.length);
    lengths.forEach((one, symbol) => one && (symbols[start[one]++] = symbol));
    return { count, symbols };
  }

  const fixed = () => [
    code(Array.from({ length: 288 }, (_, i) => (i < 144 ? 8 : i < 256 ? 9 : i < 280 ? 7 : 8))),
    code(new Array(30).fill(5)),
  ];

  // `size` is how long the unpacked bytes are.
  R.inflate = (bytes, size) => {
    const out = new Uint8Array(size);
    let [at, held, bits, to] = [0, 0, 0, 0];
    const take = (count) => {
      while (bits < count) {
        held |= bytes[at++] << bits;
        bits += 8;
      }
      const value = held & ((1 << count) - 1);
      held >>>= count;
      bits -= count;
      return value;
    };
    const symbol = ({ count, symbols }) => {
      let [value, first, index] = [0, 0, 0];
      for (let length = 1; length < 16; length++) {
        value |= take(1);
        const here = count[length];
        if (value - here < first) return symbols[index + value - first];
        index += here;
        first = (first + here) << 1;
        value <<= 1;
      }
      throw new Error("The file is damaged: copy it again.");
    };
    const dynamic = () => {
      const [literals, distances, codes] = [take(5) + 257, take(5) + 1, take(4) + 4];
      const lengths = new Array(19).fill(0);
      for (let i = 0; i < codes; i++) lengths[ORDER[i]] = take(3);
      const own = code(lengths);
      const all = [];
      while (all.length < literals + distances) {
        const next = symbol(own);
        if (next < 16) all.push(next);
        else {
          const [value, again] =
            next === 16 ? [all.at(-1), 3 + take(2)] : [0, next === 17 ? 3 + take(3) : 11 + take(7)];
          for (let i = 0; i < again; i++) all.push(value);
        }
      }
      return [code(all.slice(0, literals)), code(all.slice(literals))];
    };
    const stored = () => {
      held = bits = 0;
      const length = bytes[at] | (bytes[at + 1] << 8);
      out.set(bytes.subarray(at + 4, at + 4 + length), to);
      [at, to] = [at + 4 + length, to + length];
    };
    for (let last = 0; !last;) {
      last = take(1);
      const kind = take(2);
      if (kind === 0) {
        stored();
        continue;
      }
      const [literal, distance] = kind === 1 ? fixed() : dynamic();
      for (;;) {
        const next = symbol(literal);
        if (next === 256) break;
        if (next < 256) {
          out[to++] = next;
          continue;
        }
        const length = LENGTH[next - 257] + take(LENGTH_BITS[next - 257]);
        const far = symbol(distance);
        const back = FAR[far] + take(FAR_BITS[far]);
        for (let i = 0; i < length; i++, to++) out[to] = out[to - back];
      }
    }
    return out;
  };

  R.unpack = (text, size) => {
    const raw = atob(text.trim());
    const bytes = Uint8Array.from(raw, (one) => one.charCodeAt(0));
    return JSON.parse(new TextDecoder().decode(R.inflate(bytes, size)));
  };
})(globalThis.Resupply);
