"""The row of an event and the leaf beside it say the same."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.journey.event import Event
from lumenward.ledger.canonical import DEEPEST, canonical_json
from lumenward.ledger.merkle import leaf_hash
from lumenward.quantities import Refusal
from lumenward.records.ledgering import body_text, content, leaf_data, make_row
from lumenward.records.world import event_of

RECORDED = datetime(2026, 5, 4, 11, 0, 7, tzinfo=UTC)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=5), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


def event(body: dict[str, object]) -> Event:
    return Event(
        id="01890000-0000-7000-8000-000000000001", kind="received", subject="zebra-01", person="mira",
        station="sink-1", happened_at=datetime(2026, 5, 4, 13, 0, tzinfo=timezone(timedelta(hours=2))), body=body,
    )  # fmt: skip


@given(st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), VALUES, max_size=4))
def test_a_leaf_is_the_hash_of_the_whole_event_in_canonical_form(body: dict[str, object]) -> None:
    said = event(body)
    row = make_row(said, body_text(body), RECORDED, 1)
    whole = canonical_json({**content(said), "recorded_at": row.recorded_at})
    assert leaf_data(content(said), row.recorded_at) == whole
    assert row.leaf == leaf_hash(whole).hex()
    assert row.body == canonical_json(body).decode()
    assert leaf_data(content(event_of(row)), row.recorded_at) == whole


def test_a_body_that_its_leaf_could_not_hold_is_refused() -> None:
    body = json.loads('{"a":' * (DEEPEST - 1) + "1" + "}" * (DEEPEST - 1))
    assert make_row(event(body), body_text(body), RECORDED, 1).leaf
    with pytest.raises(Refusal) as refused:
        body_text({"a": body})
    assert refused.value.code == "not-canonical"
