"""Between a case and the texts of its form: every key by its path, what was typed kept as typed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lumenward.chemistry.log_csv import read_log_csv
from lumenward.interchange.strict_json import read_object
from lumenward.quantities import Refusal, echo, parse_in, parse_number
from lumenward.screens.calculations.shape import Node
from lumenward.screens.calculations.wording import parse_unit

MOST_ROWS = 200
EMPTY_TEXT = '""'
Texts = Mapping[str, str]


@dataclass
class Read:
    """A case as read from a form, and the sentence beside each field that could not be read."""

    case: dict[str, Any] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)


def sentence(refusal: Refusal) -> str:
    """Return message and hint as one text; the line of a log is named where the refusal means one."""
    said = f"{refusal.message} {refusal.hint}".strip()
    line = re.search(r" line \d+$", refusal.field)
    return said if line is None or line[0] in said else f"In{line[0]}: {said}"


def texts_of(nodes: Iterable[Node], case: Mapping[str, Any], prefix: str = "") -> dict[str, str]:
    """Return the text of every field that a case fills."""
    texts: dict[str, str] = {}
    for node in nodes:
        value = case.get(node.key)
        path = prefix + node.key
        if value is None:
            continue
        if node.kind == "group" and isinstance(value, Mapping):
            texts |= texts_of(node.children, value, f"{path}.")
        elif node.kind == "table" and isinstance(value, list):
            for row, one in enumerate(value):
                texts |= texts_of(node.children, one if isinstance(one, Mapping) else {}, f"{path}.{row}.")
        else:
            texts[path] = _text(node, value)
    return texts


def _text(node: Node, value: Any) -> str:
    if node.kind == "readings" and isinstance(value, list):
        return "\n".join(", ".join(f"{number}" for number in one) for one in value)
    if node.kind == "json":
        return json.dumps(value, ensure_ascii=False, indent=1)
    if isinstance(value, bool):
        return "true" if value else "false"
    return EMPTY_TEXT if value == "" else f"{value}"


def rows_in(texts: Texts, path: str) -> list[int]:
    """Return the rows of a table that have any text, in order."""
    front = f"{path}."
    found = {
        int(number)
        for key, text in texts.items()
        if key.startswith(front) and text.strip() and (number := key[len(front) :].split(".")[0]).isdigit()
    }
    return sorted(found)[:MOST_ROWS]


def read(nodes: Iterable[Node], texts: Texts, prefix: str = "") -> Read:
    """Return the case that the texts say; empty fields are keys that are absent."""
    found = Read()
    for node in nodes:
        path = prefix + node.key
        try:
            value = _value(node, texts, path, found)
        except Refusal as refusal:
            found.errors[path] = sentence(refusal)
            continue
        if value is not None:
            found.case[node.key] = value
    return found


def _value(node: Node, texts: Texts, path: str, found: Read) -> Any:
    if node.kind == "group":
        inner = read(node.children, texts, f"{path}.")
        found.errors |= inner.errors
        return inner.case or None
    if node.kind == "table":
        rows = [read(node.children, texts, f"{path}.{row}.") for row in rows_in(texts, path)]
        for one in rows:
            found.errors |= one.errors
        return [one.case for one in rows] or None
    text = texts.get(path, "").strip()
    return _single(node, text, path) if text else None


def _single(node: Node, text: str, path: str) -> Any:
    if node.kind == "number":
        unit = parse_unit(node.unit)
        return parse_in(text, unit, path) if unit else parse_number(text, path)
    if node.kind == "whole":
        return _whole(text, path)
    if node.kind == "readings":
        return [list(one) for one in read_log_csv(text, path)]
    if node.kind == "json":
        return _json(text, path)
    if node.kind == "choice" and text in ("true", "false"):
        return text == "true"
    return "" if text == EMPTY_TEXT else text


def _whole(text: str, path: str) -> int:
    number = parse_number(text, path)
    if number != int(number):
        raise Refusal("not-whole", f"A whole number is expected; found {echo(text)}.", path, "")
    return int(number)


def _json(text: str, path: str) -> Any:
    try:
        return read_object(f'{{"value":{text}\n}}'.encode())["value"]
    except Refusal as refusal:
        hint = "Brackets in pairs, double quotes, decimal points."
        raise Refusal(refusal.code, refusal.message, path, refusal.hint or hint) from None
