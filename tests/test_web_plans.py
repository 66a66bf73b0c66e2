"""What a client of the live page may set, and what it never may: files and addresses."""

from __future__ import annotations

import re
import time
from typing import Any, get_args

import pytest
from conftest import ROOT
from pydantic import BaseModel

from resupply.trip.read_file import make_trip
from resupply.trip.settings import Trip
from resupply.web import kept_maps
from resupply.web import settings as plans
from resupply.web.answers import Answers
from resupply.web.newest_first import Turn
from resupply.web.requests import PlanRequest
from resupply.web.settings import ServerMap, client_tree, settled_trip

# Text that is only ever compared or shown. A new key with text belongs here, or, if it names a
# file or an address, among the keys that only the server sets.
ONLY_TEXT = {
    "name",
    "jumps.kind",
    "jumps.each",
    "party.diet",
    "party.diets",
    "food.style",
    "party.allergens",
    "party.leave_out",
    "party.prefer",
    "region.country",
    "region.time_zone",
    "region.bears",
    "cooler.kind",
    "cooler.form",
    "cooler.colour",
    "drinks_cooler.kind",
    "drinks_cooler.form",
    "drinks_cooler.colour",
    "food.eat_out",
    "food.eat_out_daily",
    "food.eggs",
    "food.menu",
    "night.own",
    "fuel.takes",
    "shops.gone",
    "shops.no_ice",
    "shops.has_ice",
    "shops.pinned",
    "show.units",
}
OWN = {"map.service": True, "weather.forecast": True}


def holds_text(kind: Any) -> bool:
    if isinstance(kind, str) or kind is str:  # a str among the arguments of a Literal
        return True
    return any(holds_text(part) for part in get_args(kind))


def text_keys() -> set[str]:
    found = set()
    for name, field in Trip.model_fields.items():
        model = field.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            found |= {
                f"{name}.{key}" for key, f in model.model_fields.items() if holds_text(f.annotation)
            }
        elif holds_text(model):
            found.add(name)
    return found


def server_keys() -> set[str]:
    return {"route"} | {f"{t}.{key}" for t, keys in plans._SERVER_KEYS.items() for key in keys}


def test_every_key_with_text_is_known_to_be_harmless_or_set_by_the_server_alone():
    assert text_keys() - server_keys() == ONLY_TEXT


@pytest.mark.parametrize("key", sorted(server_keys()))
def test_a_client_sets_no_file_no_address_and_no_service(key):
    value: object = OWN.get(key, "/etc/passwd")
    if key == "map.extracts":
        value = ["/etc/passwd"]
    table, _, name = key.rpartition(".")
    tree = {table: {name: value}} if table else {name: value}
    make_trip(tree)  # a trip file may hold it
    for own in (ServerMap(), make_trip({"route": "own.gpx"})):
        trip = settled_trip(tree, own)
        assert "passwd" not in trip.model_dump_json()
        assert not trip.map.service
        assert not trip.weather.forecast
    told = client_tree(make_trip(tree))
    assert name not in told.get(table, told if not table else {})


def test_a_question_checks_its_settings_once_and_names_its_map_once(tmp_path, monkeypatch):
    desk = Answers(ROOT / "sample_routes", ServerMap(), tmp_path)
    sample = "coast_loop"
    asked = PlanRequest(page="p", seq=1, route=f"sample:{sample}", trip={}, quick=True)
    while desk.answer(asked, Turn())[0] == 202:
        time.sleep(0.1)
    counts = {"checked": 0, "named": 0}

    def counted(what, real):
        def call(*args, **keys):
            counts[what] += 1
            return real(*args, **keys)

        return call

    monkeypatch.setattr(Trip, "model_validate", counted("checked", Trip.model_validate))
    monkeypatch.setattr(kept_maps, "_map_key", counted("named", kept_maps._map_key))
    assert desk.answer(asked, Turn())[0] == 200
    assert counts == {"checked": 1, "named": 1}


def test_what_moves_while_the_page_works_costs_a_step_of_a_drag_nothing():
    assets = ROOT / "resupply" / "web" / "assets"
    style = "".join(path.read_text("utf-8") for path in assets.glob("*.css"))
    runs = re.findall(r"@keyframes [\w-]+ \{(.*?)\}\s*\}", style, re.DOTALL)
    # Anything else has the page laid out and painted for each picture.
    assert runs
    assert {name for run in runs for name in re.findall(r"([\w-]+):", run)} == {"transform"}
    (line,) = re.findall(r"\.working \.pace::after[^}]*animation: run-along ([^;]*);", style)
    starts_s = [float(time) for time in re.findall(r"(?<![\w.])([\d.]+)s\b", line)]
    assert starts_s[1] >= 0.3
