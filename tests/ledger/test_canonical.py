"""The canonical form: RFC 8785's own sample, and what must be refused."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.ledger import canonical_json, read_canonical
from lumenward.ledger.canonical import _write, number_text
from lumenward.quantities import Refusal

SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"]))
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=5), inner, max_size=4)
    ),
    max_leaves=12,
)


def test_the_sample_of_the_standard_comes_out_byte_for_byte() -> None:
    sample = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert (
        canonical_json(sample)
        == (
            '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
            '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
        ).encode()
    )


def test_keys_are_sorted_by_utf16_code_units_as_the_standard_shows() -> None:
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = list(json.loads(canonical_json(dict.fromkeys(keys, 0))))
    assert ordered == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_numbers_of_the_standards_appendix(bits: str, text: str) -> None:
    import struct

    assert number_text(struct.unpack(">d", bytes.fromhex(bits))[0]) == text


@given(VALUES)
def test_canonical_bytes_read_back_to_the_same_bytes(value: object) -> None:
    data = canonical_json(value)
    again = read_canonical(data)
    assert canonical_json(again) == data
    assert again == value


@given(st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), st.integers(0, 9), min_size=2))
def test_the_order_of_keys_does_not_matter(value: dict[str, int]) -> None:
    assert canonical_json(dict(reversed(value.items()))) == canonical_json(value)


@pytest.mark.parametrize(
    "value",
    [math.nan, math.inf, -math.inf, 2**53, -(2**53), b"bytes", {1: 2}, {"a": {1, 2}}, "\ud800", ["\udfff"]],
)
def test_what_json_cannot_hold_exactly_is_refused(value: object) -> None:
    with pytest.raises(Refusal) as caught:
        canonical_json(value)
    assert caught.value.code == "not-canonical"


def test_a_refusal_names_the_path() -> None:
    with pytest.raises(Refusal) as caught:
        canonical_json({"body": {"doses": [1.0, math.nan]}})
    assert caught.value.field == "body.doses[1]"


def test_bottomless_nesting_is_refused() -> None:
    value: list[object] = []
    for _ in range(10_000):
        value = [value]
    with pytest.raises(Refusal):
        canonical_json(value)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b'{"a": 1}', "not-canonical"),
        (b'{"b":1,"a":2}', "not-canonical"),
        (b'{"a":1,"a":1}', "not-canonical"),
        (b'{"a":1.0}', "not-canonical"),
        (b'"\\u0041"', "not-canonical"),
        (b"[NaN]", "not-canonical"),
        (b"[1e999]", "not-canonical"),
        (b"{", "not-json"),
        (b"\xff", "not-json"),
        (b"[" * 100_000, "not-json"),
    ],
)
def test_bytes_that_are_not_canonical_are_refused_on_reading(data: bytes, code: str) -> None:
    with pytest.raises(Refusal) as caught:
        read_canonical(data)
    assert caught.value.code == code


@given(
    st.recursive(
        SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4)
    )
)
def test_the_short_cut_writes_what_the_long_way_writes(value: object) -> None:
    try:
        text = _write(value, "", 0)
        text.encode("utf-8")
    except (Refusal, UnicodeEncodeError):
        with pytest.raises(Refusal):
            canonical_json(value)
    else:
        assert canonical_json(value).decode() == text
