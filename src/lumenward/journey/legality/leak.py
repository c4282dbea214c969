"""The leak test, and what hangs on it."""

from __future__ import annotations

from lumenward.journey import saying
from lumenward.journey.legality.desk import Desk
from lumenward.journey.numbers import deciding, targets_for
from lumenward.quantities import show_in

TO_CLEAN_AGAIN = "If it must be cleaned again, record what was seen at the inspection."


def leak_tested(desk: Desk) -> None:
    """By an allowed method, within the allowed pressure, not twice tight."""
    last = desk.course.last("leak_tested")
    leaked = last is not None and last.body["result"] == "leak"
    if not leaked and desk.body["result"] == "tight":
        desk.not_twice(last, "A tight leak test")
    not_disinfected(desk)
    if not leaked and desk.body["result"] == "tight":
        not_inspected(desk)
    allowed = desk.model.ifu.leak_methods
    if desk.body["method"] not in allowed:
        desk.no(
            "wrong-method",
            f"The IFU of the {desk.model.name} does not name the {desk.body['method']} leak test.",
            "body.method",
            f"Allowed: {saying.listed(allowed)}.",
        )
    if desk.body["result"] == "tight":
        _pressure_in_window(desk)


def _pressure_in_window(desk: Desk) -> None:
    found = desk.body.get("pressure_kpa")
    if found is None:
        return
    targets = targets_for(desk.model, desk.policy, f"leak-test-{desk.body['method']}")
    low, high = (deciding(targets, "pressure", bound) for bound in ("floor", "ceiling"))
    if low is not None and found < low.value:
        desk.no(
            "pressure-low",
            f"{show_in(found, 'kPa')} is too little to show a leak; at least {show_in(low.value, 'kPa')}"
            f" ({low.basis}: {low.source}).",
            "body.pressure_kpa",
            "Raise the pressure and test again.",
        )
    if high is not None and found > high.value:
        desk.no(
            "pressure-high",
            f"{show_in(found, 'kPa')} is more than the endoscope may bear, {show_in(high.value, 'kPa')}"
            f" ({high.basis}: {high.source}).",
            "body.pressure_kpa",
            "Check the reading. If it was that high, hold the endoscope: the sheath may be hurt.",
        )


def tight(desk: Desk) -> None:
    """Refuse what comes after the leak test while the last one was not tight."""
    last = desk.course.last("leak_tested")
    if last is not None and last.body["result"] != "tight":
        desk.no(
            "leak",
            f"{desk.name} failed its leak test {desk.done(last)}. It must not be immersed.",
            "kind",
            "Send it for repair, or prove it tight by another leak test.",
        )
    desk.need(last, f"{desk.name} has not passed its leak test in this cycle.", "Do the leak test first.")


def cleaning_not_over(desk: Desk) -> None:
    """Refuse to clean what was found clean, or is being disinfected."""
    not_disinfected(desk)
    not_inspected(desk)


def not_disinfected(desk: Desk) -> None:
    """Refuse what comes before the disinfection once that has begun."""
    begun = desk.course.disinfection or (desk.course.under_way,)
    if begun[0] is not None:
        desk.no(
            "out-of-order",
            f"Disinfection began {desk.done(begun[0])}; cleaning is over.",
            "kind",
            "Go on with the next step. If it must be cleaned again, open a new cycle for it.",
        )


def not_inspected(desk: Desk) -> None:
    """Refuse what comes before the inspection once that found it clean."""
    clean = desk.course.latest("inspected", result="clean and whole")
    if clean is not None:
        desk.no(
            "out-of-order",
            f"It was inspected and found clean {desk.done(clean)}; cleaning is over.",
            "kind",
            TO_CLEAN_AGAIN,
        )
