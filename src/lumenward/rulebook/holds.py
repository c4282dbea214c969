"""Reasons to keep it back: holds, prions, loans and repairs."""

from __future__ import annotations

from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_CAME = ("loan in", "back from repair", "new")


@rule(
    id="holds.free", title="Not held, away or out of service", group="Holds",
    source="house rule; TJC 2015 on damaged endoscopes (read in a summary)", authority="default",
)  # fmt: skip
def free(case: Case) -> Opinion:
    state = case.endoscope
    if state.stage == "held":
        last = case.course.last("held") or case.course.last("leak_tested", result="leak")
        return broken(f"It is held: {state.held_why}.", last, fix="A lead may lift the hold.")
    if state.stage in ("away", "retired"):
        return broken(f"It is {state.stage}.", fix="Record its return, then process it.")
    if case.course.opening is None:
        return unknown("Nothing is known of this cycle.", fix="Record the end of use.")
    return met("Nobody holds it.", case.course.last("hold_lifted") or case.course.opening)


@rule(
    id="holds.prions", title="No prion disease is suspected", group="Holds",
    source="CDC 2008; ACDP (recalled): routine disinfection does not remove prions", authority="law",
)  # fmt: skip
def prions(case: Case) -> Opinion:
    opening = case.course.opening
    if opening is None:
        return unknown("Nothing is known of the last patient.", fix="Record the end of use.")
    if opening.kind != "patient_use_ended":
        return not_applicable("No patient since the last cycle.")
    if not opening.body["prion_risk"]:
        return met("Nobody suspects a prion disease.", opening)
    lifted = case.course.last("hold_lifted")
    if lifted is not None:
        return met(
            f"Suspected; {case.person(lifted.person)} lifted it: {lifted.body['reason']}.", opening, lifted
        )
    return broken("A prion disease is suspected.", opening, fix="Put it apart and call infection prevention.")


@rule(
    id="holds.came-in", title="Loaned, new and repaired ones are processed here first", group="Holds",
    source="HICPAC 2016 inventory rule (read in a summary); first-use rule (recalled)", authority="default",
)  # fmt: skip
def came_in(case: Case) -> Opinion:
    opening = case.course.opening
    reason = opening.body.get("reason", "") if opening else ""
    if case.endoscope.owner == "own" and reason not in _CAME:
        return not_applicable("It did not come from outside.")
    if case.endoscope.stage == "never processed" or opening is None:
        return broken(
            "It came from outside and was not processed here yet.", fix="Open a cycle and process it."
        )
    if case.course.disinfection is None:
        return unknown(
            "It came from outside; its cycle here is not complete.", opening, fix="Finish the cycle."
        )
    return met(
        f"Processed here since {case.clock(opening.happened_at)}.", opening, case.course.disinfection[1]
    )
