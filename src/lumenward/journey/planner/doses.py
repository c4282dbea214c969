"""The dose tables: for each vessel and each detergent in use, rows of fill, water, dose and what it makes.

A row is computed with the label's own dilution for water that stands in the vessel; the interval is about 95 %.
"""

from __future__ import annotations

import math

from lumenward.chemistry import dosing, vessels
from lumenward.equipment.fittings import Box, Detergent, Vessel
from lumenward.journey.plan import Choice, Dosing
from lumenward.journey.planner.bench import Bench

_FINEST_M = 0.01
_LOWEST_M = 0.03


def tables(bench: Bench, vessel: Vessel) -> list[Dosing]:
    """Return one table for each detergent that has an open lot; for every detergent where none has."""
    return [table(vessel, product) for product in bench.detergents]


def table(vessel: Vessel, product: Detergent) -> Dosing:
    """Return the dose table of one vessel and one detergent.

    Fills run in steps of 1 cm from 3 cm to the highest mark, the marks among them.
    """
    return Dosing(
        vessel=vessel.id,
        vessel_name=vessel.name,
        detergent=product.id,
        dilution_words=_dilution(product, product.dilution_aim).sentence(),
        rows=[row(vessel, product, fill) for fill in _fills(vessel)],
        marks=[
            Choice(value=f"{mark.fill_m:g}", label=mark.name, note=f"{mark.fill_m * 100:g} cm of water")
            for mark in vessel.marks
        ],
        temperature_low_c=product.temperature_low_c,
        temperature_high_c=product.temperature_high_c,
        low_ppm=_ppm(product, "low"),
        high_ppm=_ppm(product, "high"),
        basis="label",
        source=product.on_label,
    )


def row(vessel: Vessel, product: Detergent, fill_m: float) -> list[float]:
    """Return fill in m, water in L, dose in mL, and the low and high end of the concentration in ppm v/v."""
    shape = shape_of(vessel)
    water_m3 = vessels.volume(shape, fill_m)
    fill = dosing.Fill(water_m3)
    dose_m3 = dosing.dose_m3(_dilution(product, product.dilution_aim), fill)
    spread = dosing.concentration_spread(
        dose_m3, fill, product.dose_tolerance_ml * 1e-6, _volume_u(vessel, shape, fill_m)
    )
    return [
        fill_m, round(water_m3 * 1000, 2), round(dose_m3 * 1e6, 1), round(spread.low * 1e6, 1),
        round(spread.high * 1e6, 1),
    ]  # fmt: skip


def shape_of(vessel: Vessel) -> vessels.Vessel:
    """Return the vessel's shape as the chemistry knows it."""
    described = vessel.vessel
    if isinstance(described, Box):
        return vessels.Box(described.length_m, described.width_m)
    return vessels.Tapered(
        described.bottom_length_m, described.bottom_width_m, described.top_length_m, described.top_width_m,
        described.height_m,
    )  # fmt: skip


def _dilution(product: Detergent, value: float) -> dosing.Dilution:
    return dosing.Dilution(product.dilution, value)


def _ppm(product: Detergent, end: str) -> float:
    """Return an end of the label's dilution range as ppm v/v; in "one to n" the larger n is the weaker."""
    ends = [
        _dilution(product, value).fraction * 1e6 for value in (product.dilution_low, product.dilution_high)
    ]
    return round(min(ends) if end == "low" else max(ends), 1)


def _fills(vessel: Vessel) -> list[float]:
    marks = [mark.fill_m for mark in vessel.marks]
    rim = min(shape_of(vessel).highest_m, max(marks) + 0.05)
    steps = math.floor((rim - _LOWEST_M) / _FINEST_M + 1e-9)
    grid = [round(_LOWEST_M + _FINEST_M * i, 4) for i in range(steps + 1)]
    return sorted({*grid, *marks})


def _volume_u(vessel: Vessel, shape: vessels.Vessel, fill_m: float) -> dict[str, float]:
    """Return the standard uncertainty of the volume in m3 by fill line and by the vessel's measured sides."""
    half = min(vessel.fill_tolerance_m, fill_m / 2)
    slope = (shape.volume_m3(fill_m + half) - shape.volume_m3(fill_m - half)) / (2 * half)
    side_share = vessel.length_tolerance_m / math.sqrt(3)
    length, width = _sides(vessel)
    volume = shape.volume_m3(fill_m)
    return {
        "fill_m": slope * vessel.fill_tolerance_m / math.sqrt(3),
        "length_m": volume * side_share / length,
        "width_m": volume * side_share / width,
    }


def _sides(vessel: Vessel) -> tuple[float, float]:
    described = vessel.vessel
    if isinstance(described, Box):
        return described.length_m, described.width_m
    return described.bottom_length_m, described.bottom_width_m
