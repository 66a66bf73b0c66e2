"""The plan document is as docs/plan.schema.json says, and docs/results.md says it too."""

from __future__ import annotations

import copy
import importlib.util
import json
from typing import Any

import jsonschema
import pytest
from conftest import ROOT
from demo_plans import NAMES, demo_plan

from resupply.report.document.document import SCHEMA
from resupply.report.write import MEDIA_TYPES

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


def faults(document: dict[str, Any]) -> list[str]:
    return [
        f"{error.json_path}: {error.message[:200]}" for error in VALIDATOR.iter_errors(document)
    ]


def test_the_schema_is_a_schema_and_names_the_version():
    jsonschema.Draft202012Validator.check_schema(PLAN_SCHEMA)
    assert PLAN_SCHEMA["properties"]["schema"]["const"] == SCHEMA
    assert PLAN_SCHEMA["title"] == SCHEMA


@pytest.mark.parametrize("name", NAMES)
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


def test_the_page_of_results_is_current_and_names_every_file():
    path = ROOT / "docs" / "make_results_reference.py"
    spec = importlib.util.spec_from_file_location("make_results_reference", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    page = (ROOT / "docs" / "results.md").read_text("utf-8")
    assert page == module.reference(), "run docs/make_results_reference.py"
    for name in MEDIA_TYPES:
        assert f"| `{name}` |" in page
