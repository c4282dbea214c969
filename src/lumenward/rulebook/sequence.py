"""Every step is there, and in its order."""

from __future__ import annotations

from itertools import pairwise

from lumenward.journey import needs, saying
from lumenward.journey.event import Event
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, rule, unknown

_CHAIN = "seven-step chain of the APIC 2018 report on bronchoscopes (read)"


@rule(
    id="sequence.this-cycle", title="This is its latest cycle", group="Order",
    source="house rule: an endoscope is only as clean as its latest cycle", authority="default",
)  # fmt: skip
def this_cycle(case: Case) -> Opinion:
    opening = case.course.opening
    if opening is None:
        return unknown("Nothing says why or when this cycle was opened.", fix="Record the end of use.")
    if case.endoscope.cycle == case.cycle:
        return met(f"The cycle was opened {case.done(opening)}, and none since.", opening)
    later = case.world.event(case.endoscope.cycle) if case.endoscope.cycle else None
    since = (
        f"A newer cycle was opened {case.done(later)}." if later else f"It is {case.endoscope.stage} since."
    )
    return broken(since, opening, later, fix="Judge its latest cycle.")


@rule(
    id="sequence.complete", title="Every step is recorded", group="Order",
    source=_CHAIN, authority="default",
)  # fmt: skip
def complete(case: Case) -> Opinion:
    wanted = _wanted(case)
    missing = [words for words, act in wanted if act is None]
    known = [act for _, act in wanted if act is not None]
    if missing:
        return unknown(
            f"Not recorded: {saying.listed(missing)}.", *known, fix="Do what is missing, and record it."
        )
    return met(f"All {len(known)} steps are recorded.", *known)


@rule(
    id="sequence.order", title="The steps came in their order", group="Order",
    source="CDC 2008: cleaning before disinfection (read); HICPAC 2016: leak test before cleaning (read in a summary)",
    authority="default",
)  # fmt: skip
def in_order(case: Case) -> Opinion:
    found = [(words, act) for words, act in _wanted(case) if act is not None]
    for (before, first), (after, second) in pairwise(found):
        if first.order > second.order:
            sentence = f"{after.capitalize()} came before {before}."
            return broken(sentence, first, second, fix="Open a new cycle and process it again in order.")
    if len(found) < len(_wanted(case)):
        return unknown(
            "The steps so far are in order; some are still to come.", fix="Go on with the next step."
        )
    return met("The steps came in their order.", *(act for _, act in found))


def _wanted(case: Case) -> list[tuple[str, Event | None]]:
    course = case.course
    pair = course.disinfection
    first = ("flush", "flushed") if case.model.channels else ("cleaning of the outside", "exterior_cleaned")
    verified = [("the cleaning verification", course.latest("cleaning_verified"))]
    last_rinse = [("the final rinse", course.after_disinfection("final_rinsed"))]
    return [
        ("the leak test", _leak_test(case)),
        ("the start of cleaning", course.latest("cleaning_started")),
        (f"the {first[0]}", course.latest(first[1])),
        ("the rinse", course.latest("rinsed")),
        ("the inspection", course.latest("inspected")),
        *(verified if needs.verified(case.model, case.policy) and not _verified_first(case) else []),
        ("the disinfection", pair[1] if pair else None),
        *([] if case.by_machine else last_rinse),
        ("the drying", course.dried),
        ("the storing", course.stored),
    ]


def _leak_test(case: Case) -> Event | None:
    """The one before cleaning, where there is one: a test repeated later does not take it away."""
    begun = case.cleaning
    tests = case.course.all("leak_tested")
    before = [one for one in tests if begun is not None and one.order < begun.order]
    return next(reversed(before or tests), None)


def _verified_first(case: Case) -> bool:
    """Inspection and verification may come in either order."""
    verified, inspected = case.course.latest("cleaning_verified"), case.course.latest("inspected")
    return verified is not None and inspected is not None and verified.order < inspected.order
