"""One cycle from the ledger, gathered for a page, a print, a file: what was done, the verdicts, the proof."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from functools import cached_property
from itertools import groupby
from typing import Any

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.loader import digest
from lumenward.interchange.record_code import payload, short_code
from lumenward.interchange.record_lines import Lines
from lumenward.interchange.record_parts import CycleRecord, Day, Instant, Judgement, Line, Proof, Signature
from lumenward.interchange.record_verdict import judgement, now_judgement
from lumenward.journey import saying
from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.journey.legality.lots import recent_pass
from lumenward.journey.states import CycleState, EndoscopeState
from lumenward.quantities import Refusal
from lumenward.records import accounts, looking
from lumenward.records.ledgering import content, leaf_data
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld, event_of
from lumenward.rulebook.verdict import Verdict


def read_record(cycle_id: str, now: datetime, zone: tzinfo, printed_by: str = "") -> CycleRecord:
    """Return the record of one cycle as of now; raise Refusal `not-found` where there is none."""
    world = StoredWorld()
    cycle = world.cycle(cycle_id)
    if cycle is None:
        raise Refusal(
            "not-found", f"There is no cycle {cycle_id[:40]}.", "cycle", "Look it up under Records."
        )
    return _Book(world, cycle, now, zone).write(printed_by)


@dataclass
class _Book:
    world: StoredWorld
    cycle: CycleState
    now: datetime
    zone: tzinfo
    rows: list[StoredEvent] = field(init=False)

    def __post_init__(self) -> None:
        found = StoredEvent.objects.filter(touches__about="cycle", touches__ref=self.cycle.id)
        self.rows = list(found.order_by("happened_utc", "id"))

    @cached_property
    def acts(self) -> list[Event]:
        return [event_of(row) for row in self.rows]

    @cached_property
    def course(self) -> Course:
        return Course(self.acts)

    @cached_property
    def endoscope(self) -> EndoscopeState:
        found = self.world.endoscope(self.cycle.endoscope)
        return found or EndoscopeState(id=self.cycle.endoscope, name=self.cycle.endoscope)

    @cached_property
    def opened_at(self) -> datetime:
        return self.cycle.opened_at or self.acts[0].happened_at

    @cached_property
    def model(self) -> EndoscopeModel | None:
        known = self.world.library(self.opened_at).endoscopes
        return next((one for one in known if one.id == self.endoscope.model), None)

    @cached_property
    def release(self) -> Event | None:
        return self.course.last("released")

    def write(self, printed_by: str) -> CycleRecord:
        lines = Lines(self.world, self.course, self.zone, self.cycle.endoscope)
        own = lines.of(self.rows)
        rests = lines.of(self._rests_on(), first=len(own) + 1)
        numbers = {line.id: line.number for line in (*own, *rests)}
        leaves = [row.leaf for row in sorted(self.rows, key=lambda row: row.seq)]
        code = short_code(leaves)
        return CycleRecord(
            cycle=self.cycle.id, endoscope=self.endoscope.id, name=self.endoscope.name,
            headline=self._headline(), standing=self._standing(), unit=self.world.policy(self.opened_at).name,
            demo=accounts.is_demo(), zone=str(self.zone), printed=self._instant(self.now), printed_by=printed_by,
            facts=self._facts(), days=list(_days(own)), rests_on=rests, signature=self._signature(),
            verdict_then=self._verdict_then(numbers), verdict_now=self._verdict_now(numbers),
            proof=self._proof((*own, *rests)), code=code, code_text=payload(self.cycle.id, code),
            events=[_event(row) for row in (*self.rows, *self._rests_on())], documents=self._documents(),
        )  # fmt: skip

    def _instant(self, at: datetime) -> Instant:
        return Instant.of(at, self.zone)

    def _rests_on(self) -> list[StoredEvent]:
        """The acts outside the cycle that its disinfection rests on: the charge poured, its passing test."""
        wanted: list[str] = []
        for begun in self.course.all("hld_started"):
            charge = self.world.charge(str(begun.body.get("charge", "")))
            if charge is None:
                continue
            rule = self.world.policy(begun.happened_at).mec_test
            wanted += [charge.id, recent_pass(rule, charge, begun.happened_at) or ""]
        own = {row.id for row in self.rows}
        found = StoredEvent.objects.filter(pk__in=[one for one in wanted if one and one not in own])
        return list(found.order_by("happened_utc", "id"))

    def _headline(self) -> str:
        name = self.endoscope.name
        if self.cycle.closed_at and self.release:
            return f"{name} was released and then taken for a patient."
        if self.release and self._present:
            return f"{name} was released{self._shelf_words()}."
        if self.release:
            return f"{name} was released; it was not used before its next cycle."
        if not self._present:
            return f"{name} was not released from this cycle."
        if self.endoscope.stage == "held":
            return f"{name} is held, not for use: {self.endoscope.held_why}."
        return f"{name} is not released: it is {self.cycle.stage}."

    @property
    def _present(self) -> bool:
        return self.endoscope.cycle == self.cycle.id

    def _shelf_words(self) -> str:
        if self.endoscope.stage == "held":
            return f", and is held now: {self.endoscope.held_why}"
        until = self.endoscope.ready_until
        if until is None:
            return ""
        words = "ready until" if until > self.now else "but its time on the shelf ended on"
        found = self._instant(until)
        return f", {words} {found.day}, {found.clock[:5]}"

    def _standing(self) -> str:
        if self._present and self.endoscope.stage == "held":
            return "held"
        if not self.release:
            return "open" if self._present else "ended"
        until = self.endoscope.ready_until
        return "late" if self._present and until is not None and until <= self.now else "ready"

    def _facts(self) -> list[tuple[str, str]]:
        policy = self.world.policy(self.opened_at)
        one, model = self.endoscope, self.model
        facts = [("Endoscope", f"{one.name}, serial {one.serial}, label {one.code}")]
        if model is not None:
            ifu = model.ifu
            facts += [
                ("Model", f"{model.name}, {model.family}, {model.maker}"),
                ("IFU", f"{ifu.document}, edition {ifu.edition}, {saying.day(ifu.dated)}"),
            ]
        facts += [self._why_opened(), ("Hands", saying.listed(self._people()))]
        facts.append(("Policy", f"{policy.name}, edition {policy.edition}, {saying.day(policy.dated)}"))
        changed = self.world.policy(self.acts[-1].happened_at)
        if digest(changed) != digest(policy):
            facts.append(("Policy at its end", f"{changed.name}, edition {changed.edition}"))
        return facts

    def _why_opened(self) -> tuple[str, str]:
        opening = self.course.opening
        if opening is not None and opening.kind == "reprocessing_required":
            return ("Reason", str(opening.body.get("reason", "")))
        return ("Case", self.cycle.case or "not known")

    def _people(self) -> Iterable[str]:
        return (saying.person(self.world, one) for one in self.cycle.people)

    def _signature(self) -> Signature | None:
        act = self.release
        if act is None:
            return None
        return Signature(
            person=saying.person(self.world, act.person), at=self._instant(act.happened_at),
            meaning=str(act.body["meaning"]), digest=str(act.body["verdict_digest"]),
            until=self._instant(datetime.fromisoformat(act.body["ready_until"])),
        )  # fmt: skip

    def _verdict_then(self, numbers: dict[str, int]) -> Judgement | None:
        if self.release is None:
            return None
        found = Verdict.model_validate(self.release.body["verdict"])
        return judgement(found, numbers, self.zone)

    def _verdict_now(self, numbers: dict[str, int]) -> Judgement | None:
        return now_judgement(self.world, self.cycle, self.now, numbers, self.zone)

    def _proof(self, lines: Iterable[Line]) -> Proof:
        found = looking.inclusion({line.leaf_index + 1 for line in lines} | {row.seq for row in self.rows})
        return Proof(found["size"], found["root"], found["inclusion"])

    def _documents(self) -> dict[str, Any]:
        library, policy = self.world.library(self.opened_at), self.world.policy(self.opened_at)
        return {
            "library_digest": digest(library), "policy": policy.id, "policy_edition": policy.edition,
            "policy_digest": digest(policy), "model": self.endoscope.model,
            "ifu_edition": self.model.ifu.edition if self.model else "",
        }  # fmt: skip


def _days(lines: list[Line]) -> Iterable[Day]:
    for (title, offset), found in groupby(lines, key=lambda line: (line.at.day, line.at.offset)):
        yield Day(title, offset, list(found))


def _event(row: StoredEvent) -> dict[str, Any]:
    event = event_of(row)
    said = content(event)
    return {
        **said, "recorded_at": row.recorded_at, "leaf_index": row.seq - 1, "leaf": row.leaf,
        "leaf_data": leaf_data(said, row.recorded_at).decode(),
    }  # fmt: skip
