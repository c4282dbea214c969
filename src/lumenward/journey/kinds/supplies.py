"""Charges, lots, connector sets, strips: what is used up."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from lumenward.journey.kinds.base import Body, Celsius, Litres, Ref, Words


class LotOpened(Body):
    """A lot came into use: detergent, disinfectant, strips, brushes, kits. Subject is the lot's id."""

    product: Ref
    shelf: Literal["detergents", "disinfectants", "strips", "brushes", "kits"]
    lot: Ref
    expires: date
    code: Ref | None = None


class LotWithdrawn(Body):
    """A lot must not be used any more."""

    reason: Words


class StripsChecked(Body):
    """A new bottle of strips proved on full strength and on diluted disinfectant."""

    full_strength_passed: int = Field(ge=0, le=10)
    diluted_failed: int = Field(ge=0, le=10)


class ChargePoured(Body):
    """A basin was filled; the event's id names the charge and is its subject."""

    basin: Ref
    disinfectant: Ref
    lot: Ref
    volume_l: Litres
    temperature_c: Celsius | None = None


class MecTested(Body):
    """The concentration of a charge was tested with a strip (or titrated to a figure)."""

    strip_lot: Ref
    read_after_s: float = Field(gt=0, le=600)
    result: Literal["pass", "fail"]
    percent: float | None = Field(default=None, gt=0, le=50)
    temperature_c: Celsius | None = None


class ChargeDiscarded(Body):
    """A charge was emptied."""

    reason: Literal["reuse life over", "MEC failed", "soiled", "temperature", "spilt", "other"]
    note: Words | None = None


class ConnectorSetOpened(Body):
    """A connector set came into use; its life runs from its first use."""

    kind: Ref
    code: Ref | None = None


class ConnectorSetDiscarded(Body):
    """A connector set is not used any more."""

    reason: Words


class BatchDiscarded(Body):
    """Detergent solution drained; subject is the batch (the id of its `detergent_dosed`)."""

    reason: Words
