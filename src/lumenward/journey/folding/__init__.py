"""From events to states: one module a subject, each with `start` and `apply`, both pure.

`fold` sorts by (instant, id), drops doubles and honours corrections, so any order of arrival ends in the same
state. `advance` is the short way for an event that comes after all others of its subject and corrects nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from types import ModuleType

from lumenward.journey.event import Event
from lumenward.journey.folding import batch, charge, connector_set, cycle, endoscope, lot, person
from lumenward.journey.folding.correcting import effective
from lumenward.journey.folding.touching import touch_rows, touches
from lumenward.journey.states import State

_MODULES: dict[str, ModuleType] = {
    "endoscope": endoscope,
    "cycle": cycle,
    "charge": charge,
    "lot": lot,
    "connector-set": connector_set,
    "batch": batch,
    "person": person,
}
FOLDED: tuple[str, ...] = tuple(_MODULES)

# The field that the event which brings a subject into being fills: empty means only spoken of, never seen.
_BORN = {
    "endoscope": "model",
    "cycle": "opened_at",
    "charge": "poured_at",
    "lot": "opened_at",
    "connector-set": "opened_at",
    "batch": "mixed_at",
    "person": "name",
}


def start(about: str, subject_id: str) -> State:
    """Return the state of a subject of which nothing is known yet."""
    begin: Callable[[str], State] = _MODULES[about].start
    return begin(subject_id)


def is_known(about: str, state: State) -> bool:
    """Return whether the subject exists, or is only named by an event about something else."""
    return bool(getattr(state, _BORN[about]))


def advance(about: str, state: State, event: Event) -> State:
    """Return the state after one more event: later than all before it, and no correction."""
    step: Callable[[State, Event], State] = _MODULES[about].apply
    return step(state, event)


def fold(about: str, subject_id: str, events: Iterable[Event]) -> State:
    """Return the state of a subject from the events that touch it, in any order, doubles allowed."""
    state = start(about, subject_id)
    for event in effective(events):
        state = advance(about, state, event)
    return state


__all__ = ["FOLDED", "advance", "effective", "fold", "is_known", "start", "touch_rows", "touches"]
