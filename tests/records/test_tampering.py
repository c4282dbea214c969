"""Whatever is done to the stored ledger behind its back is found, and named."""

from __future__ import annotations

import random
from typing import Any

import pytest
from django.db import connection

from lumenward.records.check import check_all, outside_heads
from lumenward.records.ledgering import newest_head
from lumenward.records.models import Projection, StoredEvent, Touch, TreeHead

TABLE = "records_storedevent"
RECORDED = (
    "id",
    "kind",
    "version",
    "subject",
    "cycle",
    "person",
    "station",
    "happened_at",
    "recorded_at",
    "body",
    "leaf",
)


@pytest.fixture
def ledger(house) -> list[StoredEvent]:
    house.work("one-sanderling-28", stop="immerse")
    return list(StoredEvent.objects.order_by("seq"))


def run(statement: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA defer_foreign_keys=ON")
        cursor.execute(statement, values)


def codes(heads: list[str] | None = None) -> set[str]:
    report = check_all(outside_heads(heads or []))
    assert report.sound == (not report.findings)
    return {finding.code for finding in report.findings}


def test_an_untouched_ledger_verifies(ledger) -> None:
    assert codes() == set()


@pytest.mark.parametrize("column", [c for c in RECORDED if c not in ("version", "id")])
def test_one_changed_character_of_any_recorded_column_is_found(ledger, column) -> None:
    chosen = random.Random(column)
    for row in chosen.sample(ledger, 4):
        text = str(getattr(row, column)) or "x"
        place = chosen.randrange(len(text))
        other = text[:place] + ("0" if text[place] != "0" else "1") + text[place + 1 :]
        run(f"UPDATE {TABLE} SET {column} = %s WHERE seq = %s", other, row.seq)
        found = check_all().findings
        assert any(row.id in finding.message or finding.code == "head-broken" for finding in found), (
            column,
            row.seq,
        )
        run(f"UPDATE {TABLE} SET {column} = %s WHERE seq = %s", getattr(row, column), row.seq)
    assert codes() == set()


def test_a_changed_dose_is_found_and_the_event_is_named(ledger) -> None:
    row = next(row for row in ledger if row.kind == "detergent_dosed")
    run(
        f"UPDATE {TABLE} SET body = %s WHERE seq = %s", row.body.replace('"dose_ml":', '"dose_ml":1'), row.seq
    )
    found = check_all().findings
    assert {finding.code for finding in found} >= {"leaf-changed", "head-broken"}
    assert any(row.id in finding.message for finding in found)


def test_a_changed_version_is_found(ledger) -> None:
    run(f"UPDATE {TABLE} SET version = 2 WHERE seq = %s", ledger[-1].seq)
    assert "leaf-changed" in codes()


def test_an_event_changed_together_with_its_hash_is_found(ledger) -> None:
    from lumenward.ledger.merkle import leaf_hash
    from lumenward.records.check import _leaf

    row = ledger[10]
    row.person = "somebody-else"
    run(
        f"UPDATE {TABLE} SET person = %s, leaf = %s WHERE seq = %s",
        row.person,
        leaf_hash(_leaf(row)).hex(),
        row.seq,
    )
    assert codes() == {"head-broken"}


def test_a_deleted_event_is_found(ledger) -> None:
    row = ledger[20]
    Touch.objects.filter(event_id=row.id).delete()
    run(f"DELETE FROM {TABLE} WHERE seq = %s", row.seq)
    assert {"event-changed", "leaves-missing"} <= codes()


def test_a_truncated_ledger_is_found(ledger) -> None:
    row = ledger[-1]
    Touch.objects.filter(event_id=row.id).delete()
    run(f"DELETE FROM {TABLE} WHERE seq = %s", row.seq)
    assert "leaves-missing" in codes()


def test_an_inserted_event_is_found(ledger) -> None:
    row = ledger[-1]
    columns = ", ".join(c for c in (*RECORDED, "happened_utc", "seq"))
    values = [getattr(row, c) for c in RECORDED] + [row.happened_utc, row.seq + 1]
    values[0] = "01900000-0000-7000-8000-000000000000"
    marks = ", ".join(["%s"] * len(values))
    run(f"INSERT INTO {TABLE} ({columns}) VALUES ({marks})", *values)
    assert {"leaf-changed", "leaves-missing"} <= codes()


def test_two_swapped_events_are_found(ledger) -> None:
    first, second = ledger[5].seq, ledger[6].seq
    for old, new in ((first, 10**6), (second, first), (10**6, second)):
        run(f"UPDATE {TABLE} SET seq = %s WHERE seq = %s", new, old)
    assert codes() == {"head-broken"}


def test_a_ledger_rolled_back_with_all_its_heads_is_found_by_a_head_kept_elsewhere(ledger) -> None:
    newest = newest_head()
    kept = f"{newest.size}:{newest.root}"
    assert codes([kept]) == set()
    roll_back(ledger[:-3])
    assert codes() <= {"touches", "state"}
    assert "leaves-missing" in codes([kept])


def roll_back(rows: list[StoredEvent]) -> None:
    """Do what somebody with the whole database would do: cut off, and make the tree fit."""
    from lumenward.ledger.merkle import Frontier

    gone = StoredEvent.objects.filter(seq__gt=len(rows)).values_list("id", flat=True)
    Touch.objects.filter(event_id__in=list(gone)).delete()
    run(f"DELETE FROM {TABLE} WHERE seq > %s", len(rows))
    frontier = Frontier()
    frontier.extend(bytes.fromhex(row.leaf) for row in rows)
    day = TreeHead.objects.order_by("-size").first().day
    TreeHead.objects.filter(size__gt=len(rows)).exclude(day=day).delete()
    TreeHead.objects.filter(day=day).update(
        size=frontier.size, root=frontier.root().hex(), frontier=frontier.to_hex()
    )


def test_a_changed_tree_is_found(ledger) -> None:
    newest = newest_head()
    TreeHead.objects.filter(pk=newest.pk).update(root="0" * 64)
    assert {"head-broken", "bad-frontier"} <= codes()


def test_a_changed_state_is_found_and_called_stale(ledger) -> None:
    row = Projection.objects.get(about="endoscope", ref="one-sanderling-28")
    Projection.objects.filter(pk=row.pk).update(state=row.state.replace("being cleaned", "ready"))
    (finding,) = check_all().findings
    assert (finding.severity, finding.code, finding.ref) == ("stale", "state", "endoscope one-sanderling-28")


def test_a_malformed_outside_head_is_refused() -> None:
    from lumenward.quantities import Refusal

    for text in ("", "12", "12:xyz", "-1:" + "0" * 64):
        with pytest.raises(Refusal, match="tree head"):
            outside_heads([text])
