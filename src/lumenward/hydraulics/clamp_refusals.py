"""Why a clamp plan cannot be: which channel, and which limit stands in its way."""

from __future__ import annotations

import numpy as np

from lumenward.hydraulics.clamp_settings import Settings
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.topology import Flags
from lumenward.quantities import Refusal


def infeasible(settings: Settings, demand: int, rates: Array, minimum_pa: float) -> Refusal:
    """Return the refusal for the demand at that position: volumes of the channels first, then their shear."""
    count = len(settings.channels)
    channel = settings.channels[demand % count]
    if (rates[:, demand] > 0).any():
        return _capped(settings, channel, rates[:, demand] > 0, demand >= count)
    if demand >= count:
        return _too_gentle(settings, channel, demand % count, minimum_pa)
    if (settings.flow[:, demand] > 0).any():
        return Refusal(
            "infeasible",
            f"{channel} gets so little flow in every setting of the clamps that a day would not be enough.",
            f"required_m3.{channel}",
            "Look at its bore and length, or ask for less.",
        )
    if not settings.flow.any():
        return Refusal(
            "infeasible",
            f"Nothing flows in {channel}, nor in any other channel, in any setting of the clamps.",
            "network",
            "Look at the pump's flow, the fixed pressures and the tubes that are closed.",
        )
    return Refusal(
        "infeasible",
        f"{channel} gets no flow in any setting of the clamps: its path is closed.",
        "channels",
        "Open the tube that closes it, or name the port that feeds it among the ports.",
    )


def _capped(settings: Settings, channel: str, serving: Flags, shear: bool) -> Refusal:
    """Return the refusal for a channel that only settings above a cap serve."""
    over = (settings.capped / np.array(settings.caps.pascals))[serving]
    gentlest = int(np.argmin(over.max(axis=1)))
    place = int(np.argmax(over[gentlest]))
    cap = settings.caps.pascals[place]
    reached = over[gentlest, place] * cap
    where = settings.caps.names[place]
    what = "reaches its wall shear" if shear else "gets flow"
    return Refusal(
        "infeasible",
        f"{channel} {what} only in settings above the pressure cap of {cap / 1e3:.4g} kPa {where}: the gentlest "
        f"of them reaches {reached / 1e3:.4g} kPa.",
        "pressure_cap_pa",
        "A slower pump or a supply of lower pressure keeps the cap; never exceed the pressure of the IFU.",
    )


def _too_gentle(settings: Settings, channel: str, position: int, minimum_pa: float) -> Refusal:
    best = float(settings.shear[settings.allowed, position].max(initial=0.0))
    within = " under the pressure cap" if not settings.allowed.all() else ""
    return Refusal(
        "infeasible",
        f"{channel} cannot reach a wall shear of {minimum_pa:g} Pa with this pump: the most in any setting{within} "
        f"is {best:.3g} Pa.",
        "shear.minimum_pa",
        f"At most {best:.3g} Pa can be asked of {channel}.",
    )
