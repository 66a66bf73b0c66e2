// Map data for the route: what could be fetched, from where and how large; fetched once the rider agrees.
"use strict";
(function (R) {
  const { el } = R;
  const F = R.format;
  const A = R.asking;
  const box = el("div.fetching", { "aria-live": "polite" });
  // The route the box speaks of.
  let about = "";

  const button = (words, id, act) => el("button.button", { type: "button", id, onclick: act }, words);

  // The control where map data is missing; `words` say what the server has.
  R.fetching = {
    control(words) {
      if (about !== R.trip.state.route) first(words);
      return box;
    },
    // One press leads there and looks, where nothing has been looked for yet.
    way: () =>
      button("Find map data for this route", "open-map-data", () => {
        R.tabs.open("days", "gaps");
        const look = R.byId("find-maps");
        if (look) look.click();
      }),
  };

  function first(words) {
    about = R.trip.state.route;
    R.fill(
      box,
      el("p.quiet", {}, words),
      button("Find map data for this route", "find-maps", () => find(words)),
    );
  }

  async function ask(path) {
    const { route } = R.trip.state;
    return (await A.post(path, { route, trip: A.trip() })).json();
  }

  async function find(words) {
    R.fill(box, el("p.quiet", {}, "Looking which map data covers the route…"));
    try {
      offer(await ask("/api/maps/find"), words);
    } catch (fault) {
      failed(fault, words);
    }
  }

  function offer(told, words) {
    const rows = told.maps.map((one) =>
      el(
        "li",
        {},
        el("b", { dir: "auto" }, one.name),
        ` ${one.size || "size not known"}, ${one.date ? `of ${F.date(one.date)}` : "date not known"}, `,
        one.route_m ? `${F.distance(one.route_m)} of the route` : "ground beside the route",
        el("span.quiet", { dir: "auto" }, ` ${one.url}`),
      ),
    );
    R.fill(
      box,
      el("p", {}, `Map data by ${told.server}:`),
      el("ul", {}, rows),
      told.beside_lacks && el("p.quiet", {}, "Some ground beside the route lies in large neighbours and is left out."),
      told.lacking_m > 0 && el("p.quiet", {}, `None of these holds ${F.distance(told.lacking_m)} of the route.`),
      told.problem
        ? el("p.quiet", {}, `It can't be fetched now: ${told.problem}.`)
        : button(`Fetch ${told.size || "it"}`, "fetch-maps", () => fetchMaps(words)),
    );
  }

  async function fetchMaps(words) {
    const line = el("p", { role: "status" }, "Fetching the map data…");
    try {
      const { load } = await ask("/api/maps/fetch");
      const address = `/api/load/${encodeURIComponent(load)}`;
      const stop = button("Stop", "stop-fetching", () => A.post(`${address}/cancel`, {}).catch(() => {}));
      R.fill(box, line, stop, el("span.quiet", {}, "What has come is kept."));
      const events = new EventSource(address);
      const ended = (error) => {
        events.close();
        if (error) return failed(new Error(error), words);
        about = "";
        R.tell("maps", null);
      };
      events.onmessage = (event) => {
        const told = JSON.parse(event.data);
        if (told.done) ended(told.error);
        else R.fill(line, told.share === null ? `${told.what}…` : `${told.what} (${Math.round(told.share * 100)} %)`);
      };
      events.onerror = () => ended("The page's server went away.");
    } catch (fault) {
      failed(fault, words);
    }
  }

  function failed(fault, words) {
    const again = button("Try again", "find-maps", () => find(words));
    R.fill(box, el("p", { role: "alert" }, F.upper(fault.message)), again);
  }
})(window.Resupply);
