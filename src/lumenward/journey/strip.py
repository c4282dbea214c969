"""One endoscope's recent past as stretches of time, and what it needs next: the material of the screen Now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict

from lumenward.journey.clocks import Clock
from lumenward.journey.event import Event
from lumenward.journey.states import EndoscopeState

Doing = Literal["in use", "waiting", "cleaning", "disinfecting", "drying", "stored", "held"]

# Which act begins which stretch; acts not named here change nothing on the strip.
_BEGINS: dict[str, Doing] = {
    "taken_for_use": "in use",
    "patient_use_ended": "waiting",
    "reprocessing_required": "waiting",
    "leak_tested": "cleaning",
    "detergent_dosed": "cleaning",
    "cleaning_started": "cleaning",
    "hld_started": "disinfecting",
    "machine_cycle_started": "disinfecting",
    "hld_ended": "drying",
    "machine_cycle_ended": "drying",
    "final_rinsed": "drying",
    "stored": "stored",
    "held": "held",
}
NEEDS_HANDS = frozenset({"waiting", "being cleaned", "disinfected", "dry", "stored"})


class Stretch(BaseModel):
    """One thing going on from `start` to `end` (None: still going on)."""

    model_config = ConfigDict(frozen=True)

    doing: Doing
    start: datetime
    end: datetime | None = None


class Row(BaseModel):
    """One endoscope on the strip: what it is doing, since when, and the clock that runs out first."""

    model_config = ConfigDict(frozen=True)

    endoscope: str
    name: str
    model: str
    stage: str
    place: str
    since: datetime | None
    stretches: list[Stretch]
    clock: Clock | None = None
    held_why: str = ""

    @property
    def needs_hands(self) -> bool:
        """Whether somebody must do something before it can be used again."""
        return self.stage in NEEDS_HANDS

    def urgency(self, now: datetime) -> tuple[int, float]:
        """Return a key that sorts what is late first, then what runs out first, then what only waits."""
        group = 0 if self.needs_hands else {"being disinfected": 1, "held": 2, "in use": 3}.get(self.stage, 4)
        return group, self.clock.left_s(now) if self.clock else float("inf")


def stretches(acts: Iterable[Event], since: datetime) -> list[Stretch]:
    """Return the stretches that reach past `since`, from acts in their order."""
    found: list[Stretch] = []
    for act in acts:
        doing = _BEGINS.get(act.kind)
        if doing is None or (found and found[-1].doing == doing):
            continue
        if found:
            found[-1] = found[-1].model_copy(update={"end": act.happened_at})
        found.append(Stretch(doing=doing, start=act.happened_at))
    return [s for s in found if s.end is None or s.end > since]


def row(state: EndoscopeState, acts: Sequence[Event], clock: Clock | None, since: datetime) -> Row:
    """Return one endoscope's row from its state, its recent acts and its clock."""
    return Row(
        endoscope=state.id, name=state.name, model=state.model, stage=state.stage, place=state.place,
        since=state.since, stretches=stretches(acts, since), clock=clock,
        held_why=state.held_why if state.stage == "held" else "",
    )  # fmt: skip


def by_urgency(rows: Iterable[Row], now: datetime) -> list[Row]:
    """Return the rows, what needs hands first and soonest first."""
    return sorted(rows, key=lambda r: (*r.urgency(now), r.name))
