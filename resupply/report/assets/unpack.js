// Reads what the file carries packed (DEFLATE with a checksum, RFC 1951 and 1950, in base64): the plan
// and the map, at a fifth of their size. At once and in every browser: the page draws as soon as it is
// read. A file that came damaged or was cut short is refused: half a number is worse than none.
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

  R.Damaged = class extends Error {};
  const damaged = () => {
    throw new R.Damaged("This file is damaged or not whole. Copy it again, or plan again.");
  };

  // Codes of at most so many bits are looked up at once, the few longer ones bit by bit.
  const SHORT = 10;

  // A code as counts of its lengths and its symbols in order, and the short ones by the bits that
  // come: symbol and length in one number, 0 for none.
  function code(lengths) {
    const count = new Uint16Array(16);
    for (const one of lengths) count[one]++;
    count[0] = 0;
    const start = new Uint16Array(16);
    const next = new Uint16Array(16);
    for (let i = 1; i < 15; i++) {
      start[i + 1] = start[i] + count[i];
      next[i + 1] = (next[i] + count[i]) << 1;
    }
    const symbols = new Uint16Array(lengths.length);
    const short = new Uint16Array(1 << SHORT);
    lengths.forEach((one, symbol) => {
      if (!one) return;
      symbols[start[one]++] = symbol;
      let bits = 0;
      for (let i = 0, value = next[one]++; i < one; i++, value >>= 1) bits = (bits << 1) | (value & 1);
      for (; bits < 1 << SHORT && one <= SHORT; bits += 1 << one) short[bits] = (symbol << 4) | one;
    });
    return { count, symbols, short };
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
        if (at >= bytes.length) damaged();
        held |= bytes[at++] << bits;
        bits += 8;
      }
      const value = held & ((1 << count) - 1);
      held >>>= count;
      bits -= count;
      return value;
    };
    const symbol = ({ count, symbols, short }) => {
      while (bits < SHORT && at < bytes.length) {
        held |= bytes[at++] << bits;
        bits += 8;
      }
      const known = short[held & ((1 << SHORT) - 1)];
      const taken = known & 15;
      if (known && taken <= bits) {
        held >>>= taken;
        bits -= taken;
        return known >> 4;
      }
      let [value, first, index] = [0, 0, 0];
      for (let length = 1; length < 16; length++) {
        value |= take(1);
        const here = count[length];
        if (value - here < first) return symbols[index + value - first];
        index += here;
        first = (first + here) << 1;
        value <<= 1;
      }
      return damaged();
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
      at -= bits >> 3; // whole bytes that were looked at ahead
      held = bits = 0;
      const length = bytes[at] | (bytes[at + 1] << 8);
      if (!(at + 4 + length <= bytes.length && to + length <= size)) damaged();
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
        if (to >= size) damaged();
        if (next < 256) {
          out[to++] = next;
          continue;
        }
        const length = LENGTH[next - 257] + take(LENGTH_BITS[next - 257]);
        const far = symbol(distance);
        if (!(next < 286 && far < 30)) damaged();
        const back = FAR[far] + take(FAR_BITS[far]);
        if (back > to || to + length > size) damaged();
        for (let i = 0; i < length; i++, to++) out[to] = out[to - back];
      }
    }
    if (to !== size) damaged();
    return out;
  };

  // Adler-32 (RFC 1950, 8): sums of so many bytes stay below 2 ** 32.
  function adler(bytes) {
    let [a, b] = [1, 0];
    for (let at = 0; at < bytes.length;) {
      for (const end = Math.min(at + 5552, bytes.length); at < end; at++) b += a += bytes[at];
      a %= 65521;
      b %= 65521;
    }
    return b * 65536 + a;
  }

  // Base64 of the packed bytes; `size` is how long they are when unpacked.
  R.unpack = (text, size) => {
    const bytes = bytesOf(text.trim());
    const end = bytes.length - 4;
    // Two bytes before the data, four with the sum behind it.
    if (end < 2) damaged();
    const plain = R.inflate(bytes.subarray(2, end), size);
    const sum = new DataView(bytes.buffer).getUint32(end);
    if (adler(plain) !== sum) damaged();
    return JSON.parse(new TextDecoder().decode(plain));
  };

  function bytesOf(text) {
    try {
      const plain = atob(text);
      const bytes = new Uint8Array(plain.length);
      for (let i = 0; i < bytes.length; i++) bytes[i] = plain.charCodeAt(i);
      return bytes;
    } catch {
      return damaged();
    }
  }
})(globalThis.Resupply);
