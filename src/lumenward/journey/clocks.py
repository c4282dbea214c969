"""Clocks: from which instant, until which instant, who says so. Real elapsed time, whatever the wall clock does.

A day of a stated life is 24 hours; only the date printed on a lot is a date on the wall. Every instant must carry
its offset; results are in UTC.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Literal

from pydantic import BaseModel, ConfigDict

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Cabinet, ConnectorSet, Disinfectant, TestStrip
from lumenward.equipment.policy import Policy
from lumenward.journey.numbers import deciding, targets_for
from lumenward.journey.target import Basis, Target
from lumenward.quantities import Refusal

Word = Literal["in time", "soon", "late", "running", "reached"]
_SOON_SHARE = 0.75  # of the allowed time, where nobody says when to warn: 45 of 60 min is common practice


def utc(at: datetime) -> datetime:
    """Return the instant in UTC, or raise Refusal `no-offset` for a time that does not say where it was read."""
    if at.tzinfo is None:
        raise Refusal("no-offset", f"The time {at.isoformat()} does not say its offset.", "happened_at")
    return at.astimezone(UTC)


def elapsed_s(start: datetime, end: datetime) -> float:
    """Return the real seconds from one instant to another; negative where the second came first.

    >>> from zoneinfo import ZoneInfo
    >>> london = ZoneInfo("Europe/London")
    >>> elapsed_s(datetime(2026, 3, 29, 0, 30, tzinfo=london), datetime(2026, 3, 29, 2, 30, tzinfo=london))
    3600.0
    """
    return (utc(end) - utc(start)).total_seconds()


def after(start: datetime, seconds: float) -> datetime:
    """Return the instant `seconds` of real time after another, in UTC."""
    return utc(start) + timedelta(seconds=seconds)


class Clock(BaseModel):
    """One running time. A `deadline` should not be passed, a `floor` must be reached."""

    model_config = ConfigDict(frozen=True)

    name: str
    started_at: datetime
    limit_at: datetime
    soon_at: datetime
    basis: Basis
    source: str
    sense: Literal["deadline", "floor"] = "deadline"

    def word(self, now: datetime) -> Word:
        """Return in one word how the clock stands; at the limit itself a deadline is still kept."""
        if self.sense == "floor":
            return "reached" if elapsed_s(self.limit_at, now) >= 0 else "running"
        if elapsed_s(self.limit_at, now) > 0:
            return "late"
        return "soon" if elapsed_s(self.soon_at, now) >= 0 else "in time"

    def left_s(self, now: datetime) -> float:
        """Return the real seconds to the limit; negative once it is passed."""
        return elapsed_s(now, self.limit_at)


def delay(model: EndoscopeModel, policy: Policy, end_of_use: datetime) -> Clock:
    """Return the clock from the end of use to the start of cleaning."""
    limit = deciding(targets_for(model, policy, "delay"), "duration", "ceiling")
    if limit is None:
        raise Refusal("no-delay-limit", "Neither the IFU nor the policy states a delay limit.", "delay")
    soon_s = min(policy.delay.soon_min * 60, limit.value * _SOON_SHARE)
    return _deadline("delay since the end of use", end_of_use, limit, limit.value, soon_s)


def contact(started_at: datetime, floor: Target) -> Clock:
    """Return the clock of a timed step that must last at least `floor` (in s): contact, flush, drying and others."""
    limit = after(started_at, floor.value)
    return Clock(
        name=f"{floor.step} time", started_at=utc(started_at), limit_at=limit, soon_at=limit, basis=floor.basis,
        source=floor.source, sense="floor",
    )  # fmt: skip


def hang(model: EndoscopeModel, policy: Policy, cabinet: Cabinet, dried_at: datetime) -> Clock | None:
    """Return the clock from the end of drying to the end of hang time, or None where nobody states a limit.

    The cabinet's own proven limit is a ceiling beside the policy's: the shorter decides.
    """
    limit = deciding(targets_for(model, policy, "hang", label=cabinet), "life", "ceiling")
    return None if limit is None else _life("hang time", dried_at, limit)


def connector_set(
    model: EndoscopeModel, policy: Policy, kind: ConnectorSet, first_use_at: datetime
) -> Clock | None:
    """Return the clock of a connector set from its first use, or None where nobody states its life."""
    limit = deciding(targets_for(model, policy, "connector-set", label=kind), "life", "ceiling")
    return None if limit is None else _life("connector set", first_use_at, limit)


def reuse(label: Disinfectant, poured_at: datetime) -> Clock | None:
    """Return the clock of a charge's reuse life from pouring, or None where the label states none."""
    if label.reuse_d is None:
        return None
    limit = Target(
        step="charge", quantity="life", bound="ceiling", value=label.reuse_d * 24, unit="h", basis="label",
        source=label.on_label,
    )  # fmt: skip
    return _life("reuse life of the charge", poured_at, limit)


def expiry(expires: date, opened_at: datetime, zone: tzinfo, source: str = "the lot's own label") -> Clock:
    """Return the clock of a printed expiry date: usable to the end of that day on the house's wall clock."""
    end = utc(datetime.combine(expires + timedelta(days=1), time(0), tzinfo=zone))
    soon = end - timedelta(days=7)
    return Clock(
        name="expiry", started_at=utc(opened_at), limit_at=end, soon_at=soon, basis="label", source=source
    )


def strips(label: TestStrip, expires: date, opened_at: datetime, zone: tzinfo) -> Clock:
    """Return the clock of opened test strips: their life after opening or the printed date, whichever ends first."""
    limit = Target(
        step="strips", quantity="life", bound="ceiling", value=label.open_d * 24, unit="h", basis="label",
        source=f"{label.name}, {label.page}",
    )  # fmt: skip
    return earliest([_life("test strips", opened_at, limit), expiry(expires, opened_at, zone)])


def earliest(clocks: Iterable[Clock]) -> Clock:
    """Return the clock that ends first."""
    return min(clocks, key=lambda clock: clock.limit_at)


def _life(name: str, started_at: datetime, limit: Target) -> Clock:
    seconds = limit.value * 3600
    return _deadline(name, started_at, limit, seconds, max(seconds * _SOON_SHARE, seconds - 86400))


def _deadline(name: str, started_at: datetime, limit: Target, seconds: float, soon_s: float) -> Clock:
    return Clock(
        name=name, started_at=utc(started_at), limit_at=after(started_at, seconds),
        soon_at=after(started_at, soon_s), basis=limit.basis, source=limit.source,
    )  # fmt: skip
