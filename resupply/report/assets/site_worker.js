// The worker of a plan on a web host: keeps the page on the phone, so that it opens with no signal.
// `report/site.py` writes above it what there is to keep. One version is kept whole or not at all;
// the next one waits until the rider takes it.
"use strict";
(function (worker, site) {
  const scope = new URL(worker.registration.scope).pathname;
  // Other plans may lie on the same host: each has caches of its own.
  const ours = `resupply ${scope} `;
  const kept = ours + site.version;

  worker.addEventListener("install", (event) => event.waitUntil(keepAll()));
  worker.addEventListener("activate", (event) => event.waitUntil(forgetOthers()));
  worker.addEventListener("message", (event) => event.data === "take" && worker.skipWaiting());

  worker.addEventListener("fetch", (event) => {
    const name = nameOf(event.request);
    if (name !== null) event.respondWith(answer(event.request, name));
  });

  async function keepAll() {
    const cache = await caches.open(kept);
    try {
      for (const name of site.files) await cache.put(name, await whole(name));
    } catch (fault) {
      await caches.delete(kept);
      throw fault;
    }
  }

  // A folder may be half copied, or a host may still send yesterday's page: neither is kept.
  async function whole(name) {
    const found = await fetch(name, { cache: "no-store", redirect: "error" });
    if (!found.ok) throw new Error(`${name}: ${found.status}`);
    if (name === "./" && !(await found.clone().text()).includes(site.mark))
      throw new Error(`${name} is not whole, or of another version`);
    return found;
  }

  async function forgetOthers() {
    const names = (await caches.keys()).filter((name) => name.startsWith(ours) && name !== kept);
    await Promise.all(names.map((name) => caches.delete(name)));
  }

  // What of ours is asked for; null for anything else, which goes its usual way.
  function nameOf(request) {
    const address = new URL(request.url);
    if (request.method !== "GET" || address.origin !== location.origin || !address.pathname.startsWith(scope))
      return null;
    const name = address.pathname.slice(scope.length);
    if (name === "" || name === "index.html") return "./";
    return site.files.includes(name) ? name : null;
  }

  async function answer(request, name) {
    const cache = await caches.open(kept);
    return (await cache.match(name)) || fetch(request);
  }
})(/** @type {any} */ (self), /** @type {any} */ (self).SITE);
