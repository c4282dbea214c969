"""The computed drying time: the cautious bound for the film that a purge leaves in the slowest channel.

It knows nothing of water trapped in branches and is not calibrated, so it stands far below the stated floor for most
models; it is there to show which channel dries last, and to lengthen the step where one would need it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from lumenward.equipment.endoscope import Channel, EndoscopeModel
from lumenward.equipment.fittings import Dryer
from lumenward.journey.saying import inside
from lumenward.journey.target import Target

if TYPE_CHECKING:
    from lumenward.journey.planner.bench import Bench

ROOM_C = 20.0
_SHORT_M = 0.05  # a nozzle or a stub this short does not decide how a channel dries


def dry_targets(bench: Bench) -> list[Target]:
    """Return the computed floor of drying; empty without channels, or where the air's dew point is not known."""
    dryer = _weakest(bench)
    if dryer is None or not bench.channels:
        return []
    times = {channel.name: _bound_s(_bores(bench.model, channel), dryer) for channel in bench.model.channels}
    slowest = max(times, key=lambda name: times[name])
    return [
        Target(
            step="dry", quantity="duration", bound="floor", value=float(round(times[slowest])), unit="s",
            basis="computed",
            source=f"cautious bound for a film in the {inside(slowest)} line, {dryer.gauge_kpa:g} kPa, air at "
            f"{ROOM_C:g} °C; no trapped water, not calibrated",
        )
    ]  # fmt: skip


def _weakest(bench: Bench) -> Dryer | None:
    known = [dryer for dryer in bench.library.dryers if dryer.filtered and dryer.dew_point_c is not None]
    return min((d for d in known if (d.dew_point_c or 0.0) < ROOM_C), key=lambda d: d.gauge_kpa, default=None)


def _bores(model: EndoscopeModel, channel: Channel) -> tuple[float, float, float, float]:
    """Return bore, length, wire and losses of a channel taken as one tube of its narrowest long stretch; m."""
    tubes = [tube for tube in model.tubes if tube.id in channel.tubes]
    long_ones = [tube for tube in tubes if tube.length_m > _SHORT_M] or tubes
    narrowest = min(long_ones, key=lambda tube: tube.bore_mm - tube.wire_mm)
    length = sum(tube.length_m for tube in tubes)
    return narrowest.bore_mm / 1000, length, narrowest.wire_mm / 1000, sum(tube.minor_loss for tube in tubes)


def _bound_s(tube: tuple[float, float, float, float], dryer: Dryer) -> float:
    return _bound(*tube, dryer.gauge_kpa, dryer.dew_point_c or 0.0)


@lru_cache(maxsize=512)
def _bound(
    bore_m: float, length_m: float, wire_m: float, minor_loss: float, gauge_kpa: float, dew_point_c: float
) -> float:
    from lumenward.hydraulics.drying import DryingAir, drying_time
    from lumenward.hydraulics.film import PURGE_RANGE
    from lumenward.hydraulics.gas_flow import Passage

    supply = DryingAir(gauge_kpa * 1000, ROOM_C, dew_point_c)
    return drying_time(supply, Passage(bore_m, length_m, wire_m, minor_loss), PURGE_RANGE).high
