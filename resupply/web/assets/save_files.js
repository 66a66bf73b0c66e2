// Taking the plan along: the files that can be saved, and the address that holds the trip.
"use strict";
(function (R) {
  const { el } = R;
  const T = R.trip;
  const A = R.asking;

  R.controls.panels.save = () =>
    R.plan
      ? [
          el(
            "ul.save-list",
            {},
            R.resultFiles.map(([name, title, why]) =>
              el(
                "li",
                {},
                el(
                  "button.route-card",
                  { type: "button", "data-file": name, onclick: (event) => save(name, event.currentTarget) },
                  el("b", {}, title),
                  el("span.quiet", {}, why),
                ),
              ),
            ),
            el(
              "li",
              {},
              el(
                "button.route-card",
                { type: "button", "data-file": "print", onclick: () => window.print() },
                el("b", {}, "Print the sheet"),
                el("span.quiet", {}, "A line per day on one page, lists and menu on the next"),
              ),
            ),
            el(
              "li",
              {},
              el(
                "button.route-card",
                { type: "button", "data-file": "link", onclick: (event) => copyLink(event.currentTarget) },
                el("b", {}, "Copy a link"),
                el(
                  "span.quiet",
                  {},
                  lineInLink() === null
                    ? "It holds the trip; send the route’s file along, its line is too long for a link"
                    : "It holds trip and route, for whoever has this program",
                ),
              ),
            ),
          ),
        ]
      : [el("p.quiet", {}, "Open a route first.")];

  async function save(name, button) {
    button.setAttribute("aria-busy", "true");
    try {
      const { route, file } = T.state;
      const answer = await A.post("/api/export", { route, trip: A.trip(), name, file });
      R.saveAs(await answer.blob(), fileName(name));
      R.say(`${fileName(name)} is saved.`);
    } catch (problem) {
      R.cards.failed(problem);
    }
    button.removeAttribute("aria-busy");
  }
  // Named after the trip, with nothing in it that a file system would mind.
  function fileName(name) {
    const stem = (R.plan.trip.name || "trip")
      .normalize("NFKD")
      .replace(/[^\w -]/g, "")
      .trim()
      .replace(/\s+/g, "-")
      .toLowerCase()
      .slice(0, 60);
    return `${stem || "trip"}-${name}`;
  }
  // A sample's route is known by its name.
  const lineInLink = () => (T.state.route.startsWith("sample:") ? "" : R.routeInLink.write(A.geo));
  async function copyLink(button) {
    const line = lineInLink();
    try {
      const named = T.state.trip.name ? "" : `&name=${encodeURIComponent(JSON.stringify(R.plan.trip.name))}`;
      await navigator.clipboard.writeText(line ? `${location.href}${named}&line=${line}` : location.href);
      R.fill(button.querySelector(".quiet"), "Copied.");
    } catch {
      R.fill(button.querySelector(".quiet"), "This browser does not allow it: copy it from the address bar.");
    }
  }
})(window.Resupply);
