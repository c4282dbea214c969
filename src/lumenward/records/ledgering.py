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
_BEFORE_BODY = b'{"body":'
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


def body_text(body: dict[str, Any]) -> bytes:
    """Return the canonical text of a body; raise Refusal `not-canonical` where its leaf could have none."""
    return canonical_json({"body": body})[len(_BEFORE_BODY) : -1]


def make_row(event: Event, body: bytes, recorded_at: datetime, seq: int) -> StoredEvent:
    """Return the row of an event, not yet stored. `body` is its body as `body_text` writes it."""
    said = content(event)
    del said["body"]
    stamp = recorded_at.astimezone(UTC).isoformat()
    rest = leaf_data(said, stamp)  # "body" sorts before every other key, so it is put in front
    return StoredEvent(
        **said,
        seq=seq,
        happened_utc=event.order[0],
        recorded_at=stamp,
        body=body.decode(),
        leaf=leaf_hash(_BEFORE_BODY + body + b"," + rest[1:]).hex(),
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
