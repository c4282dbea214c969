"""Ids made at the station."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.ledger import make_id, parse_id
from lumenward.quantities import Refusal


@given(st.integers(0, 2**48 - 1), st.binary(min_size=10, max_size=10))
def test_an_id_tells_its_instant_and_version(milliseconds: int, random: bytes) -> None:
    made = make_id(milliseconds, random)
    assert (made.version, made.variant) == (7, "specified in RFC 4122")
    assert parse_id(str(made)) == (made, milliseconds)


@given(st.integers(0, 2**48 - 2), st.binary(min_size=10, max_size=10), st.binary(min_size=10, max_size=10))
def test_a_later_millisecond_sorts_later(milliseconds: int, first: bytes, second: bytes) -> None:
    assert str(make_id(milliseconds, first)) < str(make_id(milliseconds + 1, second))


def test_seventy_four_bits_of_chance_are_used() -> None:
    assert str(make_id(0, b"\xff" * 10)) == "00000000-0000-7fff-bfff-ffffffffffff"
    assert len({make_id(0) for _ in range(1000)}) == 1000


@pytest.mark.parametrize(
    "text",
    [
        "",
        "017f22e279b07cc398c4dc0c0c07398f",
        "{017f22e2-79b0-7cc3-98c4-dc0c0c07398f}",
        "urn:uuid:017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
        "017f22e2-79b0-4cc3-98c4-dc0c0c07398f",
        "017f22e2-79b0-7cc3-18c4-dc0c0c07398f",
        "not an id",
        "🙂" * 36,
    ],
)
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(Refusal) as caught:
        parse_id(text, "event.id")
    assert (caught.value.code, caught.value.field) == ("bad-id", "event.id")


@pytest.mark.parametrize(("milliseconds", "random"), [(-1, bytes(10)), (2**48, bytes(10)), (0, bytes(9))])
def test_an_impossible_instant_or_too_little_chance_is_refused(milliseconds: int, random: bytes) -> None:
    with pytest.raises(Refusal):
        make_id(milliseconds, random)
