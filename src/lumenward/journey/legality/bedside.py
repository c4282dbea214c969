"""Opening a cycle, and everything before the leak test."""

from __future__ import annotations

from lumenward.journey import clocks, saying
from lumenward.journey.clocks import Clock, elapsed_s
from lumenward.journey.legality import people
from lumenward.journey.legality.desk import Desk
from lumenward.quantities import show_duration

_AT_WORK = ("waiting", "being cleaned", "being disinfected", "disinfected", "dry")
_AGREE = ("lead", "infection prevention")


def use_ended(desk: Desk) -> None:
    """A patient's use can end only where no cycle is at work."""
    _here(desk)
    _no_cycle_at_work(desk, _AT_WORK, "it cannot have been used meanwhile")
    _after_the_last(desk)


def required(desk: Desk) -> None:
    """Processing without a patient: not while it is at work or with a patient."""
    _here(desk)
    _no_cycle_at_work(desk, _AT_WORK[:3], "it need not be opened again")
    if desk.endoscope.stage == "in use":
        desk.no(
            "in-use",
            f"{desk.name} was taken for a patient.",
            "kind",
            "Record the end of that use; it opens the cycle.",
        )
    _after_the_last(desk)


def _here(desk: Desk) -> None:
    if desk.event.cycle not in ("", desk.event.id):
        desk.no(
            "wrong-cycle", "An act that opens a cycle belongs to no other cycle.", "cycle", "Leave it empty."
        )
    if desk.endoscope.stage == "held":
        desk.no(
            "held", f"{desk.name} is held: {desk.endoscope.held_why}.", "subject", "A lead may lift the hold."
        )
    if desk.endoscope.stage in ("away", "retired"):
        gone = "out of service" if desk.endoscope.stage == "retired" else "away"
        desk.no("not-here", f"{desk.name} is {gone}.", "subject", "Check its label; record its return first.")


def _no_cycle_at_work(desk: Desk, stages: tuple[str, ...], why: str) -> None:
    if desk.endoscope.stage not in stages:
        return
    opening = desk.world.event(desk.endoscope.cycle)
    when = f" {desk.done(opening)}" if opening else ""
    desk.no(
        "cycle-open",
        f"{desk.name} is already being processed: that cycle was opened{when}; {why}.",
        "subject",
        "Check the label. If it is this one, go on with its cycle.",
    )


def _after_the_last(desk: Desk) -> None:
    since = desk.endoscope.since
    if since is not None and elapsed_s(desk.event.happened_at, since) > 0:
        desk.no(
            "before-the-last-cycle",
            f"{desk.name} has been {desk.endoscope.stage} since"
            f" {saying.clock(since, desk.event.happened_at)}; this is said to be earlier.",
            "happened_at",
            "Check the date and time.",
        )


def before_cleaning(desk: Desk) -> None:
    """Bedside treatment, journey and arrival: each once. The room may tell later, but not after cleaning began."""
    kind = desk.event.kind
    desk.not_twice(desk.course.last(kind), saying.act(kind).capitalize())
    for after in ("leak_tested", "cleaning_started") if kind == "received" else ("cleaning_started",):
        passed = desk.course.last(after)
        if passed is not None:
            desk.no(
                "out-of-order",
                f"{saying.act(kind).capitalize()} comes before {saying.act(after)}, which was recorded"
                f" {desk.done(passed)}.",
                "kind",
                "Go on with the next step.",
            )
    if kind != "received" and desk.course.last("patient_use_ended") is None:
        desk.no(
            "no-patient",
            "This cycle was opened without a patient's use.",
            "kind",
            "Go on with the next step.",
        )


def treated(desk: Desk) -> None:
    """Refuse to begin cleaning while nobody said how the endoscope was treated at the bedside."""
    if desk.course.last("patient_use_ended") is None:
        return
    desk.need(
        desk.course.last("point_of_use_treated"),
        "Nothing says how it was treated at the bedside.",
        "Ask the room and record it, even if nothing was done.",
    )


def delay_branch(desk: Desk) -> None:
    """The delayed protocol: only when it is late or the time is unknown, agreed by somebody who may."""
    desk.not_twice(desk.course.last("delay_branch_taken"), "The delayed protocol")
    desk.not_twice(
        desk.course.last("cleaning_started"), "The start of cleaning", "It is too late to agree on it now."
    )
    if desk.course.last("patient_use_ended") is None:
        desk.no(
            "no-patient",
            "This cycle was opened without a patient's use.",
            "kind",
            "Go on with the next step.",
        )
    clock = late_clock(desk)
    if clock is not None and clock.word(desk.event.happened_at) != "late":
        desk.no(
            "not-late",
            f"It is not late: cleaning may start within another {show_duration(clock.left_s(desk.event.happened_at))}.",
            "kind",
            "Go on with the next step.",
        )
    people.in_role(desk, _AGREE, "the agreement on a late start", desk.body["agreed_by"], "body.agreed_by")


def late_clock(desk: Desk) -> Clock | None:
    """Return the delay clock of a cycle after a patient, or None where the end of use is not known."""
    opening = desk.course.opening
    if opening is None or not opening.body.get("time_known", True):
        return None
    return clocks.delay(desk.model, desk.policy, opening.happened_at)
