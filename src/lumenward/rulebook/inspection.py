"""Inspection."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown


@rule(
    id="inspection.clean", title="Inspected: clean and whole", group="Inspection",
    source="AORN FAQ 2013 (read); ST91:2021: lit magnifier each cycle (recalled)", authority="default",
)  # fmt: skip
def clean(case: Case) -> Opinion:
    back = case.course.setbacks[-1] if case.course.setbacks else None
    act = case.course.latest("inspected")
    if act is None and back is not None and back.kind == "inspected":
        return broken(f"Debris was seen {case.done(back)}.", back, fix="Clean it again and inspect it again.")
    if act is None:
        return unknown("No inspection is recorded after cleaning.", fix="Inspect it under the magnifier.")
    if act.body["result"] != "clean and whole":
        return broken(f"{act.body['result'].capitalize()} {case.done(act)}.", act, fix="Send it for repair.")
    if "magnifier" not in act.body["tools"] and "borescope" not in act.body["tools"]:
        return unknown("Nothing says with what it was inspected.", act, fix="Inspect it under the magnifier.")
    return met(f"Found clean and whole {case.done(act)}.", act)


@rule(
    id="inspection.borescope", title="Looked into where IFU or policy ask for it", group="Inspection",
    source="the policy's frequency; ST91:2021 (recalled)", authority="policy",
)  # fmt: skip
def borescope(case: Case) -> Opinion:
    if not needs.borescope(case.model, case.policy):
        return not_applicable("Neither IFU nor policy ask for a borescope here.")
    act = case.course.latest("inspected", result="clean and whole")
    if act is None:
        return unknown(
            "No inspection has found it clean yet.", fix="Inspect it with magnifier and borescope."
        )
    if "borescope" not in act.body["tools"]:
        return broken(
            "It was inspected without a borescope.", act, fix="Open a new cycle; look into the channels."
        )
    return met(f"A borescope was used {case.done(act)}.", act)
