"""Cleaning verification, with the limits of its own kit."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.journey.event import Event
from lumenward.journey.legality.checked import grade
from lumenward.quantities import show_number
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown


@rule(
    id="verification.passed", title="Cleaning was verified where it must be", group="Verification",
    source="ST91:2021: after each use of high-risk endoscopes (recalled)", authority="policy",
)  # fmt: skip
def passed(case: Case) -> Opinion:
    tests = case.course.counting("cleaning_verified")
    asked = needs.verified(case.model, case.policy)
    if not tests:
        back = case.course.setbacks[-1] if case.course.setbacks else None
        if back is not None and back.kind == "cleaning_verified":
            return broken(f"{_value(case, back)}: failed.", back, fix="Clean it again and test again.")
        if not asked:
            return not_applicable("The policy asks for no verification of this model.")
        return unknown(
            f"No verification is recorded; {case.policy.verification_source} asks for it.", fix="Do the test."
        )
    for test in tests:
        kit = next((one for one in case.library.kits if one.id == test.body["kit"]), None)
        if kit is None:
            return unknown(
                f"The library has no kit {test.body['kit']}: its limits are not known.", test, fix="Add it."
            )
        if grade(kit, test.body["value"]) == "fail":
            return broken(f"{_value(case, test)}: failed.", test, fix="Clean it again and test again.")
    alert = any(test.body["result"] == "alert" for test in tests)
    note = " At the alert level: still a pass, look into it." if alert else ""
    return met(f"{_value(case, tests[-1])}.{note}", *tests)


def _value(case: Case, test: Event) -> str:
    kit = next((one for one in case.library.kits if one.id == test.body["kit"]), None)
    limit = f"; it fails from {show_number(kit.action)} {kit.unit} on" if kit else ""
    return f"{show_number(test.body['value'])} {kit.unit if kit else ''} at {test.body['site']}{limit}"


@rule(
    id="verification.attempts", title="Not cleaned in vain too often", group="Verification",
    source="common policy: one re-clean, then out of service (recalled)", authority="policy",
)  # fmt: skip
def attempts(case: Case) -> Opinion:
    back = case.course.setbacks
    allowed = case.policy.cleaning_attempts
    if case.course.opening is None:
        return unknown("The cycle was never opened.", fix="Record the end of use.")
    if len(back) < allowed:
        return met(
            f"Sent back to cleaning {len(back)} times; {allowed} times takes it out of service.",
            case.course.opening,
            *back,
        )
    lifted = case.course.last("hold_lifted")
    if lifted is not None and lifted.order > back[-1].order:
        return met(f"Sent back {len(back)} times; a lead looked into it {case.done(lifted)}.", *back, lifted)
    return broken(
        f"Sent back to cleaning {len(back)} times; at {allowed} it leaves service.",
        *back,
        fix="Hold it. A lead decides; a borescope may show why.",
    )
