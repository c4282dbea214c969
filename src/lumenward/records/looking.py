"""Reading the house: what machines and pages ask for, as plain values."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import cache
from typing import Any

from lumenward.journey import clocks, saying
from lumenward.journey.states import CycleState, EndoscopeState
from lumenward.ledger.merkle import inclusion_spans, node_hash, proof_of
from lumenward.quantities import Refusal
from lumenward.records.ledgering import newest_head
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld, event_of
from lumenward.rulebook import assess

ON_SHELF = ("stored", "ready")


def now(world: StoredWorld, at: datetime) -> list[dict[str, Any]]:
    """Return every endoscope that is not gone, with its running clocks; what needs hands first."""
    found = [_where(world, one, at) for one in world.endoscopes() if one.stage not in ("away", "retired")]
    return sorted(
        found, key=lambda row: (min((c["left_s"] for c in row["clocks"]), default=1e12), row["name"])
    )


def shelf(world: StoredWorld, at: datetime) -> list[dict[str, Any]]:
    """Return what is stored: ready or not, until when, and the first sentence why not."""
    return [_on_shelf(world, one, at) for one in world.endoscopes() if one.stage in ON_SHELF]


def verdict(endoscope_id: str, at: datetime) -> dict[str, Any]:
    """Return the verdict on an endoscope's present cycle, with `ready`; raise a Refusal where there is none."""
    world = StoredWorld()
    endoscope = world.endoscope(endoscope_id)
    if endoscope is None:
        raise Refusal("not-found", f"No endoscope {endoscope_id} is registered here.", "endoscope")
    if not endoscope.cycle:
        raise Refusal("no-cycle", f"{endoscope.name} is in no cycle.", "endoscope", "Open one at the sink.")
    found = assess(world, endoscope_id, endoscope.cycle, at)
    return found.model_dump(mode="json") | {"ready": found.ready}


def cycle_record(cycle_id: str) -> dict[str, Any]:
    """Return one cycle: its state and its acts, each with its place in the ledger."""
    world = StoredWorld()
    cycle = world.cycle(cycle_id)
    if cycle is None:
        raise Refusal(
            "not-found", f"There is no cycle {cycle_id[:40]}.", "cycle", "Look it up under Records."
        )
    rows = StoredEvent.objects.filter(touches__about="cycle", touches__ref=cycle_id).order_by(
        "happened_utc", "id"
    )
    return {
        "cycle": cycle.model_dump(mode="json"),
        "endoscope_name": saying.endoscope(world, cycle.endoscope),
        "acts": [_act(world, row) for row in rows],
    }


def is_late(world: StoredWorld, row: StoredEvent) -> bool:
    """Return whether an act was recorded longer after it happened than the policy of that moment allows."""
    delay = datetime.fromisoformat(row.recorded_at) - row.happened_utc
    try:
        limit = world.policy(row.happened_utc).late_entry_min
    except Refusal:
        return False
    return delay.total_seconds() > limit * 60


def clock_ahead(row: StoredEvent, by_s: float = 60) -> bool:
    """Return whether the station's clock ran ahead: an act recorded before it is said to have happened."""
    return (row.happened_utc - datetime.fromisoformat(row.recorded_at)).total_seconds() > by_s


def _where(world: StoredWorld, one: EndoscopeState, at: datetime) -> dict[str, Any]:
    keys = (
        "id",
        "name",
        "model",
        "stage",
        "held_why",
        "cycle",
        "place",
        "since",
        "end_of_use",
        "ready_until",
    )
    state = one.model_dump(mode="json")
    return {key: state[key] for key in keys} | {"clocks": _clocks(world, one, at)}


def _clocks(world: StoredWorld, one: EndoscopeState, at: datetime) -> list[dict[str, Any]]:
    running = []
    cycle = world.cycle(one.cycle) if one.cycle else None
    if cycle and one.end_of_use and not cycle.cleaning_started_at:
        running.append(clocks.delay(world.library().model(one.model), world.policy(), one.end_of_use))
    if cycle and cycle.dried_at and cycle.cabinet and one.stage in ON_SHELF:
        running += _hang(world, one, cycle)
    return [
        clock.model_dump(mode="json") | {"word": clock.word(at), "left_s": clock.left_s(at)}
        for clock in running
    ]


def _hang(world: StoredWorld, one: EndoscopeState, cycle: CycleState) -> list[clocks.Clock]:
    library = world.library()
    cabinet = next((c for c in library.cabinets if c.id == cycle.cabinet), None)
    if cabinet is None or cycle.dried_at is None:
        return []
    clock = clocks.hang(library.model(one.model), world.policy(), cabinet, cycle.dried_at)
    return [clock] if clock else []


def _on_shelf(world: StoredWorld, one: EndoscopeState, at: datetime) -> dict[str, Any]:
    row = _where(world, one, at)
    late = one.ready_until is not None and one.ready_until < at
    found = assess(world, one.id, one.cycle, at) if one.cycle else None
    against = [finding.sentence for finding in found.against] if found else ["No cycle is known."]
    ready = one.stage == "ready" and not late and not against
    why = against[:1] or (["It is not released yet."] if one.stage != "ready" else [])
    return row | {"ready": ready, "why_not": "" if ready else " ".join(why)}


def _act(world: StoredWorld, row: StoredEvent) -> dict[str, Any]:
    event = event_of(row)
    person = world.person(event.person)
    return {
        "id": row.id, "seq": row.seq, "kind": row.kind, "version": row.version, "subject": row.subject,
        "cycle": row.cycle, "person": row.person, "person_name": person.name if person else row.person,
        "station": row.station, "happened_at": row.happened_at, "recorded_at": row.recorded_at, "body": event.body,
        "leaf": row.leaf, "late_entry": is_late(world, row), "clock_ahead": clock_ahead(row),
    }  # fmt: skip


def cycle_proof(cycle_id: str) -> dict[str, Any]:
    """Return the proof that each act of a cycle is in the tree: the path from its leaf to the root of now."""
    numbers = StoredEvent.objects.filter(touches__about="cycle", touches__ref=cycle_id).values_list(
        "seq", flat=True
    )
    if not numbers:
        raise Refusal(
            "not-found", f"There is no cycle {cycle_id[:40]}.", "cycle", "Look it up under Records."
        )
    return inclusion(numbers)


def inclusion(numbers: Iterable[int]) -> dict[str, Any]:
    """Return size and root of the tree now, and by leaf index the path from that leaf to the root."""
    head = newest_head()
    if head is None:
        raise Refusal("empty-ledger", "Nothing is recorded here yet.", "", "There is nothing to prove.")
    subtree = _subtrees()
    paths = {
        str(seq - 1): [step.hex() for step in proof_of(inclusion_spans(seq - 1, head.size), subtree)]
        for seq in sorted(numbers)
    }
    return {"size": head.size, "root": head.root, "inclusion": paths}


def _subtrees() -> Callable[[int, int], bytes]:
    leaves = [
        bytes.fromhex(leaf) for leaf in StoredEvent.objects.order_by("seq").values_list("leaf", flat=True)
    ]

    @cache
    def subtree(start: int, end: int) -> bytes:
        if end - start == 1:
            return leaves[start]
        middle = start + (1 << ((end - start - 1).bit_length() - 1))
        return node_hash(subtree(start, middle), subtree(middle, end))

    return subtree
