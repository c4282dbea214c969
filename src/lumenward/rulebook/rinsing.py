"""Rinses: after the detergent, and after the disinfectant."""

from __future__ import annotations

from lumenward.journey.numbers import deciding, targets_for
from lumenward.rulebook.case import Case
from lumenward.rulebook.judging import channels_and_time, every_channel, long_enough
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_GROUP = "Rinsing"
_FIRST = "Rinse every channel."
_LAST = "Rinse it again, in a new cycle."


@rule(
    id="rinsing.rinsed", title="Detergent rinsed off, long enough", group=_GROUP,
    source="common practice, no source: as long as the flush, 95 s", authority="default",
)  # fmt: skip
def rinsed(case: Case) -> Opinion:
    return channels_and_time(case, case.course.by_channel("rinsed"), "rinse", "rinsed", _FIRST)


@rule(
    id="rinsing.outside", title="Detergent rinsed off the outside", group=_GROUP,
    source="common practice, no source: a model without channels is rinsed outside; the IFU says how long",
    authority="default",
)  # fmt: skip
def outside(case: Case) -> Opinion:
    if case.model.channels:
        return not_applicable("The outside is rinsed together with the channels.")
    act = case.course.latest("rinsed")
    if act is None:
        return unknown("No rinse of the outside is recorded.", fix="Rinse the outside.")
    return long_enough(case, [act], "rinse", "rinsed", "Rinse it again, in a new cycle.")


@rule(
    id="rinsing.purged", title="Rinse water was driven out", group=_GROUP,
    source="common practice, no source: a purge after the rinse; water left inside thins the disinfectant",
    authority="default",
)  # fmt: skip
def purged(case: Case) -> Opinion:
    done = case.course.by_channel("purged", after="rinse")
    return channels_and_time(case, done, "purge", "purged after the rinse", "Push the water out with air.")


@rule(
    id="rinsing.water", title="The right water for each rinse", group=_GROUP,
    source="ST108/ST91 (recalled): utility water after cleaning, critical or sterile water last", authority="default",
)  # fmt: skip
def water(case: Case) -> Opinion:
    kinds = {one.id: one.kind for one in case.library.waters}
    first = case.course.counting("rinsed")
    last = case.course.after_disinfection("final_rinsed")
    strange = [act for act in (*first, *([last] if last else [])) if act.body["water"] not in kinds]
    if strange:
        return unknown(
            f"Nobody knows the water {strange[0].body['water']}.", strange[0], fix="Add it to the library."
        )
    if last is not None and kinds[last.body["water"]] == "utility":
        return broken("The last rinse was with utility water.", last, fix=_LAST)
    if last is None and not case.by_machine:
        return unknown("No final rinse is recorded.", *first, fix="Rinse it after the disinfectant.")
    if last is None:
        return met("The machine rinsed last with its own water.", *first, *(case.course.disinfection or ()))
    return met(f"The last rinse was with {kinds[last.body['water']]} water.", *first, last)


@rule(
    id="rinsing.final", title="Disinfectant rinsed off, often enough", group=_GROUP,
    source="label pattern (recalled): OPA needs three separate volumes", authority="label",
)  # fmt: skip
def final(case: Case) -> Opinion:
    if case.by_machine:
        return _by_machine(case)
    act = case.course.after_disinfection("final_rinsed")
    if act is None:
        return unknown("No final rinse is recorded after the disinfectant.", fix="Rinse it.")
    label = case.bath[1] if case.bath else None
    floor = deciding(targets_for(case.model, case.policy, "final-rinse", label=label), "count", "floor")
    if floor is not None and act.body["count"] < floor.value:
        sentence = f"Rinsed {act.body['count']} times; {floor.value:g} times are asked for."
        return broken(sentence, act, fix=_LAST, target=floor)
    named = act.body["channels"]
    if case.model.channels and named:
        missing = every_channel(case, dict.fromkeys(named, act), "rinsed last", _LAST)
        if missing is not None:
            return missing
    opinion = long_enough(case, [act], "final-rinse", "rinsed last", _LAST)
    if opinion.answer != "met" or floor is None:
        return opinion
    return met(
        f"Rinsed {act.body['count']} times; {floor.value:g} are asked for. {opinion.sentence}",
        act,
        target=floor,
    )


def _by_machine(case: Case) -> Opinion:
    if case.course.disinfection is None:
        return unknown("The machine cycle is not complete.", case.course.under_way, fix="Wait for its end.")
    return not_applicable("The machine rinses as part of its cycle.")
