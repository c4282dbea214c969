"""Verifying everything stored, any day: hashes, tree, heads kept here and elsewhere, projections, references."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

from lumenward.journey.kinds import check_body
from lumenward.ledger.canonical import canonical_json, read_stored
from lumenward.ledger.merkle import Frontier
from lumenward.ledger.verify import TreeHead as Promised
from lumenward.ledger.verify import verify_ledger
from lumenward.quantities import Refusal
from lumenward.records import ledgering
from lumenward.records.models import Projection, StoredEvent, Touch, TreeHead
from lumenward.records.replaying import Replay, replay
from lumenward.records.world import event_of

_WORST = 100
_HEAD = re.compile(r"^(\d{1,12}):([0-9a-f]{64})$")


@dataclass(frozen=True)
class Finding:
    """One thing wrong: `broken` (the record differs from what was promised) or `stale` (rebuild cures it)."""

    severity: str
    code: str
    ref: str
    message: str


@dataclass(frozen=True)
class Report:
    """What a whole pass found."""

    events: int
    root: str
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    def as_dict(self) -> dict[str, Any]:
        """Return the report for a machine."""
        plain = [asdict(finding) for finding in self.findings]
        return {"events": self.events, "root": self.root, "sound": self.sound, "findings": plain}


def outside_heads(texts: Iterable[str]) -> list[Promised]:
    """Return tree heads written SIZE:ROOT, or raise a Refusal.

    >>> outside_heads(["2:" + "ab" * 32])[0].size
    2
    """
    found = []
    for text in texts:
        match = _HEAD.match(text.strip().lower())
        if match is None:
            raise Refusal(
                "bad-head",
                f"{text[:80]!r} is not a tree head.",
                "head",
                "Write SIZE:ROOT, 64 hexadecimal digits.",
            )
        found.append(Promised(int(match[1]), match[2]))
    return found


def check_all(outside: Iterable[Promised] = ()) -> Report:
    """Verify the whole ledger and everything derived from it; nothing is changed."""
    with ledgering.writing():
        rows = list(StoredEvent.objects.order_by("seq"))
        heads = list(TreeHead.objects.order_by("size"))
        findings = [*_columns(rows), *_tree(rows, heads, list(outside)), *_references(rows)]
        if not any(finding.severity == "broken" for finding in findings):
            findings += _derived(replay(rows))
    root = heads[-1].root if heads else Frontier().root().hex()
    return Report(len(rows), root, tuple(findings))


def _leaf(row: StoredEvent) -> bytes:
    said = {
        "id": row.id, "kind": row.kind, "version": row.version, "subject": row.subject, "cycle": row.cycle,
        "person": row.person, "station": row.station, "happened_at": row.happened_at, "body": read_stored(row.body),
    }  # fmt: skip
    return ledgering.leaf_data(said, row.recorded_at)


def _columns(rows: list[StoredEvent]) -> Iterator[Finding]:
    for place, row in enumerate(rows, start=1):
        problem = _row_problem(place, row)
        if problem:
            yield Finding("broken", "event-changed", row.id, f"Event {row.id} (number {row.seq}): {problem}.")


def _row_problem(place: int, row: StoredEvent) -> str:
    try:
        if row.seq != place:
            return f"number {place} was expected here"
        if canonical_json(read_stored(row.body)).decode() != row.body:
            return "its body is not in canonical form"
        if datetime.fromisoformat(row.happened_at).astimezone(UTC) != row.happened_utc:
            return "its two instants differ"
        datetime.fromisoformat(row.recorded_at)
        check_body(event_of(row))
    except Refusal as refusal:
        return f"its body is not valid: {refusal.message.rstrip('.')}"
    except (ValueError, TypeError, AttributeError):
        return "its columns cannot be read"
    return ""


def _tree(rows: list[StoredEvent], heads: list[TreeHead], outside: list[Promised]) -> Iterator[Finding]:
    leaves = ((_leaf_or_empty(row), row.leaf) for row in rows)
    promised = [*(Promised(head.size, head.root) for head in heads), *outside]
    for found in verify_ledger(leaves, promised, _WORST).findings:
        if found.code == "leaf-changed":
            row = rows[found.index]
            message = f"Event {row.id} (number {row.seq}) does not have the hash it was recorded with."
            yield Finding("broken", found.code, row.id, message)
        else:
            head = promised[found.index]
            where = "kept here" if found.index < len(heads) else "kept elsewhere"
            short = f"{head.size}:{head.root_hex[:12]}…"
            message = f"The tree head {short} {where} does not fit this ledger of {len(rows)}."
            yield Finding("broken", found.code, f"{head.size}:{head.root_hex}", message)
    yield from _frontier(rows, heads)


def _leaf_or_empty(row: StoredEvent) -> bytes:
    try:
        return _leaf(row)
    except (ValueError, Refusal):
        return b""


def _frontier(rows: list[StoredEvent], heads: list[TreeHead]) -> Iterator[Finding]:
    newest = heads[-1] if heads else None
    if (newest.size if newest else 0) != len(rows):
        message = f"The newest tree head covers {newest.size if newest else 0} events; {len(rows)} are here."
        yield Finding("broken", "leaves-missing", "", message)
    for head in heads:
        try:
            fits = Frontier.from_hex(head.frontier).root().hex() == head.root
        except Refusal:
            fits = False
        if not fits:
            message = f"The stored tree of {head.day} does not have its own root."
            yield Finding("broken", "bad-frontier", str(head.day), message)


def _references(rows: list[StoredEvent]) -> Iterator[Finding]:
    known = {row.id: row for row in rows}
    for row in rows:
        if row.cycle and row.cycle != row.id and row.cycle not in known:
            message = f"Event {row.id} belongs to a cycle that is not here ({row.cycle})."
            yield Finding("broken", "no-cycle", row.id, message)
        if row.kind == "corrected" and row.subject not in known:
            message = f"Correction {row.id} names an event that is not here ({row.subject})."
            yield Finding("broken", "no-event", row.id, message)


def _derived(found: Replay) -> Iterator[Finding]:
    touches = set(Touch.objects.values_list("event_id", "about", "ref"))
    if touches != found.touches:
        count = len(touches ^ found.touches)
        yield Finding(
            "stale", "touches", "", f"{count} entries of the index of events differ from the ledger."
        )
    stored = {(row.about, row.ref): row for row in Projection.objects.all()}
    for subject in sorted(stored.keys() | found.projections.keys()):
        if _facts(stored.get(subject)) != _facts(found.projections.get(subject)):
            about, ref = subject
            message = f"The state of {about} {ref} differs from what the ledger adds up to."
            yield Finding("stale", "state", f"{about} {ref}", message)


def _facts(row: Projection | None) -> tuple[Any, ...] | None:
    return None if row is None else (row.state, row.latest, row.active, row.seq)
