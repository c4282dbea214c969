"""Adding to the ledger: one writer at a time, one leaf an event, the tree beside it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

from django.db import connection, transaction

from lumenward.journey.event import Event
from lumenward.ledger.canonical import canonical_json
from lumenward.ledger.merkle import Frontier, leaf_hash
from lumenward.records.models import StoredEvent, TreeHead

_ONE_WRITER = threading.RLock()
_POSTGRES_LOCK = 7_035_001  # any number of our own; all writers of one database share it


@contextmanager
def writing() -> Iterator[None]:
    """One transaction that no other writer of the ledger shares: all of it is stored, or nothing.

    Within one process threads queue here (fair, where SQLite's own waiting is not); between processes SQLite's
    IMMEDIATE transaction or PostgreSQL's advisory lock does the same.
    """
    with _ONE_WRITER, transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_POSTGRES_LOCK])
        yield


def content(event: Event) -> dict[str, Any]:
    """Return everything the sender said, as it is hashed and compared."""
    return {
        "id": event.id, "kind": event.kind, "version": event.version, "subject": event.subject,
        "cycle": event.cycle, "person": event.person, "station": event.station,
        "happened_at": event.happened_at.isoformat(), "body": event.body,
    }  # fmt: skip


def leaf_data(said: dict[str, Any], recorded_at: str) -> bytes:
    """Return the bytes whose hash is the leaf: the event with the server's instant, canonical."""
    return canonical_json({**said, "recorded_at": recorded_at})


def make_row(event: Event, recorded_at: datetime, seq: int) -> StoredEvent:
    """Return the row of an event, not yet stored."""
    said = content(event)
    stamp = recorded_at.astimezone(UTC).isoformat()
    columns = {key: said[key] for key in said if key != "body"}
    return StoredEvent(
        **columns,
        seq=seq,
        happened_utc=event.happened_at.astimezone(UTC),
        recorded_at=stamp,
        body=canonical_json(event.body).decode(),
        leaf=leaf_hash(leaf_data(said, stamp)).hex(),
    )


def load_frontier() -> Frontier:
    """Return the tree as of the last event."""
    head = newest_head()
    return Frontier.from_hex(head.frontier) if head else Frontier()


def newest_head() -> TreeHead | None:
    """Return the newest tree head, or None for an empty ledger."""
    return TreeHead.objects.order_by("-size").first()


def store(rows: list[StoredEvent]) -> None:
    """Store rows made with the sequence numbers that follow the tree, and the tree with them."""
    frontier = load_frontier()
    for row in rows:
        if row.seq != frontier.size + 1:
            raise RuntimeError(f"event {row.id} has number {row.seq}; {frontier.size + 1} is next")
        frontier.append(bytes.fromhex(row.leaf))
    StoredEvent.objects.bulk_create(rows)
    stamp = rows[-1].recorded_at
    TreeHead.objects.update_or_create(
        day=datetime.fromisoformat(stamp).date(),
        defaults={
            "size": frontier.size,
            "root": frontier.root().hex(),
            "at": stamp,
            "frontier": frontier.to_hex(),
        },
    )
