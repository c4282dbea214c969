"""The published JSON Schema accepts every shipped file and refuses what the loader refuses by shape."""

from __future__ import annotations

import json
import math
import re
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import lumenward
from lumenward.equipment import loader

HOME = Path(lumenward.__file__).parent
DEMO = HOME / "demo" / "library"
SCHEMAS = loader.schemas()
FILES = sorted(DEMO.rglob("*.toml"))
POLICIES = [*sorted((HOME / "equipment" / "policies").glob("*.toml")), HOME / "demo" / "policy.toml"]
TYPES = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}
SILENT = {"title", "description", "default", "format", "discriminator", "$defs", "$ref"}
LIMITS = {
    "minimum": lambda v, limit: v >= limit,
    "maximum": lambda v, limit: v <= limit,
    "exclusiveMinimum": lambda v, limit: v > limit,
    "exclusiveMaximum": lambda v, limit: v < limit,
    "minLength": lambda v, limit: len(v) >= limit,
    "maxLength": lambda v, limit: len(v) <= limit,
    "minItems": lambda v, limit: len(v) >= limit,
    "maxItems": lambda v, limit: len(v) <= limit,
    "pattern": lambda v, limit: re.search(limit, v) is not None,
    "enum": lambda v, limit: v in limit,
    "const": lambda v, limit: v == limit,
}


def has_type(value: Any, name: str) -> bool:
    if name in ("number", "integer"):
        number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        return number and (name == "number" or float(value).is_integer())
    return isinstance(value, TYPES[name])


def fits(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    """Whether `value` is valid by the part of JSON Schema that our schemas use; an unknown word is an error."""
    if "$ref" in schema and not fits(value, root["$defs"][schema["$ref"].rsplit("/", 1)[1]], root):
        return False
    words = sorted(schema, key=lambda word: word != "type")
    return all(keyword_holds(word, value, schema, root) for word in words)


def keyword_holds(word: str, value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    told = schema[word]
    if word in SILENT:
        return True
    if word == "type":
        return has_type(value, told)
    if word in ("anyOf", "oneOf"):
        met = sum(fits(value, one, root) for one in told)
        return met > 0 if word == "anyOf" else met == 1
    if word == "items":
        return not isinstance(value, list) or all(fits(one, told, root) for one in value)
    if word == "required":
        return not isinstance(value, dict) or all(key in value for key in told)
    if word == "properties":
        return not isinstance(value, dict) or all(fits(value[k], told[k], root) for k in told if k in value)
    if word == "additionalProperties":
        assert told is False
        return not isinstance(value, dict) or set(value) <= set(schema.get("properties", {}))
    return bool(LIMITS[word](value, told))


def read(path: Path) -> Any:
    return json.loads(json.dumps(tomllib.loads(path.read_text("utf-8")), default=date.isoformat))


def schema_for(path: Path) -> dict[str, Any]:
    return SCHEMAS["endoscopes/*.toml" if path.parent.name == "endoscopes" else path.name]


def test_there_is_a_schema_for_each_kind_of_file_and_no_other() -> None:
    assert set(SCHEMAS) == {"endoscopes/*.toml", "policy.toml", *loader.FILES}
    assert json.loads(json.dumps(SCHEMAS)) == SCHEMAS


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_each_shipped_library_file_is_valid_by_its_schema(path: Path) -> None:
    assert fits(read(path), schema_for(path), schema_for(path))


@pytest.mark.parametrize("path", POLICIES, ids=lambda p: p.name)
def test_each_shipped_policy_is_valid_by_its_schema(path: Path) -> None:
    assert fits(read(path), SCHEMAS["policy.toml"], SCHEMAS["policy.toml"])


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("colour",), 3),
        (("family",), "telescope"),
        (("gtin",), "950110"),
        (("high_risk",), "no"),
        (("working_length_mm",), -1),
        (("tubes", 0, "bore_mm"), "3.5"),
        (("tubes", 0, "from_"), "s0"),
        (("tubes", 0, "length_m"), 1600),
        (("ifu", "states", 0, "page"), ""),
        (("ifu", "leak_methods"), []),
    ],
    ids=str,
)
def test_the_schema_refuses_a_wrong_endoscope(path: tuple[str | int, ...], value: Any) -> None:
    data = read(DEMO / "endoscopes" / "sanderling-28.toml")
    here = data
    for part in path[:-1]:
        here = here[part]
    here[path[-1]] = value
    schema = SCHEMAS["endoscopes/*.toml"]
    assert not fits(data, schema, schema)


@pytest.mark.parametrize("key", ["id", "family", "high_risk", "gtin", "ifu"])
def test_the_schema_asks_for_what_the_loader_asks_for(key: str) -> None:
    data = read(DEMO / "endoscopes" / "sanderling-28.toml")
    del data[key]
    schema = SCHEMAS["endoscopes/*.toml"]
    assert not fits(data, schema, schema)
