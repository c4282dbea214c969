"""The leak test."""

from __future__ import annotations

from lumenward.journey.event import Event
from lumenward.journey.numbers import deciding, targets_for
from lumenward.journey.target import Target
from lumenward.quantities import show_duration, show_in
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_AGAIN = "Open a new cycle and begin with the leak test."


@rule(
    id="leak.tight", title="Tight before it was immersed", group="Leak test",
    source="HICPAC 2016; Multisociety 2016; CMS 2016 (read in a summary)", authority="default",
)  # fmt: skip
def tight(case: Case) -> Opinion:
    test = case.course.last("leak_tested")
    if test is None:
        return unknown("No leak test is recorded in this cycle.", fix="Do the leak test before cleaning.")
    if test.body["result"] == "leak":
        return broken(f"It leaked {case.done(test)}.", test, fix="Send it for repair.")
    first = next(iter(case.course.all("cleaning_started")), None)
    before = [
        one for one in case.course.all("leak_tested", result="tight") if first and one.order < first.order
    ]
    if first is not None and not before:
        return broken("It was immersed before it was found tight.", first, test, fix=_AGAIN)
    return met(f"Found tight {case.done(test)}, before it was immersed.", test)


@rule(
    id="leak.pressure", title="Tested at the IFU's pressure", group="Leak test",
    source="the IFU states the pressure; no default exists", authority="IFU",
)  # fmt: skip
def pressure(case: Case) -> Opinion:
    test = case.course.last("leak_tested", result="tight")
    if test is None:
        return unknown("No tight leak test is recorded.", fix="Do the leak test before cleaning.")
    low, high = (deciding(_targets(case, test), "pressure", bound) for bound in ("floor", "ceiling"))
    if low is None and high is None:
        return not_applicable("No IFU value entered: the IFU as entered here states no test pressure.")
    return _within(test, test.body.get("pressure_kpa"), low, high)


def _within(test: Event, found: float | None, low: Target | None, high: Target | None) -> Opinion:
    limit = low or high
    if found is None:
        return unknown("The pressure of the leak test was not recorded.", test, fix=_AGAIN, target=limit)
    said = show_in(found, "kPa")
    if low is not None and found < low.value:
        sentence = f"Tested at {said}; at least {show_in(low.value, 'kPa')}."
        return broken(sentence, test, fix=_AGAIN, target=low)
    if high is not None and found > high.value:
        sentence = f"Tested at {said}; at most {show_in(high.value, 'kPa')}."
        return broken(sentence, test, fix="Hold it: the sheath may be hurt.", target=high)
    return met(f"Tested at {said}, within the IFU's limits.", test, target=limit)


@rule(
    id="leak.time", title="Watched for long enough", group="Leak test",
    source="AORN newsletter 2021: 30 s under water; clinical page: 10 s by gauge (read)", authority="default",
)  # fmt: skip
def time(case: Case) -> Opinion:
    test = case.course.last("leak_tested", result="tight")
    if test is None:
        return unknown("No tight leak test is recorded.", fix="Do the leak test before cleaning.")
    floor = deciding(_targets(case, test), "duration", "floor")
    if floor is None:
        return not_applicable("Nobody states how long the leak test lasts.")
    lasted = case.course.duration_s(test)
    if lasted is None:
        return unknown("Nobody knows how long the leak test lasted.", test, fix=_AGAIN, target=floor)
    sentence = f"Watched for {show_duration(lasted)}; at least {show_duration(floor.value)} is asked for."
    if lasted < floor.value:
        return broken(sentence, test, fix=_AGAIN, target=floor)
    return met(sentence, test, target=floor)


@rule(
    id="leak.handled", title="Knobs moved, pressure let off", group="Leak test",
    source="AORN/ST91 (read in a summary); clinical pages (read)", authority="default",
)  # fmt: skip
def handled(case: Case) -> Opinion:
    test = case.course.last("leak_tested", result="tight")
    if test is None:
        return unknown("No tight leak test is recorded.", fix="Do the leak test before cleaning.")
    if not test.body["knobs_moved"]:
        return broken("The knobs were not moved under pressure.", test, fix=_AGAIN)
    if not test.body["released"]:
        return broken("The pressure was not let off before disconnecting.", test, fix=_AGAIN)
    return met("Every knob was moved; the pressure was let off.", test)


@rule(
    id="leak.machine-alone", title="A machine's leak test proves itself", group="Leak test",
    source="ISO 15883-4:2008, 4.2, by GOST R 15883-4-2012 (read): only if pressure and duration match the IFU",
    authority="default",
)  # fmt: skip
def machine_alone(case: Case) -> Opinion:
    test = case.course.last("leak_tested", result="tight")
    if test is None or test.body["method"] != "machine":
        return not_applicable("The leak test was not left to a machine.")
    others = [
        one for one in case.course.all("leak_tested", result="tight") if one.body["method"] != "machine"
    ]
    if others:
        return met("A leak test by hand was done as well.", test, others[-1])
    missing = [
        words
        for words, found in (
            ("pressure", test.body.get("pressure_kpa")),
            ("duration", case.course.duration_s(test)),
        )
        if found is None
    ]
    if missing:
        sentence = f"The machine's {' and '.join(missing)} is not recorded, so its test does not count alone."
        return unknown(sentence, test, fix="Test by hand as well, or record what the machine did.")
    opinions = (pressure(case), time(case))
    against = next((one for one in opinions if one.answer != "met"), None)
    if against is not None:
        return broken(f"Its test does not count alone. {against.sentence}", test, fix="Test by hand as well.")
    return met("Its pressure and duration match the IFU.", test)


def _targets(case: Case, test: Event) -> list[Target]:
    return targets_for(case.model, case.policy, f"leak-test-{test.body['method']}")
