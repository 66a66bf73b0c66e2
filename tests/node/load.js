// Loads scripts of the page without a browser, for what they compute.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const vm = require("node:vm");

const ROOT = path.join(__dirname, "..", "..");
const ASSETS = path.join(ROOT, "resupply", "report", "assets");

// The scripts that are named, on a page without anything.
exports.load = (...names) => {
  const all = /** @type {any} */ (globalThis);
  all.window = all;
  all.document = {};
  all.addEventListener = () => {};
  delete all.Resupply;
  for (const name of names) {
    vm.runInThisContext(fs.readFileSync(path.join(ASSETS, name), "utf8"), name);
  }
  return all.Resupply;
};
exports.TABLES = (name) => JSON.parse(fs.readFileSync(path.join(ROOT, "docs", name), "utf8"));
