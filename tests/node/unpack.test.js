// What the file carries packed is read back as it was, whatever kind of block it is packed in.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const zlib = require("node:zlib");
const { load } = require("./load.js");

const R = load("unpack.js");
const TEXTS = {
  empty: "",
  short: "km 446",
  names: "Mercado do Farol, مخبز الميناء, 🧊 ".repeat(400),
  random: Array.from({ length: 70_000 }, (_, i) => String.fromCharCode(33 + ((i * i * 7919 + i) % 90))).join(""),
};

for (const [name, text] of Object.entries(TEXTS))
  for (const [kind, options] of Object.entries({
    stored: { level: 0 },
    fixed: { strategy: zlib.constants.Z_FIXED },
    dynamic: { level: 9 },
  }))
    test(`${name} text in ${kind} blocks`, () => {
      const bytes = Buffer.from(text);
      const packed = zlib.deflateRawSync(bytes, options);
      assert.deepEqual(Buffer.from(R.inflate(packed, bytes.length)), bytes);
    });

test("a plan is read from its base64", () => {
  const plan = { stops: [{ name: "Mercado do Farol", at_m: 446367 }], note: "ä" };
  const bytes = Buffer.from(JSON.stringify(plan));
  const packed = zlib.deflateSync(bytes).toString("base64");
  assert.deepEqual(R.unpack(`\n${packed}\n`, bytes.length), plan);
});

// Every bit of it in turn; some say nothing of the data, and then it is read as it was.
for (const [kind, options] of Object.entries({
  stored: { level: 0 },
  fixed: { strategy: zlib.constants.Z_FIXED },
  dynamic: { level: 9 },
}))
  test(`a flipped bit changes nothing or is told, in ${kind} blocks`, () => {
    const rows = Array.from({ length: 6 }, (_, i) => ({ at_m: (i * i * 7919) % 960000, open: i % 3 > 0 }));
    const bytes = Buffer.from(JSON.stringify(rows));
    const whole = zlib.deflateSync(bytes, options);
    let told = 0;
    for (let bit = 0; bit < whole.length * 8; bit++) {
      const packed = Buffer.from(whole);
      packed[bit >> 3] ^= 1 << (bit & 7);
      try {
        assert.deepEqual(R.unpack(packed.toString("base64"), bytes.length), rows);
      } catch (fault) {
        assert.match(fault.message, /damaged or not whole/);
        told++;
      }
    }
    assert.ok(told > 0.9 * (whole.length - 2) * 8);
  });

test("a file that is cut short is told", () => {
  const bytes = Buffer.from(JSON.stringify(Array.from({ length: 900 }, (_, i) => i)));
  const text = zlib.deflateSync(bytes).toString("base64");
  for (let end = 0; end < text.length; end += 7)
    assert.throws(() => R.unpack(text.slice(0, end), bytes.length), /damaged or not whole/);
  assert.throws(() => R.unpack("no base64!", bytes.length), /damaged or not whole/);
});

test("no more is unpacked than the file says", () => {
  const packed = zlib.deflateSync(Buffer.alloc(5_000_000));
  assert.throws(() => R.unpack(packed.toString("base64"), 100), /damaged or not whole/);
});

test("a part that is told by its differences is read when it is asked for", () => {
  const D = load("differences.js");
  const other = { stops: [{ at_m: 1 }], menu: { days: [1, 2] } };
  let read = 0;
  const days = ["l", 0, ["n", 0, [7, 8]]];
  const told = ["o", { stops: ["l", 0, ["o", { at_m: ["n", 1, [4]] }]], menu: ["o", {}] }];
  Object.defineProperty(told[1].menu[1], "days", { enumerable: true, get: () => (read++, days) });
  const plan = D.against(other, [])(told);
  assert.deepEqual(plan.stops, [{ at_m: 5 }]);
  assert.equal(read, 0);
  assert.deepEqual(plan.menu, { days: [7, 8] });
  assert.equal(plan.menu, plan.menu);
  assert.deepEqual(JSON.parse(JSON.stringify(plan)), { stops: [{ at_m: 5 }], menu: { days: [7, 8] } });
  assert.deepEqual(other, { stops: [{ at_m: 1 }], menu: { days: [1, 2] } });
});
