// The files of a plan that a rider takes along: what they are and what for.
"use strict";
(function (R) {
  const { el } = R;
  R.resultFiles = [
    ["plan.html", "Offline map", "One file for the phone; opens with no signal"],
    ["shopping.txt", "Shopping lists", "Plain text, to send to whoever shops"],
    ["stops.gpx", "GPX of the stops", "For the device on the handlebar"],
    ["stops.ics", "Calendar (ICS)", "Stops and days for your diary"],
    ["stops.csv", "Table of the stops (CSV)", "For a spreadsheet"],
    ["plan.geojson", "GeoJSON", "Route, days and stops for map programs"],
    ["trip.toml", "Trip file (TOML)", "All settings; opens here and on the command line"],
    ["plan.json", "Plan as data (JSON)", "Everything on this page, for programs"],
  ];

  // Saves what the page holds as a file.
  R.saveAs = (blob, name) => {
    const href = URL.createObjectURL(blob);
    follow(href, name);
    setTimeout(() => URL.revokeObjectURL(href), 60000);
  };
  function follow(href, download) {
    const link = el("a", { href, download });
    document.body.append(link);
    link.click();
    link.remove();
  }

  // A page on a web host links those that lie beside it; its worker keeps them on the phone as well.
  R.filesBeside = () => {
    // Saved as a file, the page lies alone.
    const beside = location.protocol !== "file:" && R.readData("files");
    return beside && { id: "files", title: "Files to take along", short: "Files", draw: () => links(beside) };
  };
  const links = (beside) =>
    el(
      "ul.file-list",
      {},
      R.resultFiles
        .filter(([name]) => beside.includes(name))
        .map(([name, title, why]) =>
          el(
            "li",
            {},
            el(
              "a.file-link",
              { href: name, download: name, onclick: (event) => saveBeside(event, name) },
              el("b", {}, title),
              el("span.quiet", {}, why),
            ),
          ),
        ),
    );
  // Browsers do not ask the worker for what is to be saved: it is taken from what it keeps.
  async function saveBeside(event, name) {
    event.preventDefault();
    const kept = window.caches && (await caches.match(name).catch(() => undefined));
    if (kept) R.saveAs(await kept.blob(), name);
    else follow(name, name);
  }
})(window.Resupply);
