"""The detergent: fresh, measured, warm enough and not too warm."""

from __future__ import annotations

from collections.abc import Callable

from lumenward.equipment.fittings import Detergent
from lumenward.journey import saying
from lumenward.journey.event import Event
from lumenward.journey.legality.detergent import dose_window_ml
from lumenward.quantities import show_in
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, rule, unknown

_AGAIN = "Open a new cycle and clean it again in fresh detergent."
_DO = "Dose the detergent, then clean."


@rule(
    id="detergent.fresh", title="Fresh detergent for this endoscope", group="Detergent",
    source="Queensland Health, module 5.4 (read); TJC 2015 (read in a summary)", authority="default",
)  # fmt: skip
def fresh(case: Case) -> Opinion:
    if case.cleaning is None:
        return unknown("Cleaning has not started.", fix=_DO)
    if len(case.batches) < len(case.cleaning.body["batches"]):
        return unknown(
            "Nobody knows what it was cleaned in: a batch is not recorded.", case.cleaning, fix=_AGAIN
        )
    for dosed, batch in case.batches:
        if (
            batch.endoscope != case.endoscope.id
            or batch.cycle != case.cycle
            or batch.used_by not in ("", case.cycle)
        ):
            whose = saying.endoscope(case.world, batch.endoscope)
            return broken(
                f"The detergent had been mixed for {whose}, or had served before.", dosed, fix=_AGAIN
            )
        if any(dosed.order < back.order < case.cleaning.order for back in case.course.setbacks):
            return broken("The detergent was mixed before it was sent back to cleaning.", dosed, fix=_AGAIN)
    dosings = [dosed for dosed, _ in case.batches]
    return met(f"Mixed for it alone {case.done(dosings[0])}.", *dosings, case.cleaning)


@rule(
    id="detergent.dose", title="The label's dose", group="Detergent",
    source="the detergent's label", authority="label",
)  # fmt: skip
def dose(case: Case) -> Opinion:
    return _by_label(case, _dose_by)


def _dose_by(label: Detergent, dosed: Event) -> tuple[bool, str]:
    low, high = dose_window_ml(label, dosed.body["water_l"])
    found, water = dosed.body["dose_ml"], dosed.body["water_l"]
    window = f"{show_in(low, 'mL')} to {show_in(high, 'mL')}"
    kept = low - label.dose_tolerance_ml <= found <= high + label.dose_tolerance_ml
    return kept, f"{show_in(found, 'mL')} in {show_in(water, 'L')}; the label allows {window}."


@rule(
    id="detergent.temperature", title="The label's temperature", group="Detergent",
    source="the detergent's label", authority="label",
)  # fmt: skip
def temperature(case: Case) -> Opinion:
    return _by_label(case, _temperature_by)


def _temperature_by(label: Detergent, dosed: Event) -> tuple[bool, str]:
    found = dosed.body["temperature_c"]
    window = f"{show_in(label.temperature_low_c, '°C')} to {show_in(label.temperature_high_c, '°C')}"
    kept = label.temperature_low_c <= found <= label.temperature_high_c
    return kept, f"{show_in(found, '°C')}; the label allows {window}."


def _by_label(case: Case, judge: Callable[[Detergent, Event], tuple[bool, str]]) -> Opinion:
    """Hold every mix of this cleaning against the label of its detergent."""
    if not case.batches:
        return unknown("No dosing is recorded for this cleaning.", fix=_DO)
    sentences = []
    for dosed, batch in case.batches:
        label = case.detergent(batch.detergent)
        if label is None:
            return unknown(
                f"The library has no label for {batch.detergent}.", dosed, fix="Add it to the library."
            )
        kept, sentence = judge(label, dosed)
        if not kept:
            return broken(sentence, dosed, fix=_AGAIN)
        sentences.append(sentence)
    return met(" ".join(sentences), *(dosed for dosed, _ in case.batches))
