"""From the end of use to the start of cleaning."""

from __future__ import annotations

from lumenward.journey import clocks
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.numbers import deciding, targets_for
from lumenward.quantities import show_duration
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown


@rule(
    id="delay.in-time", title="Cleaned in time, or by the delayed protocol", group="Delay",
    source="HICPAC 2016; Multisociety 2016 (read in a summary); SHEA multisociety guidance 2025 (read)",
    authority="policy",
)  # fmt: skip
def in_time(case: Case) -> Opinion:
    use = case.course.last("patient_use_ended")
    if use is None:
        return not_applicable("No patient: there was no delay.")
    first = next(iter(case.course.all("cleaning_started")), None)
    branch = case.course.last("delay_branch_taken")
    if first is None:
        return unknown("Cleaning has not started.", use, fix="Start cleaning.")
    if branch is not None and branch.order < first.order:
        agreed = case.person(branch.body["agreed_by"])
        return met(f"The delayed protocol was followed, agreed by {agreed}.", use, branch, first)
    if not use.body["time_known"]:
        fix = "Open a new cycle by the delayed protocol."
        return unknown(
            "Nobody knows when the use ended, and no delayed protocol was followed.", use, first, fix=fix
        )
    limit = deciding(targets_for(case.model, case.policy, "delay"), "duration", "ceiling")
    clock = clocks.delay(case.model, case.policy, use.happened_at)
    waited = show_duration(elapsed_s(use.happened_at, first.happened_at))
    allowed = show_duration(elapsed_s(clock.started_at, clock.limit_at))
    sentence = f"Cleaning began {waited} after the end of use; at most {allowed} is allowed."
    if clock.word(first.happened_at) == "late":
        return broken(sentence, use, first, fix="Open a new cycle by the delayed protocol.", target=limit)
    return met(sentence, use, first, target=limit)
