"""The classes of the plan document, and what is printed from them: schema, page, script types."""

from __future__ import annotations

import copy
import importlib.util
import json
from functools import cache
from typing import Any

import jsonschema
import pydantic
import pytest
from conftest import ROOT
from demo_plans import NAMES, demo_plan

from resupply.common.show import KINDS
from resupply.report.document.document import SCHEMA
from resupply.report.document.model.as_json import to_dict, to_json
from resupply.report.document.model.base import QuantityRow
from resupply.report.document.model.plan import PlanDocument
from resupply.report.write import MEDIA_TYPES

READER = pydantic.TypeAdapter(PlanDocument)
PLAN_SCHEMA = json.loads((ROOT / "docs" / "plan.schema.json").read_text("utf-8"))
# What changes the shape of a document: a trip under way in the heat with a tank that is too
# small; no cooler, and a limit that cannot be kept.
OTHERS = (
    {
        "now__at_km": 700,
        "now__time": "2027-07-12T14:10:00",
        "now__food_meals": 1,
        "fuel__range_km": 60,
        "weather__low_c": 30,
        "weather__high_c": 44,
    },
    {
        "cooler__kind": "none",
        "food__carry_limit_days": 1,
        "pace__daily_km": 120,
        "show__units": "imperial",
    },
)


def strict(node: Any) -> Any:
    """The same schema, with no key allowed that it does not describe."""
    if isinstance(node, list):
        return [strict(value) for value in node]
    if not isinstance(node, dict):
        return node
    made = {key: strict(value) for key, value in node.items()}
    if "properties" in made:
        made.setdefault("additionalProperties", False)
    return made


VALIDATOR = jsonschema.Draft202012Validator(
    strict(PLAN_SCHEMA), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
)


@cache
def printed() -> Any:
    path = ROOT / "docs" / "make_results_reference.py"
    spec = importlib.util.spec_from_file_location("make_results_reference", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def faults(document: dict[str, Any]) -> list[str]:
    return [
        f"{error.json_path}: {error.message[:200]}" for error in VALIDATOR.iter_errors(document)
    ]


def test_the_schema_is_a_schema_and_names_the_version():
    jsonschema.Draft202012Validator.check_schema(PLAN_SCHEMA)
    assert PLAN_SCHEMA["properties"]["schema"]["const"] == SCHEMA
    assert PLAN_SCHEMA["title"] == SCHEMA


@pytest.mark.parametrize("name", [*NAMES[:2], pytest.param(NAMES[2], marks=pytest.mark.long)])
def test_every_key_of_a_sample_plan_is_documented(name):
    document, _ = demo_plan(name)
    assert faults(json.loads(json.dumps(document))) == []


@pytest.mark.parametrize("overrides", OTHERS, ids=lambda keys: next(iter(keys)))
def test_every_key_of_other_plans_is_documented(overrides):
    document, _ = demo_plan(**overrides)
    assert faults(json.loads(json.dumps(document))) == []


def test_a_key_that_is_not_documented_and_a_wrong_type_are_found():
    document = copy.deepcopy(demo_plan()[0])
    document["stops"][0]["surprise"] = 1
    document["gaps"]["groceries"]["longest"]["length_m"] = "far"
    document["legs"][0]["arrive"] = "noon"
    del document["coverage"]["unknown"]
    found = " ".join(faults(document))
    for said in (
        "surprise",
        "'far' is not of type 'integer'",
        "'noon' does not match",
        "'unknown' is a required",
    ):
        assert said in found


def test_every_key_has_a_meaning():
    def keys(node: Any):
        if isinstance(node, dict):
            for name, child in node.get("properties", {}).items():
                yield name, child
                yield from keys(child)
            for part in ("items", "additionalProperties"):
                yield from keys(node.get(part))

    nodes = [PLAN_SCHEMA, *PLAN_SCHEMA["$defs"].values()]
    found = [pair for node in nodes for pair in keys(node)]
    assert len(found) > 300
    assert [name for name, child in found if len(child.get("description", "")) < 2] == []


def test_schema_page_and_script_types_are_as_the_classes_say():
    made = printed().files()
    assert {path.name for path in made} == {"plan.schema.json", "results.md", "plan.d.ts"}
    for path, text in made.items():
        assert path.read_text("utf-8") == text, "run docs/make_results_reference.py"


def test_the_page_of_results_names_every_file():
    page = (ROOT / "docs" / "results.md").read_text("utf-8")
    for name in MEDIA_TYPES:
        assert f"| `{name}` |" in page


@pytest.mark.parametrize("overrides", [{}, *OTHERS], ids=lambda keys: next(iter(keys), "sample"))
def test_a_document_reads_back_as_classes_and_is_written_as_it_was(overrides):
    document, _ = demo_plan(**overrides)
    read = READER.validate_json(json.dumps(document))
    assert read.stops[0].place in read.places
    written = to_dict(read)
    assert to_dict(READER.validate_json(to_json(read))) == written
    assert written.keys() == document.keys()
    assert written["stops"] == json.loads(json.dumps(document["stops"]))


def test_a_document_with_a_fault_is_not_read():
    document = copy.deepcopy(demo_plan()[0])
    document["legs"][0]["arrive"] = "noon"
    document["stops"][0]["why"] = "because"
    with pytest.raises(pydantic.ValidationError) as told:
        READER.validate_json(json.dumps(document))
    assert "legs.0.arrive" in str(told.value)
    assert "a sentence is a list" in str(told.value)


def test_every_kind_of_quantity_is_in_the_schema():
    assert set(QuantityRow.__annotations__) == set(KINDS)
