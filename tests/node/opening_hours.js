// Evaluate opening hours with the npm package, one JSON question on stdin, one answer on stdout.
// Run with TZ=UTC: local time is taken as it stands.
const OpeningHours = require("opening_hours");

function stretches(hours, since, until) {
  const state = (it) => (it.getState() ? "open" : it.getUnknown() ? "unknown" : "shut");
  const it = hours.getIterator(new Date(since));
  const end = new Date(until);
  const found = [[since, state(it)]];
  while (it.advance(end) && it.getDate() < end) {
    found.push([it.getDate().getTime(), state(it)]);
  }
  return found;
}

let question = "";
process.stdin.on("data", (chunk) => (question += chunk));
process.stdin.on("end", () => {
  const { texts, windows } = JSON.parse(question);
  const answers = texts.map(({ text, country, state, lon, lat }) => {
    const place = {
      lat: String(lat),
      lon: String(lon),
      address: { country_code: country.toLowerCase(), state },
    };
    try {
      const hours = new OpeningHours(text, place, { locale: "en" });
      return { windows: windows.map(([since, until]) => stretches(hours, since, until)) };
    } catch (error) {
      return { error: String(error) };
    }
  });
  process.stdout.write(JSON.stringify(answers));
});
