// A route's line in a link: written and read back.
"use strict";
const test = require("node:test");
const assert = require("node:assert/strict");
const { load } = require("./load.js");

const R = load("elements.js", "../../web/assets/route_in_link.js");
const L = R.routeInLink;
const LINE = {
  lon: [-26.5, -26.49991, 0, 179.99999, -180],
  lat: [46.5, 46.4, -89.99999, 12.345678, 0],
  part_start: [0, 2],
};

test("a line is read back to a metre, its parts apart", () => {
  assert.deepEqual(L.read(L.write(LINE)), [
    [
      [-26.5, 46.5],
      [-26.49991, 46.4],
    ],
    [
      [0, -89.99999],
      [179.99999, 12.34568],
      [-180, 0],
    ],
  ]);
});

test("an address carries it as a file the server reads, with the name of the route", () => {
  const bytes = L.file(`#route=abc&file=home.gpx&line=${L.write(LINE)}&pace.daily_km=250`, "home");
  const { properties, geometry } = JSON.parse(new TextDecoder().decode(bytes));
  assert.equal(properties.name, "home");
  assert.equal(geometry.coordinates[1].length, 3);
  assert.equal(L.file("#route=abc", "home"), null);
});

test("a text that is no line of ours is none", () => {
  for (const text of ["", ".", "A", "AA", "AAAA.", "%41", "a b", "<b>", `${"_".repeat(400)}A`])
    assert.equal(L.read(text), null, text);
});

test("a line too long for a link is not put into one", () => {
  const long = Array.from({ length: 9000 }, (_, i) => i / 1000);
  assert.equal(L.write({ lon: long, lat: long.map((x) => x / 2) }), null);
});
