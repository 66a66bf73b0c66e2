"""Plan again with what the rider has found and wants otherwise, and tell what that changes.

In: options of `resupply here`. Out: results, log, five lines. Shops are told by name, so the map is
read before the trip is known in full.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from resupply.cli import pocket
from resupply.cli.ask import asks, choose, tell
from resupply.cli.given import read_trip
from resupply.cli.plan import plan_and_write
from resupply.cli.said import keep_said
from resupply.common.errors import ResupplyError
from resupply.common.quantity import at, count, date, day_time, way
from resupply.common.show import Show, shown
from resupply.trip.riding_keys import MOST_REST_DAYS

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.cli.given import Given
    from resupply.plan.on_the_way import DaysSoFar, NamedPlace
    from resupply.plan.prepared import Prepared
    from resupply.report.document.model.plan import PlanDocument
    from resupply.route.route import Route
    from resupply.trip.hand_over import HandOver
    from resupply.trip.settings import Trip

__all__ = ["News", "plan_with_news"]

_MOST_OFFERED: Final = 4
"""Places in one question: our choice."""
_MOST_CAMPS: Final = 3
"""The same for camps."""
_FAR_ON_M: Final = 60_000.0
"""A camp farther on than that does not end the day here: our choice."""
_SAME_ROUTE_M: Final = 100
"""Two routes whose lengths differ by more are not the same (our choice)."""


@dataclass(frozen=True, slots=True)
class News:
    """Where the rider is, what they found, and what they want otherwise."""

    time: dt.datetime
    at_km: float | None
    at_option: str
    """The same as it was written."""
    position: str | None
    phone: HandOver | None
    shut: tuple[str, ...]
    no_ice: tuple[str, ...]
    has_ice: tuple[str, ...]
    rest: int | None
    stop_here: bool


def plan_with_news(
    path: Path,
    given: Given,
    news: News,
    *,
    out: Path,
    site: Path | None,
    before: tuple[Trip, Path],
    kept: Path,
) -> None:
    """Plan again from where the rider is, and tell what has changed.

    Parameters
    ----------
    given
        Settings with what was said before; what is said now is added.
    site
        Folder for a web host; None for none.
    before
        The trip as it was last planned, and the folder of its file names.
    kept
        File of what holds for the next time.

    Raises
    ------
    ResupplyError
        Something cannot be meant, or the trip cannot be planned. Nothing is written then.
    """
    from rich.console import Console

    from resupply.api.calls import read_map_of
    from resupply.cli.terminal import progress_bar

    if news.rest is not None and not 0 <= news.rest <= MOST_REST_DAYS:
        raise ResupplyError(
            f"--rest {news.rest}: days of rest are 0 to {MOST_REST_DAYS}", mend="Give a number"
        )
    trip, folder = read_trip(path, given)
    here_km, old_km = _where(news, trip, before, folder)
    given.put("now.at_km", _said_where(news), here_km, shown="")
    given.put("now.time", "--time", news.time, shown=news.time.isoformat(timespec="minutes"))
    trip, folder = read_trip(path, given)
    with progress_bar(Console(stderr=True)) as progress, given.blamed():
        read = read_map_of(trip, folder, progress=progress)
    said = _put_found(given, news, read.prepared, trip)
    trip, _ = read_trip(path, given)
    with given.blamed():
        told = _put_day(given, news, read.prepared, trip)
    last = _last_plan(out / "plan.json")
    planned = plan_and_write(path, given, out, site, read=read)
    said += told
    _keep_log(out / "log.csv", given, news, here_km, said)
    held = keep_said(given, kept)
    for line in said:
        tell(line)
    _tell_changes(last, planned.document, old_km * 1000.0, where=out / "plan.json")
    if held:
        print(f"Kept for the next time in {kept}: {', '.join(held)}")
    print(f"The log is in {out / 'log.csv'}")
    pocket.add_pocket(planned, out, site)


def _said_where(news: News) -> str:
    if news.position is not None:
        return f"--position {news.position}"
    return news.at_option or "from the phone:"


def _where(news: News, trip: Trip, before: tuple[Trip, Path], folder: Path) -> tuple[float, float]:
    """Kilometre by the route of the trip, and by the one that was last planned.

    On a changed route the kilometre goes on by position.
    """
    from resupply.passes.position import at_km_of, ridden_route

    changed = trip.route != before[0].route
    if news.at_km is not None and not changed:
        return news.at_km, news.at_km
    old = ridden_route(*before)
    old_km, position = _on_old(news, old)
    if not changed:
        here_km = old_km if position is None else at_km_of(old, position)
        return here_km, here_km
    new, option = ridden_route(trip, folder), "--position"
    if position is None:
        lon, lat = old.position_at(old_km * 1000.0)
        position, option = f"{lat:.6f},{lon:.6f}", f"--route, from km {old_km:g} at"
    else:
        old_km = _km_or(0.0, old, position)
    return at_km_of(new, position, option=option), old_km


def _on_old(news: News, old: Route) -> tuple[float, str | None]:
    """Kilometre of the route last planned, or a position, as options or phone say."""
    if news.at_km is not None:
        return news.at_km, None
    phone = news.phone
    if news.position is not None or phone is None:
        return 0.0, news.position
    same = phone.route_m is None or abs(phone.route_m - old.length_m) <= _SAME_ROUTE_M
    if phone.at_m is not None and same:
        return phone.at_m / 1000.0, None
    if phone.lat is not None and phone.lon is not None:
        return 0.0, f"{phone.lat},{phone.lon}"
    raise ResupplyError(
        "the phone does not say where you are on this route",
        mend="Give either --at-km or --position besides",
    )


def _km_or(other_km: float, route: Route, position: str) -> float:
    from resupply.passes.position import at_km_of

    try:
        return at_km_of(route, position)
    except ResupplyError:
        # Beside the old route, or where it comes by twice: only what is told as behind hangs on it.
        return other_km


def _put_found(given: Given, news: News, prepared: Prepared, trip: Trip) -> list[str]:
    """Put what was found at places into the settings; what was understood, in words."""
    phone, said = news.phone, []
    words = {
        "gone": [*news.shut, *(phone.shut if phone else ())],
        "no_ice": [*news.no_ice, *(phone.no_ice if phone else ())],
        "has_ice": [*news.has_ice, *(phone.has_ice if phone else ())],
    }
    options = {"gone": "--shut", "no_ice": "--no-ice", "has_ice": "--has-ice"}
    known = {place.id for place in prepared.places.places}
    meant: dict[str, dict[str, str]] = {}
    for key, asked in words.items():
        meant[key] = {}
        for word in asked:
            if phone and word in (*phone.shut, *phone.no_ice, *phone.has_ice) and word not in known:
                # Another map, or a route that leads elsewhere now: nothing hangs on it.
                continue
            place = _meant(options[key], word, prepared, trip)
            meant[key][place.id] = place.name
    for one, other in (("gone", "has_ice"), ("no_ice", "has_ice")):
        both = [name for id_, name in meant[one].items() if id_ in meant[other]]
        if both:
            raise ResupplyError(
                f"{options[one]} and {options[other]} both name {both[0]}",
                mend="Only one of them can be true: leave the other out",
            )
    heads = {"gone": "Shut or gone", "no_ice": "No ice", "has_ice": "Ice found"}
    for key, places in meant.items():
        if not places:
            continue
        earlier = getattr(trip.shops, key)
        given.put(f"shops.{key}", options[key], list(dict.fromkeys([*earlier, *places])))
        said.append(f"{heads[key]}: {', '.join(places.values())}")
    # What is found later counts: ice that has come is no ice missed any more.
    for key, other in (("has_ice", "no_ice"), ("no_ice", "has_ice")):
        earlier = getattr(trip.shops, other)
        if meant[key] and any(one in meant[key] for one in earlier):
            left = [one for one in earlier if one not in meant[key]]
            given.put(f"shops.{other}", options[other], [*left, *meant[other]])
    return said


def _meant(option: str, words: str, prepared: Prepared, trip: Trip) -> NamedPlace:
    """Find the one place that a name means; ask if there are more."""
    from resupply.plan.on_the_way import places_named

    found = places_named(prepared, words, here_m=(trip.now.at_km or 0.0) * 1000.0)
    if not found:
        raise ResupplyError(
            f"{option} {words}: no place of that name or map id is near the route",
            mend="Write it as the plan does, or its map id",
        )
    if len(found) == 1:
        return found[0]
    show = Show(trip.show.units, trip.show.clock)
    told = [
        f"{one.name} ({one.id}"
        + (f", {shown(at(one.at_m), show)})" if one.at_m is not None else ", off the route)")
        for one in found[:_MOST_OFFERED]
    ]
    more = len(found) - len(told)
    if asks():
        return found[choose(f"{option} {words}: which one?", told)]
    raise ResupplyError(
        f"{option} {words}: {' or '.join(told)}{f' or {more} more' if more else ''}?",
        mend=f"Write {option} with the map id of the one you mean",
    )


def _put_day(given: Given, news: News, prepared: Prepared, trip: Trip) -> list[str]:
    """Put where the day ends and how long is rested into the settings."""
    from resupply.plan.on_the_way import days_so_far

    now = trip.now.time
    earlier = trip.now.leave_on
    if now is not None and earlier is not None and earlier <= now.date():
        given.keys.pop("now.leave_on", None)
    if now is None or (news.rest is None and not news.stop_here):
        return []
    days = days_so_far(prepared, trip)
    said = _put_end(given, prepared, trip, days) if news.stop_here else []
    rest = news.rest or 0
    # In camp before lunch today is a day of rest; else the day is ridden, or over.
    rests_today = days.in_camp and now.time() <= trip.food.lunch and not news.stop_here
    leave_on = now.date() + dt.timedelta(days=rest if rests_today else rest + 1)
    if rest or news.stop_here:
        given.put("now.leave_on", f"--rest {rest}", leave_on, shown="")
    else:
        # `--rest 0` takes back what was said before.
        given.keys.pop("now.leave_on", None)
    if rest:
        where = "in this camp" if days.in_camp else "in tonight's camp"
        said.append(f"{count(rest, 'day')} of rest {where}: you leave on {date(leave_on)}")
    return said


def _put_end(given: Given, prepared: Prepared, trip: Trip, days: DaysSoFar) -> list[str]:
    """End the day at a camp nearby, or where the rider is if none is known."""
    from resupply.plan.on_the_way import camps_near

    show, here_m = Show(trip.show.units, trip.show.clock), (trip.now.at_km or 0.0) * 1000.0
    if days.in_camp:
        return ["You are in camp already: this day has ended."]
    found = camps_near(prepared, trip, days)
    camps = [camp for camp in found if camp.on_m <= _FAR_ON_M][:_MOST_CAMPS]
    told = [
        f"{camp.place.name} ({shown(at(camp.at_m), show)}), {shown(way(abs(camp.on_m)), show)} "
        f"{'on' if camp.on_m >= 0.0 else 'back'}, there about {shown(day_time(camp.arrive), show)}"
        for camp in camps or found[:1]
    ]
    if not camps:
        nearest = f"; the nearest is {told[0]}" if told else ""
        raise ResupplyError(
            f"--stop-here: no camp is known near you{nearest}",
            mend=f"To sleep where you are, end the day by hand: --set pace.own_km.{days.number}=KM",
        )
    picked = 0
    if asks():
        picked = choose("Where does the day end?", [*told, "ride on as planned"], usual=0)
        if picked == len(camps):
            return []
    camp = camps[picked]
    for day, km in days.ended_at(camp.at_m).items():
        given.put(f"pace.own_km.{day}", "--stop-here, day", km, shown=day)
    own = list(dict.fromkeys([*trip.night.own, camp.place.id]))
    given.put("night.own", "--stop-here", own, shown=camp.place.name)
    if camp.at_m < here_m:
        # The way back is ridden today, and once more tomorrow.
        given.put("now.at_km", "--stop-here", round(camp.at_m / 1000.0, 3), shown="")
    return [f"Day {days.number} ends at {told[picked]}"]


def _last_plan(path: Path) -> dict[str, Any] | None:
    """Read the last plan document; None where there is none that can be read."""
    try:
        plan = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return plan if isinstance(plan, dict) and plan.get("schema") == "resupply-plan/2" else None


def _tell_changes(
    last: dict[str, Any] | None, document: PlanDocument, behind_m: float, *, where: Path
) -> None:
    from resupply.common.show import text
    from resupply.report.document.changed import what_changed
    from resupply.report.document.in_words import shown_in
    from resupply.report.document.model.as_json import to_dict

    if last is None:
        print(f"No last plan lies in {where} to compare with.")
        return
    lines = what_changed(last, to_dict(document), behind_m=behind_m)
    name = (last.get("trip") or {}).get("name") if isinstance(last.get("trip"), dict) else None
    if lines is None or name != document.trip.name:
        print(f"The last plan in {where} is of another trip: nothing is compared.")
        return
    print("Against the last plan:")
    for line in lines:
        tell(f"  {text(line, shown_in(document))}")


def _keep_log(path: Path, given: Given, news: News, here_km: float, said: list[str]) -> None:
    """Add this planning to the log, and the phone's ticks that are not in it yet."""
    from resupply.report.log import add_to_log

    for tick in news.phone.ticks if news.phone else ():
        row: dict[str, str | float | None] = {
            "time": tick.time.replace(tzinfo=None).isoformat(timespec="minutes"),
            "at_km": None if tick.at_m is None else round(tick.at_m / 1000.0, 2),
            "said": f"{tick.kind.replace('_', ' ')}: {tick.name or tick.place or ''}",
        }
        add_to_log(path, row, once=True)
    keys = given.keys
    row = {
        "time": news.time.isoformat(timespec="minutes"),
        "at_km": here_km,
        "food_meals": _number(keys.get("now.food_meals", 0)),
        "ice_kg": _number(keys.get("now.ice_kg", 0.0)),
        "fuel_km": _number(keys.get("now.fuel_km")),
        "water_l": _number(keys.get("now.water_l")),
    }
    add_to_log(path, {**row, "said": "; ".join(said)} if said else row)


def _number(value: object) -> float | None:
    return value if isinstance(value, int | float) else None
