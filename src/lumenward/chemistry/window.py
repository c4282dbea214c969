"""How long a logged value was inside its window, provably: with a guard band, and gaps counted as unknown."""

from __future__ import annotations

from dataclasses import dataclass

from lumenward.chemistry.logs import Log, Segment, segments
from lumenward.quantities import Refusal, require_between


@dataclass(frozen=True)
class TimeInWindow:
    """Seconds inside, outside, unknown; the longest unbroken stay inside; the stays as (from, to)."""

    in_s: float
    out_s: float
    unknown_s: float
    longest_in_s: float
    stays: tuple[tuple[float, float], ...]


def time_in_window(
    log: Log, low: float, high: float, guard: float = 0.0, max_gap_s: float | None = None
) -> TimeInWindow:
    """Return the time for which low + guard ≤ x ≤ high − guard, with exact crossings of the straight lines.

    A step between readings longer than `max_gap_s` is unknown as a whole and ends a stay. The guard is the
    uncertainty of the reading: it, and not smoothing, keeps noise from counting as time inside. Raises Refusal
    `empty-window`, or what the log itself is refused for.

    >>> time_in_window([(0, 30), (300, 50), (600, 30)], 38, 43).in_s
    150.0
    """
    bottom, top = _inner_window(low, high, guard)
    if max_gap_s is not None:
        require_between(max_gap_s, 1e-3, 1e7, "max_gap_s", "The longest gap", "s")
    stays: list[tuple[float, float]] = []
    total = unknown = 0.0
    broken = True
    for line in segments(log):
        total += line.duration_s
        if max_gap_s is not None and line.duration_s > max_gap_s:
            unknown += line.duration_s
            broken = True
            continue
        broken = _extend(stays, _inside(line, bottom, top), line, broken)
    inside = sum(end - start for start, end in stays)
    longest = max((end - start for start, end in stays), default=0.0)
    kept = tuple(stay for stay in stays if stay[1] > stay[0])
    return TimeInWindow(inside, max(0.0, total - unknown - inside), unknown, longest, kept)


def _inner_window(low: float, high: float, guard: float) -> tuple[float, float]:
    require_between(guard, 0, 1e9, "guard", "A guard band")
    bottom, top = low + guard, high - guard
    if not bottom < top:
        raise Refusal(
            "empty-window",
            f"From {low:g} to {high:g} with a guard of {guard:g} nothing is left inside.",
            "guard" if low < high else "low",
            "Low must lie below high by more than twice the guard.",
        )
    return bottom, top


def _inside(line: Segment, bottom: float, top: float) -> tuple[float, float] | None:
    """Return the time span of the line inside the window, None where there is none."""
    change = line.x2 - line.x1
    if change == 0:
        return (line.t1, line.t2) if bottom <= line.x1 <= top else None
    a, b = sorted(((bottom - line.x1) / change, (top - line.x1) / change))
    start, end = max(a, 0.0), min(b, 1.0)
    if start > end:
        return None
    at_end = line.t2 if end == 1.0 else line.t1 + end * line.duration_s
    return line.t1 + start * line.duration_s, at_end


def _extend(
    stays: list[tuple[float, float]], span: tuple[float, float] | None, line: Segment, broken: bool
) -> bool:
    """Add a line's span to the stays; return whether the stay is broken at the line's end."""
    if span is None:
        return True
    if not broken and stays and stays[-1][1] == span[0] == line.t1:
        stays[-1] = (stays[-1][0], span[1])
    else:
        stays.append(span)
    return span[1] != line.t2
