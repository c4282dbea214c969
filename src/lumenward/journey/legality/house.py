"""The house: endoscopes and people join and leave, corrections."""

from __future__ import annotations

from lumenward.journey import saying
from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS, check_body
from lumenward.journey.legality.desk import Desk

_NEVER_CORRECTED = frozenset(
    {"corrected", "released", "library_adopted", "policy_adopted", "demo_loaded", "demo_removed"}
)


def endoscope_registered(desk: Desk) -> None:
    """A model of the library, an id and a code of its own."""
    if desk.world.endoscope(desk.event.subject) is not None:
        desk.no(
            "already-registered",
            f"{desk.event.subject} is registered already.",
            "subject",
            "Choose another id.",
        )
    desk.library.model(desk.body["model"])
    for other in desk.world.endoscopes():
        if other.code == desk.body["code"]:
            desk.no(
                "code-taken", f"{other.name} carries this code.", "body.code", "Give it a label of its own."
            )


def person_added(desk: Desk) -> None:
    """An id of their own, unless they come back."""
    found = desk.world.person(desk.event.subject)
    if found is not None and not found.left:
        desk.no("already-added", f"{found.name} works here already.", "subject", "Choose another id.")


def person_changed(desk: Desk) -> None:
    """Somebody who works here."""
    found = desk.world.person(desk.event.subject)
    if found is None:
        desk.no(
            "unknown-person", f"Nobody called {desk.event.subject} works here.", "subject", "Add them first."
        )
    if found.left:
        desk.no(
            "person-left", f"{found.name} does not work here any more.", "subject", "Add them again first."
        )


def competency_recorded(desk: Desk) -> None:
    """Somebody who works here, a model of the library, a day to come, judged by somebody else."""
    person_changed(desk)
    if desk.body["model"] != "*":
        desk.library.model(desk.body["model"])
    if desk.body["valid_until"] < desk.event.happened_at.date().isoformat():
        desk.no(
            "in-the-past", "That day has passed.", "body.valid_until", "Give the last day on which it holds."
        )
    if desk.body["assessed_by"] == desk.event.subject:
        desk.no(
            "own-assessor", "Nobody judges their own competency.", "body.assessed_by", "Name who judged it."
        )


def corrected(desk: Desk) -> None:
    """An earlier act that still counts, with a body its kind allows."""
    named = desk.world.event(desk.body["event"])
    if named is None:
        desk.no(
            "unknown-event",
            "There is no such act to correct.",
            "body.event",
            "Open the record and choose it.",
        )
    if desk.event.subject != named.id:
        desk.no(
            "wrong-subject",
            "A correction is about the act that it corrects.",
            "subject",
            "Name the same act.",
        )
    if named.kind in _NEVER_CORRECTED:
        desk.no(
            "not-correctable",
            f"{saying.act(named.kind).capitalize()} is not corrected.",
            "body.event",
            "Hold the endoscope, or adopt anew."
            if named.kind != "corrected"
            else "Correct the first act again.",
        )
    desk.builds_on.append(named)
    _still_counts(desk, named)
    new_body = desk.body.get("new_body")
    if new_body is None:
        _nothing_rests_on(desk, named)
    else:
        check_body(named.model_copy(update={"body": new_body}))


def _still_counts(desk: Desk, named: Event) -> None:
    cycle = named.id if KINDS[named.kind].opens_cycle else named.cycle
    if not cycle:
        return
    withdrawn = (
        act
        for act in desk.world.acts(cycle)
        if act.kind == "corrected" and act.body.get("event") == named.id and act.body.get("new_body") is None
    )
    gone = next(withdrawn, None)
    if gone is not None:
        desk.no(
            "withdrawn",
            f"This act was withdrawn {desk.done(gone)}.",
            "body.event",
            "Record it again as a new act.",
        )
    if any(act.kind == "released" for act in desk.world.acts(cycle)):
        desk.no(
            "released",
            "This cycle was released; its acts stand as they were judged.",
            "body.event",
            "Hold the endoscope and say why.",
        )


def _nothing_rests_on(desk: Desk, named: Event) -> None:
    if KINDS[named.kind].opens_cycle and len(desk.world.acts(named.id)) > 1:
        desk.no(
            "rests-on-it",
            "Other acts belong to the cycle that this act opened.",
            "body.event",
            "Correct its details, or withdraw the other acts first.",
        )
