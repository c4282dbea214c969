"""The people who did it."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

from lumenward.journey import saying
from lumenward.journey.clocks import elapsed_s, utc
from lumenward.journey.course import SINK_WORK
from lumenward.journey.event import Event
from lumenward.journey.legality.people import HANDS_ON, competent_until
from lumenward.quantities import show_duration
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_TOLD_LATER = ("patient_use_ended", "point_of_use_treated", "sent")  # the room tells, the sink records


@rule(
    id="people.competent", title="Everybody was competent for this model", group="People",
    source="Multisociety 2016; HICPAC 2016: on hire and at least yearly (read in a summary)", authority="policy",
)  # fmt: skip
def competent(case: Case) -> Opinion:
    if not case.policy.competency_required:
        return not_applicable("The policy does not ask for competency.")
    acts = [act for act in case.course.acts if act.kind in HANDS_ON]
    if not acts:
        return unknown("Nobody has worked on it yet.", fix="Go on with the next step.")
    for act in acts:
        against = _not_competent(case, act)
        if against is not None:
            return against
    names = saying.listed(dict.fromkeys(case.person(act.person) for act in acts))
    return met(f"Competent for the {case.model.name}: {names}.", *acts)


def _not_competent(case: Case, act: Event) -> Opinion | None:
    person = case.world.person(act.person)
    fix = "A competent person does it again, in a new cycle; or the lead records the competency."
    if person is None:
        return unknown(f"Nobody knows who {act.person} is.", act, fix=fix)
    last = competent_until(person, case.model.id)
    if last is None:
        return unknown(f"No competency of {person.name} for the {case.model.name} is recorded.", act, fix=fix)
    if last < act.happened_at.date():
        return broken(f"The competency of {person.name} ended on {saying.day(last)}.", act, fix=fix)
    return None


@rule(
    id="people.hand-over", title="Hand-overs are recorded", group="People",
    source="house rule: the person at the sink is known at every step", authority="default",
)  # fmt: skip
def hand_over(case: Case) -> Opinion:
    acts = [act for act in case.course.acts if act.kind in SINK_WORK or act.kind == "handed_over"]
    if not acts:
        return unknown("Nobody has worked at the sink yet.", fix="Go on with the next step.")
    for before, act in pairwise(acts):
        if act.kind != "handed_over" and act.person != before.person:
            return broken(
                f"{case.person(act.person)} went on after {case.person(before.person)} without taking over.",
                before,
                act,
                fix="Ask both who did what; a lead decides.",
            )
    names = saying.listed(dict.fromkeys(case.person(act.person) for act in acts))
    return met(f"At the sink: {names}.", *acts)


@rule(
    id="people.late-entry", title="Nothing was filled in afterwards", group="People",
    source="ALCOA+: contemporaneous (recalled); paper fallback is entered late, in order, never back-dated",
    authority="policy",
)  # fmt: skip
def late_entry(case: Case) -> Opinion:
    limit = case.policy.late_entry_min * 60
    acts = [act for act in case.course.acts if act.kind not in _TOLD_LATER]
    if not acts:
        return unknown("Nothing is recorded yet.", fix="Go on with the next step.")
    late = [act for act in acts if elapsed_s(act.happened_at, entered(act)) > limit]
    for act in late:
        later = next((one for one in acts if one.order > act.order and entered(one) < entered(act)), None)
        if later is not None:
            gap = show_duration(elapsed_s(act.happened_at, entered(act)))
            sentence = (
                f"{saying.act(act.kind).capitalize()} was entered {gap} late, after {saying.act(later.kind)}."
            )
            return broken(sentence, act, later, fix="A lead asks who did it and when, and decides.")
    if late:
        return met(f"{len(late)} acts were entered late, in their order.", *late)
    return met(f"Every act was entered within {show_duration(limit)}.", acts[-1])


def entered(act: Event) -> datetime:
    """Return when an act was entered: its id carries that instant (UUIDv7, RFC 9562)."""
    milliseconds = int(act.id[:8] + act.id[9:13], 16)
    made = datetime.fromtimestamp(milliseconds / 1000, UTC)
    return max(made, utc(act.happened_at))
