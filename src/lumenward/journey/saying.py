"""How acts, people and times are named in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from lumenward.journey.event import Event
from lumenward.journey.states import World

ACTS: dict[str, str] = {
    "patient_use_ended": "the end of use",
    "reprocessing_required": "the opening of the cycle",
    "point_of_use_treated": "the bedside treatment",
    "sent": "the journey from the room",
    "received": "the arrival",
    "delay_branch_taken": "the agreement on the delayed protocol",
    "step_started": "the start of the step",
    "leak_tested": "the leak test",
    "detergent_dosed": "the dosing",
    "cleaning_started": "the start of cleaning",
    "exterior_cleaned": "the cleaning of the outside",
    "channel_brushed": "the brushing",
    "connected": "the connecting",
    "aspirated": "the aspiration",
    "flushed": "the flush",
    "purged": "the air purge",
    "rinsed": "the rinse",
    "disconnected": "the disconnecting",
    "inspected": "the inspection",
    "cleaning_verified": "the cleaning verification",
    "hld_started": "the start of disinfection",
    "hld_ended": "the end of disinfection",
    "machine_cycle_started": "the start of the machine",
    "machine_cycle_ended": "the end of the machine cycle",
    "final_rinsed": "the final rinse",
    "alcohol_flushed": "the alcohol flush",
    "dried": "the drying",
    "stored": "the storing",
    "released": "the release",
    "taken_for_use": "the taking for use",
    "held": "the hold",
    "hold_lifted": "the lifting of the hold",
    "work_interrupted": "the interruption",
    "handed_over": "the hand-over",
}


def act(kind: str) -> str:
    """Return a kind of act as a phrase with its article."""
    return ACTS.get(kind, kind.replace("_", " "))


def clock(at: datetime, beside: datetime | None = None) -> str:
    """Return a time of day on the station's wall clock; with its date unless `beside` is on the same day.

    >>> clock(datetime.fromisoformat("2026-03-01T10:32:00+00:00"))
    '1 March 2026, 10:32'
    """
    local = at if beside is None or beside.tzinfo is None else at.astimezone(beside.tzinfo)
    if beside is not None and local.date() == beside.date():
        return f"{local:%H:%M}"
    return f"{local.day} {local:%B %Y}, {local:%H:%M}"


def day(at: object) -> str:
    """Return a date in words, from a date or a datetime."""
    return f"{at.day} {at:%B %Y}" if hasattr(at, "day") else str(at)


def person(world: World, person_id: str) -> str:
    """Return a person's name, or the id where no name is known."""
    found = world.person(person_id)
    return found.name if found and found.name else person_id


def endoscope(world: World, endoscope_id: str) -> str:
    """Return an endoscope's name, or its id."""
    found = world.endoscope(endoscope_id)
    return found.name if found and found.name else endoscope_id


def done(world: World, event: Event, beside: datetime | None = None) -> str:
    """Return when and by whom: "at 10:32 by Ana Reyes"."""
    when = clock(event.happened_at, beside)
    front = "at " if ":" in when and "," not in when else "on "
    return f"{front}{when} by {person(world, event.person)}"


def inside(name: str) -> str:
    """Return a name as it stands inside a sentence: "Suction valve" becomes "suction valve", "CO2 port" stays.

    >>> inside("Suction valve"), inside("CO2 port")
    ('suction valve', 'CO2 port')
    """
    return name if name[:2].isupper() else name[:1].lower() + name[1:]


def listed(names: Iterable[str]) -> str:
    """Return names as a list in a sentence.

    >>> listed(["air", "water", "suction"])
    'air, water and suction'
    """
    known = list(names)
    if len(known) < 2:
        return "".join(known)
    return ", ".join(known[:-1]) + " and " + known[-1]
