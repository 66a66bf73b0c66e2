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
  const packed = zlib.deflateRawSync(bytes).toString("base64");
  assert.deepEqual(R.unpack(`\n${packed}\n`, bytes.length), plan);
});
