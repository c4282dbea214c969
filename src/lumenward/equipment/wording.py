"""Schema errors in plain sentences: what was found, what is allowed, what was probably meant."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from lumenward.equipment.common import ONE_LINE, SCANNED
from lumenward.equipment.finding import Finding, Path, one_of, shown

_KINDS = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "date_type": "a date like 2026-03-31",
    "date_from_datetime_parsing": "a date like 2026-03-31",
    "date_parsing": "a date like 2026-03-31",
    "union_tag_not_found": "a table with the key 'shape'",
}
_LIMITS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}
_LENGTHS = {
    "too_short": ("at least", "min_length", "entries"),
    "too_long": ("at most", "max_length", "entries"),
    "string_too_short": ("at least", "min_length", "characters"),
    "string_too_long": ("at most", "max_length", "characters"),
}


def findings(error: ValidationError, model: type[BaseModel], data: Any) -> list[Finding]:
    """Return one finding for each fault pydantic found in `data` as `model`."""
    return [_finding(fault, model, data) for fault in error.errors(include_url=False)]


def _finding(fault: ErrorDetails, model: type[BaseModel], data: Any) -> Finding:
    path = _real_path(fault["loc"], data)
    kind = fault["type"]
    if kind == "extra_forbidden":
        known = _keys_at(model, fault["loc"][:-1])
        hint = one_of(known, str(path[-1]))
        return Finding("unknown-key", path, f"there is no key {str(path[-1])!r} here", hint)
    if kind == "missing":
        return Finding(
            "missing", path, f"the key {str(path[-1])!r} is missing", "Add it; nothing is guessed."
        )
    found = shown(fault["input"])
    if kind in _LIMITS:
        return _beyond(fault, path, found)
    return Finding(_code(kind), path, f"{_allowed(fault)} is expected; found {found}", _hint(fault))


def _code(kind: str) -> str:
    if kind == "finite_number":
        return "not-finite"
    return "wrong-type" if kind in _KINDS else "not-allowed"


def _allowed(fault: ErrorDetails) -> str:
    kind, context = fault["type"], fault.get("ctx", {})
    if kind in _KINDS:
        return _KINDS[kind]
    if kind in _LENGTHS:
        word, key, of = _LENGTHS[kind]
        return f"{word} {context[key]} {of if context[key] != 1 else of[:-1].replace('entrie', 'entry')}"
    special: dict[str, Callable[[], str]] = {
        "literal_error": lambda: f"one of {context['expected']}",
        "union_tag_invalid": lambda: f"one of {context['expected_tags']}",
        "string_pattern_mismatch": lambda: _pattern(context["pattern"]),
        "finite_number": lambda: "a finite number",
    }
    return special[kind]() if kind in special else fault["msg"]


def _pattern(pattern: str) -> str:
    known = {
        r"^\d{14}$": "a GTIN of 14 digits",
        ONE_LINE: "one line of plain text",
        SCANNED: "a code without control characters and without space at its ends",
    }
    if pattern.startswith("^[a-z0-9]"):
        return "a short name of small letters, digits and hyphens"
    return known.get(pattern, f"text like {pattern}")


def _hint(fault: ErrorDetails) -> str:
    found = fault["input"]
    if fault["type"] == "float_type" and isinstance(found, str):
        return "Write the number without quotes and without its unit."
    if fault["type"] in ("string_type", "string_pattern_mismatch") and isinstance(found, int):
        return "Put it in quotes, with its leading zeros."
    return "Write it as the other entries do."


def _beyond(fault: ErrorDetails, path: Path, found: str) -> Finding:
    word, key = _LIMITS[fault["type"]]
    limit = fault.get("ctx", {})[key]
    low = word in ("above", "at least")
    message = f"{word} {limit:g} is expected; found {found}"
    value = fault["input"]
    hint = "Check the figure and its unit."
    if not low and isinstance(value, int | float) and 0 < value / 1000 <= limit:
        hint = f"Did you mean {value / 1000:g}? The key says the unit."
    return Finding("too-low" if low else "too-high", path, message, hint)


def _real_path(loc: tuple[int | str, ...], data: Any) -> Path:
    """Return `loc` without the names of union members, which do not stand in the document."""
    path: list[str | int] = []
    here = data
    for step, part in enumerate(loc):
        last = step == len(loc) - 1
        inside = _has(here, part)
        if inside or last:
            path.append(part)
            here = here[part] if inside else None
    return tuple(path)


def _has(here: Any, part: int | str) -> bool:
    if isinstance(here, Mapping):
        return part in here
    return isinstance(here, list) and isinstance(part, int) and part < len(here)


def _keys_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    models = [model]
    for part in loc:
        inner = [m for owner in models for m in _models_under(owner, part)]
        tagged = [m for m in models if part in _tags(m)]
        models = inner or tagged or models
    return [field.alias or name for owner in models for name, field in owner.model_fields.items()]


def _models_under(owner: type[BaseModel], part: int | str) -> list[type[BaseModel]]:
    for name, field in owner.model_fields.items():
        if part in (name, field.alias):
            return list(_models_in(field.annotation))
    return []


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _tags(model: type[BaseModel]) -> tuple[Any, ...]:
    field = model.model_fields.get("shape")
    return get_args(field.annotation) if field else ()
