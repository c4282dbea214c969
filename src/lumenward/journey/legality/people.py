"""Who may act: known, still here, competent for this model, and not in the middle of somebody else's work."""

from __future__ import annotations

from datetime import date

from lumenward.journey import saying
from lumenward.journey.course import SINK_WORK
from lumenward.journey.legality.desk import Desk
from lumenward.journey.states import PersonState

HANDS_ON = frozenset(
    {*SINK_WORK, "detergent_dosed", "inspected", "cleaning_verified", "hld_started", "hld_ended",
     "machine_cycle_started", "machine_cycle_ended", "final_rinsed", "alcohol_flushed", "dried", "stored",
     "released"}
)  # fmt: skip
_BEFORE_ANYBODY = ("person", "house")


def known(desk: Desk) -> None:
    """Refuse an act by somebody unknown, or by somebody who had left."""
    if desk.kind.about in _BEFORE_ANYBODY:
        return
    person = _person(desk, desk.event.person, "person")
    if person.left:
        desk.no(
            "person-left", f"{person.name} does not work here any more.", "person", "Scan your own badge."
        )


def competent(desk: Desk) -> None:
    """Refuse hands-on work by somebody not shown competent for this model on that day."""
    if desk.event.kind not in HANDS_ON or not desk.policy.competency_required:
        return
    person = _person(desk, desk.event.person, "person")
    today = desk.event.happened_at.date()
    last = competent_until(person, desk.model.id)
    if last is not None and last >= today:
        return
    found = "was never shown" if last is None else f"was shown until {saying.day(last)} to be"
    desk.no(
        "not-competent",
        f"{person.name} {found} competent for the {desk.model.name}.",
        "person",
        "Let somebody competent do this, or have the lead record the competency.",
    )


def competent_until(person: PersonState, model: str) -> date | None:
    """Return the last day of a person's competency for a model, or None where none was ever shown."""
    days = [c.valid_until for c in person.competencies if c.model in (model, "*")]
    return max(days, default=None)


def one_at_a_time(desk: Desk) -> None:
    """Refuse work at the sink by a second person who has not taken over."""
    worker = desk.course.worker
    if desk.event.kind not in SINK_WORK or worker in ("", desk.event.person):
        return
    desk.no(
        "somebody-else-works",
        f"{saying.person(desk.world, worker)} is working on {desk.name}.",
        "person",
        "Scan your badge and take over.",
    )


def takes_over(desk: Desk) -> None:
    """Refuse a hand-over from oneself, or from somebody who was not working."""
    before = desk.body["from_person"]
    worker = desk.course.worker
    if before == desk.event.person:
        desk.no("same-person", "You cannot take over from yourself.", "body.from_person", "Go on working.")
    if worker and worker != before:
        desk.no(
            "not-the-worker",
            f"{saying.person(desk.world, worker)} is working on {desk.name}, not"
            f" {saying.person(desk.world, before)}.",
            "body.from_person",
            "Load the work again and take over from the right person.",
        )


def in_role(desk: Desk, roles: tuple[str, ...], what: str, who: str = "", key: str = "person") -> None:
    """Refuse what only some roles may do."""
    person = _person(desk, who or desk.event.person, key)
    if person.role not in roles:
        desk.no(
            "wrong-role",
            f"{person.name} is {person.role}; {what} is for {saying.listed(roles).replace(' and ', ' or ')}.",
            key,
            "Ask one of them.",
        )


def _person(desk: Desk, person_id: str, key: str) -> PersonState:
    found = desk.world.person(person_id)
    if found is None:
        desk.no(
            "unknown-person",
            f"Nobody called {person_id} works here.",
            key,
            "Scan your badge, or be added in Set-up.",
        )
    return found
