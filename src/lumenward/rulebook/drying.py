"""Drying, and alcohol where the policy has decided for it."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.quantities import show_in
from lumenward.rulebook.case import Case
from lumenward.rulebook.judging import long_enough
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_GROUP = "Drying"
_DO = "Dry it, and check that it is dry."


@rule(
    id="drying.dry", title="Dry, and checked", group=_GROUP,
    source="HSPA summary of ST91:2021 (read in a summary); Alfa and Sitter 1991 (read)", authority="default",
)  # fmt: skip
def dry(case: Case) -> Opinion:
    act = case.course.dried
    wet = case.course.after_disinfection("dried")
    if act is None and wet is not None:
        return broken(f"Moisture was seen {case.done(wet)}.", wet, fix="Dry it again, and check.")
    if act is None:
        return unknown("No drying is recorded after disinfection.", fix=_DO)
    missing = [one for one in needs.channels(case.model) if one not in act.body["channels"]]
    if missing:
        return unknown(
            f"No record that these were dried: {case.names(missing)}.", act, fix="Dry every channel."
        )
    if case.model.channels and act.body["check"] == "no channel: outside wiped dry":
        return unknown(
            "Nothing says how the channels were checked.", act, fix="Check each channel for a drop."
        )
    return met(f"Dry {case.done(act)}; checked: {act.body['check']}.", act)


@rule(
    id="drying.time", title="Dried for long enough", group=_GROUP,
    source="HSPA summary of ST91:2021: at least 10 min of forced air (read in a summary)", authority="default",
)  # fmt: skip
def time(case: Case) -> Opinion:
    act = case.course.dried
    if act is None:
        return unknown("No drying is recorded after disinfection.", fix=_DO)
    return long_enough(case, [act], "dry", "dried", "Dry it again, in a new cycle.")


@rule(
    id="drying.air", title="Filtered air, within the IFU's pressure", group=_GROUP,
    source="HSPA summary of ST91:2021 (read in a summary); the IFU states the pressure", authority="IFU",
)  # fmt: skip
def air(case: Case) -> Opinion:
    if not case.model.channels:
        return not_applicable(f"The {case.model.name} has no channel.")
    act = case.course.dried
    if act is None:
        return unknown("No drying is recorded after disinfection.", fix=_DO)
    dryer = next((one for one in case.library.dryers if one.id == act.body["dryer"]), None)
    if dryer is None:
        return unknown(f"Nobody knows the air source {act.body['dryer']}.", act, fix="Add it to the library.")
    if not dryer.filtered:
        return broken(
            f"The air of {dryer.name} is not filtered.", act, fix="Dry it with filtered air, in a new cycle."
        )
    limits = [c.max_pressure_kpa for c in case.model.channels if c.max_pressure_kpa is not None]
    found = act.body.get("pressure_kpa")
    if len(limits) < len(case.model.channels):
        return unknown(
            "No IFU value entered: the highest pressure of a channel.", act, fix="Enter it from the IFU."
        )
    if found is None:
        return unknown(
            "The pressure of the drying air was not recorded.", act, fix="Dry it again and record it."
        )
    sentence = f"Filtered air at {show_in(found, 'kPa')}; the IFU allows {show_in(min(limits), 'kPa')}."
    if found > min(limits):
        return broken(sentence, act, fix="Hold it: a channel may be hurt.")
    return met(sentence, act)


@rule(
    id="drying.alcohol", title="Alcohol only as the policy says", group=_GROUP,
    source="ST91:2021 asks for a risk assessment (read in a summary)", authority="policy",
)  # fmt: skip
def alcohol(case: Case) -> Opinion:
    act = case.course.after_disinfection("alcohol_flushed")
    if not case.policy.alcohol:
        if act is not None:
            return broken("Alcohol was used; the policy says no.", act, fix="A lead decides; record a hold.")
        return not_applicable(f"The policy says no alcohol: {case.policy.alcohol_source}.")
    if not (case.model.ifu.alcohol_allowed and case.model.channels):
        if act is not None:
            return broken(
                "Alcohol was used; the IFU does not allow it.", act, fix="A lead decides; record a hold."
            )
        return not_applicable("The IFU does not allow alcohol here.")
    if act is None:
        return unknown(
            "The policy asks for alcohol; none is recorded.", fix="Flush with alcohol before drying."
        )
    missing = [one for one in needs.channels(case.model) if one not in act.body["channels"]]
    if missing:
        return unknown(f"No record of alcohol in: {case.names(missing)}.", act, fix="Flush every channel.")
    return met(f"Alcohol of {show_in(act.body['strength_percent'], '%')} through every channel.", act)
