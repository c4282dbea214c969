"""One text for one value: JSON in the canonical form of RFC 8785, so that a hash means the content.

Keys are sorted by their UTF-16 code units, strings escape only what they must, numbers are written as ECMAScript
writes them (shortest digits that read back). What JSON cannot hold exactly is refused: NaN, infinities, whole
numbers beyond ±(2⁵³ − 1), lone surrogates, keys that are not text, nesting deeper than 64.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

from lumenward.quantities import Refusal

LARGEST_WHOLE = 2**53 - 1
DEEPEST = 64
_SHORT = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}
_ESCAPES = {ord(c): _SHORT.get(c, f"\\u{ord(c):04x}") for c in (*map(chr, range(0x20)), '"', "\\")}


_ENCODER = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


class _Unfit(Exception):
    """The general encoder would write this value otherwise than the canonical form does."""


def canonical_json(value: Any) -> bytes:
    """Return the canonical UTF-8 bytes of `value` (None, bool, int, float, str, lists and mappings of them).

    Raises Refusal `not-canonical` naming the path of what has no exact JSON form. Source: RFC 8785 (recalled; its
    sample is a test).

    >>> canonical_json({"b": [1.0, 0.55, 1e-7], "a": "é"}).decode()
    '{"a":"é","b":[1,0.55,1e-7]}'
    """
    try:
        return _ENCODER.encode(_plain(value)).encode("utf-8")
    except (_Unfit, RecursionError, UnicodeEncodeError):
        text = _write(value, "", 0)
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError:
        raise _refused("", "a half of a surrogate pair, which is no character") from None


def read_canonical(data: bytes) -> Any:
    """Return the value of canonical bytes; refuse bytes that are JSON but not in the canonical form.

    Raises Refusal `not-json` or `not-canonical`.

    >>> read_canonical(b'{"a":1}')
    {'a': 1}
    """
    try:
        value = read_stored(data.decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise Refusal("not-json", "These bytes are not JSON.", hint="Give UTF-8 JSON.") from None
    if canonical_json(value) != data:
        raise Refusal(
            "not-canonical",
            "This JSON is not in the canonical form, so its hash would not mean its content.",
            hint="Write it with sorted keys, no spaces, each key once.",
        )
    return value


def read_stored(text: str) -> Any:
    """Return the value of text that `canonical_json` wrote, so that it would write the same again.

    Raises ValueError for what is not JSON.

    >>> read_stored("9007199254740992")
    9007199254740992.0
    """
    return _DECODER.decode(text)


def _whole(text: str) -> int | float:
    value = int(text) if len(text) < 20 else float(text)
    return value if abs(value) <= LARGEST_WHOLE else float(value)


_DECODER = json.JSONDecoder(parse_int=_whole)


def _plain(value: Any, depth: int = 0) -> Any:
    """Return the value so that the general encoder writes it canonically; raise where that cannot be.

    A shortcut for nearly everything that is recorded: about four times as fast as `_write`, which decides whenever
    this one is not sure. A test holds the two together.
    """
    kind = type(value)
    if kind is str or kind is bool or value is None:
        return value
    if kind is int:
        if -LARGEST_WHOLE <= value <= LARGEST_WHOLE:
            return value
        raise _Unfit
    if kind is float:
        return _plain_float(value)
    if depth >= DEEPEST:
        raise _Unfit
    if kind is list or kind is tuple:
        return [_plain(one, depth + 1) for one in value]
    if kind is dict:
        return {_plain_key(key): _plain(one, depth + 1) for key, one in value.items()}
    raise _Unfit


def _plain_key(key: Any) -> str:
    """Sorting by code point and by UTF-16 unit agree on ASCII."""
    if type(key) is str and key.isascii():
        return key
    raise _Unfit


def _plain_float(value: float) -> float | int:
    size = abs(value)
    if size < 1e15 and value == int(value):
        return int(value)
    if 1e-4 <= size < 1e15:
        return value
    raise _Unfit


def _write(value: Any, path: str, depth: int) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int):
        return _whole_text(int(value), path)
    if isinstance(value, float):
        return number_text(float(value), path)
    if depth >= DEEPEST:
        raise _refused(path, f"more than {DEEPEST} levels of nesting")
    if isinstance(value, list | tuple):
        return "[" + ",".join(_write(v, f"{path}[{i}]", depth + 1) for i, v in enumerate(value)) + "]"
    if isinstance(value, Mapping):
        return _members(value, path, depth)
    raise _refused(path, f"a {type(value).__name__}")


def _members(value: Mapping[Any, Any], path: str, depth: int) -> str:
    for key in value:
        if not isinstance(key, str):
            raise _refused(path, f"a key that is not text: {str(key)[:20]!r}")
    ordered = sorted(value, key=lambda key: key.encode("utf-16-be", "surrogatepass"))
    parts = (
        f"{_text(key)}:{_write(value[key], f'{path}.{key}' if path else key, depth + 1)}" for key in ordered
    )
    return "{" + ",".join(parts) + "}"


def _text(value: str) -> str:
    return f'"{value.translate(_ESCAPES)}"'


def _whole_text(value: int, path: str) -> str:
    if abs(value) > LARGEST_WHOLE:
        raise _refused(path, "a whole number beyond ±(2^53 - 1)")
    return str(value)


def number_text(value: float, path: str = "") -> str:
    """Return `value` as ECMAScript writes a Number.

    >>> number_text(1e21), number_text(1e20), number_text(-0.0), number_text(4.5e-7)
    ('1e+21', '100000000000000000000', '0', '4.5e-7')
    """
    if not math.isfinite(value):
        raise _refused(path, "a number that is not finite")
    if value == 0:
        return "0"
    sign = "-" if value < 0 else ""
    digits, point = _shortest(abs(value))
    return sign + _placed(digits, point)


def _shortest(value: float) -> tuple[str, int]:
    """Return the shortest digits d and the place n of the point, value = 0.d · 10^n."""
    mantissa, _, exponent = repr(value).partition("e")
    whole, _, fraction = mantissa.partition(".")
    digits = (whole + fraction).lstrip("0")
    leading = len(whole + fraction) - len(digits)
    return digits.rstrip("0"), len(whole) - leading + int(exponent or 0)


def _placed(digits: str, point: int) -> str:
    count = len(digits)
    if count <= point <= 21:
        return digits + "0" * (point - count)
    if 0 < point <= 21:
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return "0." + "0" * -point + digits
    rest = f".{digits[1:]}" if count > 1 else ""
    return f"{digits[0]}{rest}e{point - 1:+d}"


def _refused(path: str, what: str) -> Refusal:
    return Refusal(
        "not-canonical",
        f"{path or 'The value'} holds {what}; it has no exact JSON form.",
        path,
        "Use text, finite numbers, true, false, null, lists and objects.",
    )
