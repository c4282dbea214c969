"""Holds, repair, loans, the end: what happens to an endoscope outside the steps of a cycle."""

from __future__ import annotations

from lumenward.journey.legality import people
from lumenward.journey.legality.desk import Desk

_LIFT = ("lead", "infection prevention")
_GONE = ("away", "retired")


def held(desk: Desk) -> None:
    """Any endoscope that is here may be held, once for one reason."""
    _same_cycle(desk)
    _not_gone(desk)
    if desk.endoscope.stage == "held" and desk.endoscope.held_why == desk.body["reason"]:
        desk.no(
            "already-held",
            f"{desk.name} is already held: {desk.endoscope.held_why}.",
            "kind",
            "Nothing is lost.",
        )


def lifted(desk: Desk) -> None:
    """Only a hold that is there, by somebody who may."""
    _same_cycle(desk)
    if desk.endoscope.stage != "held":
        desk.no("not-held", f"{desk.name} is not held.", "kind", "There is nothing to lift.")
    people.in_role(desk, _LIFT, "lifting a hold")


def _same_cycle(desk: Desk) -> None:
    if desk.event.cycle != desk.endoscope.cycle:
        found = "its present cycle" if desk.endoscope.cycle else "no cycle: none is open"
        desk.no("wrong-cycle", f"This belongs to {found}.", "cycle", "Load the endoscope again.")


def sent_for_repair(desk: Desk) -> None:
    """From anywhere but a patient's bedside."""
    _not_gone(desk)
    if desk.endoscope.stage == "in use":
        desk.no(
            "in-use", f"{desk.name} was taken for a patient.", "kind", "Record the end of that use first."
        )


def returned(desk: Desk) -> None:
    """Only what is away comes back."""
    if desk.endoscope.stage != "away":
        desk.no("not-away", f"{desk.name} is not away.", "kind", "Check its label.")


def loan_ended(desk: Desk) -> None:
    """Only a loaner goes back."""
    _not_gone(desk)
    if desk.endoscope.owner != "loan":
        desk.no("not-a-loan", f"{desk.name} belongs to the house.", "kind", "Check its label.")


def retired(desk: Desk) -> None:
    """Once."""
    if desk.endoscope.stage == "retired":
        desk.no("retired", f"{desk.name} is out of service already.", "kind", "Nothing is lost.")


def _not_gone(desk: Desk) -> None:
    if desk.endoscope.stage in _GONE:
        gone = "out of service" if desk.endoscope.stage == "retired" else "away"
        desk.no("not-here", f"{desk.name} is {gone}.", "subject", "Check its label.")


def open_for_work(desk: Desk) -> None:
    """Refuse work on an endoscope that is held, away, retired, in another cycle, or under suspicion of prions."""
    state = desk.endoscope
    if state.stage == "held" and desk.event.kind not in _ENDS:
        hint = (
            "Send it for repair, or have a lead lift the hold."
            if state.held_why in _HURT
            else "A lead may lift it."
        )
        desk.no("held", f"{desk.name} is held: {state.held_why}.", "subject", hint)
    _not_gone(desk)
    _in_its_cycle(desk)
    _no_prions(desk)


_ENDS = ("hld_ended", "machine_cycle_ended", "disconnected")  # what was begun before the hold may be ended
_HURT = ("leak found", "damage seen")


def _in_its_cycle(desk: Desk) -> None:
    if not desk.event.cycle or desk.world.cycle(desk.event.cycle) is None:
        desk.no(
            "no-cycle",
            f"No such cycle of {desk.name} was opened.",
            "cycle",
            "Record the end of use, or why it is processed.",
        )
    if desk.event.cycle == desk.endoscope.cycle:
        return
    opening = desk.world.event(desk.endoscope.cycle) if desk.endoscope.cycle else None
    now_in = f" A new one was opened {desk.done(opening)}." if opening else ""
    desk.no(
        "cycle-closed", f"That cycle of {desk.name} is over.{now_in}", "cycle", "Load the endoscope again."
    )


def _no_prions(desk: Desk) -> None:
    opening = desk.course.opening
    if opening is None or not opening.body.get("prion_risk"):
        return
    lifted_since = desk.course.last("hold_lifted")
    if lifted_since is None:
        desk.no(
            "prion-risk",
            f"Prion disease is suspected for the patient of {desk.name}. Disinfection does not remove prions.",
            "subject",
            "Put it apart and call infection prevention.",
        )
