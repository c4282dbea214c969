"""The parts of a cycle's record: lines, days, verdicts, the proof. Plain values, ready to be shown or written out."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any

from lumenward.interchange.telling import Number


@dataclass(frozen=True)
class Instant:
    """One instant on the house's wall clock, for machines and for people."""

    iso: str
    clock: str
    day: str
    offset: str

    @property
    def full(self) -> str:
        """Day, clock and offset together."""
        return f"{self.day}, {self.clock} {self.offset}"

    @classmethod
    def of(cls, at: datetime, zone: tzinfo) -> Instant:
        """Return an instant as that zone says it."""
        local = at.astimezone(zone)
        spread = local.strftime("%z")
        offset = f"UTC{spread[:3]}:{spread[3:5]}"
        day = f"{local:%a} {local.day} {local:%b %Y}"
        return cls(local.isoformat(timespec="seconds"), f"{local:%H:%M:%S}", day, offset)


@dataclass(frozen=True)
class Correction:
    """What was said later about an act: why, and what holds instead (nothing, where it was withdrawn)."""

    at: Instant
    person: str
    reason: str
    sentence: str
    numbers: list[Number]
    leaf_index: int


@dataclass(frozen=True)
class Line:
    """One act: when, who, where, what, its numbers, its leaf. `struck` says that a correction took its place."""

    number: int
    id: str
    kind: str
    at: Instant
    person: str
    station: str
    sentence: str
    numbers: list[Number]
    leaf_index: int
    leaf: str
    late_entry: str = ""
    corrections: list[Correction] = field(default_factory=list)
    correctable: bool = False

    @property
    def struck(self) -> bool:
        """Whether something else holds instead."""
        return bool(self.corrections)

    @property
    def quiet(self) -> bool:
        """Whether the act only starts a clock."""
        return self.kind == "step_started"


@dataclass(frozen=True)
class Day:
    """The acts of one day, with the clock's offset on it."""

    title: str
    offset: str
    lines: list[Line]


@dataclass(frozen=True)
class RuleLine:
    """One rule's answer: a title, the answer in a word, a sentence, who says so, the acts it rests on by number."""

    title: str
    answer: str
    sentence: str
    source: str
    rests_on: str


@dataclass(frozen=True)
class Judgement:
    """A verdict as it is shown: its sentence, what stands against it, and every rule."""

    at: Instant
    policy: str
    ready: bool
    sentence: str
    against: list[RuleLine]
    rules: list[RuleLine]


@dataclass(frozen=True)
class Signature:
    """Who signed for what, when, on which verdict."""

    person: str
    at: Instant
    meaning: str
    digest: str
    until: Instant


@dataclass(frozen=True)
class Proof:
    """The tree now, and for each leaf of the record the path to its root."""

    size: int
    root: str
    paths: dict[str, list[str]]


@dataclass(frozen=True)
class CycleRecord:
    """One cycle as one page."""

    cycle: str
    endoscope: str
    name: str
    headline: str
    standing: str
    unit: str
    demo: bool
    zone: str
    printed: Instant
    printed_by: str
    facts: list[tuple[str, str]]
    days: list[Day]
    rests_on: list[Line]
    signature: Signature | None
    verdict_then: Judgement | None
    verdict_now: Judgement | None
    proof: Proof
    code: str
    code_text: str
    events: list[dict[str, Any]]
    documents: dict[str, Any]

    @property
    def lines(self) -> list[Line]:
        """Every act of the cycle in its order."""
        return [line for day in self.days for line in day.lines]

    @property
    def late_entries(self) -> int:
        """How many acts were entered later than the policy allows."""
        return sum(1 for line in self.lines if line.late_entry)

    @property
    def corrected(self) -> int:
        """How many acts were corrected or withdrawn."""
        return sum(1 for line in self.lines if line.struck)
