"""Logs of readings (seconds, value), straight lines between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lumenward.quantities import Refusal, require_between

Log = Sequence[Sequence[float]]

# Seconds since 1970 fit; milliseconds do not, and are answered with the slip of units.
_FARTHEST_S = 1e11
_LARGEST = 1e12


@dataclass(frozen=True)
class Segment:
    """The straight line between two readings that follow each other."""

    t1: float
    x1: float
    t2: float
    x2: float

    @property
    def duration_s(self) -> float:
        """Length in time."""
        return self.t2 - self.t1


def segments(log: Log, field: str = "log") -> Iterator[Segment]:
    """Yield the lines between readings; refuse a log that has fewer than two or that does not run forward.

    Raises Refusal `too-short`, `bad-reading`, `not-finite`, `too-high` or `not-forward`, naming the reading.
    """
    if len(log) < 2:
        raise Refusal("too-short", f"{len(log)} readings make no log.", field, "Give at least two readings.")
    previous = _pair(log[0], f"{field}[0]")
    for index in range(1, len(log)):
        current = _pair(log[index], f"{field}[{index}]")
        if current[0] <= previous[0]:
            raise Refusal(
                "not-forward",
                f"Reading {index} is at {current[0]:g} s, not after the one before at {previous[0]:g} s.",
                f"{field}[{index}]",
                "Times must grow from reading to reading; split the log where a clock was set.",
            )
        yield Segment(*previous, *current)
        previous = current


def _pair(reading: Sequence[float], field: str) -> tuple[float, float]:
    if len(reading) != 2:
        raise Refusal("bad-reading", f"{field}: a reading is [seconds, value].", field, "Give two numbers.")
    time = require_between(reading[0], -_FARTHEST_S, _FARTHEST_S, field, "A time in a log", "s")
    return float(time), float(require_between(reading[1], -_LARGEST, _LARGEST, field, "A value in a log"))
