"""Where it waits, and for how long."""

from __future__ import annotations

from lumenward.journey.clocks import elapsed_s
from lumenward.journey.numbers import deciding, targets_for
from lumenward.quantities import show_duration
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, rule, unknown

_DO = "Hang it in its place."


@rule(
    id="storage.place", title="In a valid place", group="Storage",
    source="APIC, quoted in slides on EN 16442 (read); EN 16442:2015 (scope read)", authority="default",
)  # fmt: skip
def place(case: Case) -> Opinion:
    act = case.course.stored
    if act is None:
        return unknown("It is not in its place yet.", fix=_DO)
    if case.cabinet is None:
        return unknown(f"Nobody knows the place {act.body['cabinet']}.", act, fix="Add it to the library.")
    if not act.body["valves_out"]:
        return broken("It was stored with its valves in.", act, fix="Take the valves out; a lead decides.")
    if not act.body["clean_gloves"]:
        return broken("It was stored without clean gloves.", act, fix="Process it again: it was touched.")
    return met(f"In {case.cabinet.name} since {case.clock(act.happened_at)}.", act)


@rule(
    id="storage.hang-time", title="Hang time not over", group="Storage",
    source="the policy's table by place and class; the cabinet's own proven limit", authority="policy",
)  # fmt: skip
def hang_time(case: Case) -> Opinion:
    dried, cabinet = case.course.dried, case.cabinet
    if dried is None or cabinet is None:
        return unknown("It is not dry and in its place yet.", fix=_DO)
    limit = deciding(targets_for(case.model, case.policy, "hang", label=cabinet), "life", "ceiling")
    if limit is None or case.hang is None:
        return unknown(f"Nobody states a hang time for {cabinet.name}.", dried, fix="State it in the policy.")
    waited = show_duration(elapsed_s(dried.happened_at, case.now))
    sentence = f"Dry for {waited}; {show_duration(limit.value * 3600)} are allowed in {cabinet.name}."
    if case.hang.word(case.now) == "late":
        return broken(
            sentence, dried, case.course.stored, fix="Open a new cycle: hang time over.", target=limit
        )
    return met(sentence, dried, case.course.stored, target=limit)
