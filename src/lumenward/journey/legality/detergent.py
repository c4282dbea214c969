"""The detergent: its dose, its temperature, its lot, its vessel."""

from __future__ import annotations

from lumenward.chemistry.dosing import Dilution
from lumenward.equipment.fittings import Detergent
from lumenward.journey import saying
from lumenward.journey.event import Event
from lumenward.journey.legality import lots
from lumenward.journey.legality.desk import Desk
from lumenward.journey.legality.leak import TO_CLEAN_AGAIN
from lumenward.quantities import show_in


def detergent_dosed(desk: Desk) -> None:
    """Dose, temperature and lot within the label, before the rinse."""
    desk.not_twice(_rinsed_all(desk), "The rinse", TO_CLEAN_AGAIN)
    label = desk.thing("detergents", desk.body["detergent"], Detergent, "body.detergent", "detergent")
    vessels = desk.library.sinks if desk.body["role"] == "sink" else desk.library.containers
    if desk.body["vessel"] not in (one.id for one in vessels):
        desk.no(
            "not-in-library",
            f"There is no {desk.body['role']} {desk.body['vessel']} in the library.",
            "body.vessel",
            f"Known: {saying.listed(one.id for one in vessels) or 'none'}.",
        )
    lots.usable(desk, desk.body["lot"], "detergents", label.id, "body.lot")
    _temperature_in_window(desk, label)
    _dose_in_window(desk, label)


def _temperature_in_window(desk: Desk, label: Detergent) -> None:
    found, low, high = desk.body["temperature_c"], label.temperature_low_c, label.temperature_high_c
    if low <= found <= high:
        return
    desk.no(
        "temperature",
        f"{show_in(found, '°C')} is outside {show_in(low, '°C')} to {show_in(high, '°C')}"
        f" ({label.on_label}).",
        "body.temperature_c",
        "Add hot water and measure again; then dose for the new fill."
        if found < low
        else "Add cold water or wait, and measure again; then dose for the new fill.",
    )


def _dose_in_window(desk: Desk, label: Detergent) -> None:
    found = desk.body["dose_ml"]
    low, high = dose_window_ml(label, desk.body["water_l"])
    if low - label.dose_tolerance_ml <= found <= high + label.dose_tolerance_ml:
        return
    desk.no(
        "dose",
        f"{show_in(found, 'mL')} in {show_in(desk.body['water_l'], 'L')} is outside {show_in(low, 'mL')} to"
        f" {show_in(high, 'mL')} ({label.on_label}).",
        "body.dose_ml",
        "Add detergent to reach the label's dose." if found < low else "Drain it, fill again and dose again.",
    )


def dose_window_ml(label: Detergent, water_l: float) -> tuple[float, float]:
    """Return the least and the most concentrate, mL, that the label allows for this much water."""
    doses = [
        Dilution(label.dilution, value).per_water * water_l * 1000
        for value in (label.dilution_low, label.dilution_high)
    ]
    return min(doses), max(doses)


def _rinsed_all(desk: Desk) -> Event | None:
    done = desk.course.by_channel("rinsed")
    return next(iter(done.values()), None) or desk.course.latest("rinsed")
