"""Readers of what other people and machines hand over: phones, catalogues and kept maps."""

from __future__ import annotations

import copy
import io
import json
import zipfile
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from tests.fuzz import inputs

if TYPE_CHECKING:
    from tests.fuzz.inputs import Dice, Make

JSON_PIECES = (b"[", b"]", b"{", b"}", b",", b'"', b"null", b"1e999", b"-", b"\\ud800", b"NaN")


def _elsewhere(make: Make, sound: Any) -> Make:
    """Give a sound document in which some values, anywhere in it, are anything at all."""

    def spoil(dice: Dice, value: Any) -> Any:
        inside = list(value) if isinstance(value, dict) else range(len(value))
        key = dice.choice(list(inside))
        if isinstance(value[key], dict | list) and value[key] and dice.random() < 0.8:
            value[key] = spoil(dice, value[key])
        elif dice.random() < 0.2 and isinstance(value, dict):
            del value[key]
        else:
            value[key] = make(dice)
        return value

    def one(dice: Dice) -> Any:
        document = copy.deepcopy(sound)
        for _ in range(dice.choice((0, 1, 1, 1, 2, 4))):
            document = spoil(dice, document) if document else document
        return document

    return one


_anything = inputs.weighted(
    (3, inputs.json_value),
    (2, inputs.among(-1, 0, 1e300, 2**63, 10**400, "", "x" * 999, "node/1", [], {}, None, 95.5)),
)

# -- a phone --

_PHONE = {
    "schema": "resupply-phone/1", "trip": "Ride", "time": "2027-07-10T11:00", "at_m": 300_000,
    "route_m": 400_000, "lat": 46.5, "lon": -25.5, "food_meals": 4, "ice_kg": 2.5, "fuel_km": 90,
    "water_l": 3, "shut": ["node/1"], "no_ice": ["way/2"], "has_ice": [],
    "ticks": [{"time": "2027-07-10T10:00", "kind": "bought", "place": "node/1", "name": "Farm",
               "at_m": 251_000}],
}  # fmt: skip


def read_phone(data: bytes) -> str:
    """Read what a phone handed over, as a file and as a link."""
    from resupply.common.errors import ResupplyError
    from resupply.trip.hand_over import read_hand_over

    text = data.decode("utf-8", "replace")
    try:
        told = read_hand_over(text, where="on-the-road.json")
    except ResupplyError as error:
        assert "\n" not in str(error)
        str(error).encode()
        return "refused"
    for said in (told.trip, *(tick.name for tick in told.ticks)):
        assert not any(c < " " or "\x7f" <= c < "\xa0" for c in said)
        said.encode()
    for number in (told.at_m, told.lat, told.lon, told.ice_kg, told.fuel_km, told.water_l):
        assert number is None or abs(number) <= 1e8
    assert told.time.tzinfo is None
    return "read"


def phone_inputs() -> Make:
    sound = json.dumps(_PHONE).encode()
    link = b"file:///plan.html#phone=" + _code(sound)
    return inputs.weighted(
        (4, inputs.then(_elsewhere(_anything, _PHONE), inputs.as_json)),
        (2, inputs.spoilt([sound, link], JSON_PIECES)),
        (1, inputs.then(_elsewhere(_anything, _PHONE),
                        lambda value: b"#phone=" + _code(inputs.as_json(value)))),
    )  # fmt: skip


def _code(data: bytes) -> bytes:
    import base64

    return base64.urlsafe_b64encode(data).rstrip(b"=")


# -- a catalogue --

_BOX = [[[-26.0, 46.0], [-25.0, 46.0], [-25.0, 47.0], [-26.0, 47.0], [-26.0, 46.0]]]
_CATALOGUE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"id": name, "name": name.title(), "parent": parent, "bytes": 5_000_000,
                           "bytes_date": "2027-06-01", "urls": {"pbf": f"https://x/{name}.pbf"}},
            "geometry": {"type": "Polygon", "coordinates": _BOX},
        }
        for name, parent in (("sea", None), ("isle", "sea"))
    ],
}  # fmt: skip


def read_catalogue(data: bytes) -> str:
    """Read a catalogue, choose extracts for a route from it and tell what is offered."""
    from resupply.common.download import in_mb
    from resupply.common.errors import ResupplyError
    from resupply.places.catalogue import read_catalogue
    from resupply.places.smallest_set import smallest_set
    from tests.fuzz.targets import road

    try:
        regions = read_catalogue(data, "https://host/index.json")
        for region in regions:
            assert "/" not in region.file_name
            assert region.file_name.isascii()
            assert len(region.file_name) < 120
            assert region.size_bytes is None or in_mb(region.size_bytes)
            region.name.encode()
        smallest_set(road(), regions, 5_000.0)
    except ResupplyError as error:
        assert "\n" not in str(error)
        str(error).encode()
        return "refused"
    return "read"


def catalogue_inputs() -> Make:
    import gzip

    sound = json.dumps(_CATALOGUE).encode()
    made = inputs.then(_elsewhere(_anything, _CATALOGUE), inputs.as_json)
    return inputs.weighted(
        (5, made),
        (1, inputs.then(made, lambda data: gzip.compress(data, 1))),
        (2, inputs.spoilt([sound, gzip.compress(sound)], JSON_PIECES)),
    )


# -- a kept map --


@cache
def _kept_map() -> tuple[dict[str, Any], dict[str, Any]]:
    """Facts and columns of a kept map near a route."""
    from resupply.common.columns import columns, facts
    from resupply.plan import kept_corridor
    from resupply.roads.speeds import load_speeds
    from resupply.trip.settings import Trip
    from tests.fuzz.targets import kept, road, scratch

    path = scratch() / "kept.osm"
    path.write_bytes(kept("extract")[0])
    trip = Trip.model_validate({"map": {"extracts": [str(path)]}})
    read = kept_corridor._read(trip, [path], road(), load_speeds(), None)
    body = kept_corridor._packed(read, [None], road())
    return facts(body), columns(body)


def read_kept_map(body: bytes) -> str:
    """Read a kept map that says it is whole, for its own route and for another one."""
    from resupply.plan import kept_corridor
    from tests.fuzz.targets import are_places, road

    found = kept_corridor._unpacked(body, [None])
    near = kept_corridor._unpacked(body, [None], road(), 5_000.0)
    for one in (found, near):
        if one is not None:
            are_places(one.places)
    return "refused" if found is None else "read"


def kept_map_inputs() -> Make:
    about, arrays = _kept_map()
    facts_made = inputs.then(_elsewhere(_anything, about), inputs.as_json)

    def packed(dice: Dice) -> bytes:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as file:
            file.writestr("about.json", facts_made(dice))
            for name, array in arrays.items():
                told = array if dice.random() < 0.97 else _column(dice, array)
                with file.open(f"{name}.npy", "w") as stream:
                    np.lib.format.write_array(stream, told, allow_pickle=False)
        return out.getvalue()

    sound = packed(inputs.Dice(1))
    return inputs.weighted((4, packed), (1, inputs.spoilt([sound])))


def _column(dice: Dice, array: Any) -> Any:
    kind = dice.randrange(4)
    if kind == 0:
        return array[: dice.randrange(len(array) + 1)]
    if kind == 1:
        return array.astype(dice.choice(("f8", "i8", "U9", "?")))
    if kind == 2:
        return np.repeat(array, 2)
    spoilt = array.copy()
    if len(spoilt):
        spoilt[dice.randrange(len(spoilt))] = dice.choice((0, 1, 127))
    return spoilt
