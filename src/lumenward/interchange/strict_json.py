"""JSON read strictly: UTF-8, finite numbers, each key once, one object; and written so that others can read it."""

from __future__ import annotations

import json
import math
from typing import Any

from lumenward.quantities import Refusal


def read_object(data: bytes) -> dict[str, Any]:
    """Return JSON bytes as a mapping, or raise a Refusal that says where it is wrong.

    >>> read_object(b'{"temperature_c": 20}')
    {'temperature_c': 20}
    """
    endless: list[_Endless] = []

    def noted(word: str) -> _Endless:
        endless.append(_Endless(word))
        return endless[-1]

    try:
        found = json.loads(data.decode("utf-8-sig"), parse_constant=noted, object_pairs_hook=_once)
        if endless:
            _refuse_endless(found)
    except UnicodeDecodeError as error:
        raise Refusal("not-json", f"Byte {error.start} is not UTF-8.", "", "Give UTF-8 JSON.") from None
    except json.JSONDecodeError as error:
        message = f"This is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
        raise Refusal(
            "not-json", message, "", "Decimal points, no commas in numbers, double quotes."
        ) from None
    except (RecursionError, ValueError):
        raise Refusal("not-json", "This JSON cannot be read: too deep, or a number too long.") from None
    if not isinstance(found, dict):
        raise Refusal("not-an-object", "One JSON object is expected.", "", "Begin with { and end with }.")
    return found


def to_json(data: Any) -> str:
    """Return JSON text; numbers that JSON has no word for become null.

    >>> to_json({"left": float("inf")})
    '{"left": null}'
    """
    return json.dumps(_finite(data), ensure_ascii=False, allow_nan=False)


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(one) for one in value]
    return value


class _Endless:
    """NaN or an infinity where a number belongs: words that JSON does not have."""

    def __init__(self, word: str) -> None:
        self.word = word


def _refuse_endless(value: Any, field: str = "") -> None:
    if isinstance(value, _Endless):
        raise Refusal(
            "not-finite", f"{value.word} is not a number that JSON knows.", field, "Give a finite number."
        )
    if isinstance(value, dict):
        for key, one in value.items():
            _refuse_endless(one, f"{field}.{key}" if field else key)
    elif isinstance(value, list):
        for index, one in enumerate(value):
            _refuse_endless(one, f"{field}[{index}]")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise Refusal("doubled-key", f"The key {twice!r} is there twice.", twice, "Give each key once.")
    return found
