"""Delay and hang-time arithmetic over daylight-saving changes, against UTC arithmetic done by hand.

Changes in 2026 (tz database): London +0 -> +1 on 29 March at 01:00 UTC, back on 25 October at 01:00 UTC; New York
-5 -> -4 on 8 March at 07:00 UTC, back on 1 November at 06:00 UTC; Sydney +11 -> +10 on 4 April at 16:00 UTC, forward
on 3 October at 16:00 UTC.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from lumenward.equipment.fittings import Cabinet, Disinfectant
from lumenward.equipment.loader import load_library, load_policy
from lumenward.evidence import Check
from lumenward.journey import clocks

DEMO = Path(__file__).parents[2] / "src" / "lumenward" / "demo"
LONDON, NEW_YORK, SYDNEY = (
    ZoneInfo(name) for name in ("Europe/London", "America/New_York", "Australia/Sydney")
)
CLOSED = "closed form"
UTC_SUM = "UTC arithmetic by hand on the tz database's changes of 2026"


def wall(zone: ZoneInfo, text: str, fold: int = 0) -> datetime:
    """Return a wall-clock time of a zone; `fold` 1 is the second of two equal times in autumn."""
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold)


def elapsed(zone: ZoneInfo, start: str, end: str, fold: int = 0) -> float:
    return clocks.elapsed_s(wall(zone, start), wall(zone, end, fold))


def delay_word(zone: ZoneInfo, end_of_use: str, now: str, fold: int = 0) -> str:
    model = load_library(DEMO / "library").model("sanderling-28")
    clock = clocks.delay(model, load_policy(DEMO / "policy.toml"), wall(zone, end_of_use))
    return clock.word(wall(zone, now, fold))


def hang_until(zone: ZoneInfo, dried: str) -> str:
    library = load_library(DEMO / "library")
    cabinet = library.get("cabinets", "cabinet-1")
    assert isinstance(cabinet, Cabinet)
    clock = clocks.hang(
        library.model("sanderling-28"), load_policy(DEMO / "policy.toml"), cabinet, wall(zone, dried)
    )
    assert clock is not None
    return clock.limit_at.astimezone(zone).isoformat()


def reuse_until(zone: ZoneInfo, poured: str) -> str:
    label = load_library(DEMO / "library").get("disinfectants", "opa-055")
    assert isinstance(label, Disinfectant)
    clock = clocks.reuse(label, wall(zone, poured))
    assert clock is not None
    return clock.limit_at.astimezone(zone).isoformat()


def expiry_until(zone: ZoneInfo, day: date) -> str:
    opened = datetime(2026, 1, 1, tzinfo=UTC)
    return clocks.expiry(day, opened, zone).limit_at.isoformat()


def check(name: str, expected: object, ours: object, tolerance: float = 0.0) -> Check:
    assert callable(ours)
    return Check("clocks", name, expected, ours, tolerance, UTC_SUM, CLOSED)


CHECKS: list[Check] = [
    check(
        "London, spring: 00:30 to 02:30 on 29 March is one hour, 00:30Z to 01:30Z",
        3600.0,
        lambda: elapsed(LONDON, "2026-03-29T00:30", "2026-03-29T02:30"),
    ),
    check(
        "London, autumn: 00:30 to 01:30 (second) on 25 October is two hours, 23:30Z to 01:30Z",
        7200.0,
        lambda: elapsed(LONDON, "2026-10-25T00:30", "2026-10-25T01:30", fold=1),
    ),
    check(
        "New York, spring: 01:45 to 03:15 on 8 March is half an hour, 06:45Z to 07:15Z",
        1800.0,
        lambda: elapsed(NEW_YORK, "2026-03-08T01:45", "2026-03-08T03:15"),
    ),
    check(
        "New York, autumn: 01:10 to 01:10 (second) on 1 November is one hour, 05:10Z to 06:10Z",
        3600.0,
        lambda: elapsed(NEW_YORK, "2026-11-01T01:10", "2026-11-01T01:10", fold=1),
    ),
    check(
        "Sydney, autumn: 02:30 to 02:30 (second) on 5 April is one hour, 15:30Z to 16:30Z",
        3600.0,
        lambda: elapsed(SYDNEY, "2026-04-05T02:30", "2026-04-05T02:30", fold=1),
    ),
    check(
        "Sydney, spring: 01:50 to 03:05 on 4 October is a quarter of an hour, 15:50Z to 16:05Z",
        900.0,
        lambda: elapsed(SYDNEY, "2026-10-04T01:50", "2026-10-04T03:05"),
    ),
    check(
        "London, spring: 58 min after a use that ended at 00:15, the wall shows 02:13: not late",
        "soon",
        lambda: delay_word(LONDON, "2026-03-29T00:15", "2026-03-29T02:13"),
    ),
    check(
        "London, autumn: a use ended 00:50 BST; at 01:10 GMT 80 min have passed: late",
        "late",
        lambda: delay_word(LONDON, "2026-10-25T00:50", "2026-10-25T01:10", fold=1),
    ),
    check(
        "New York, autumn: a use ended 01:20 EDT; at 01:15 EST 55 min have passed: soon",
        "soon",
        lambda: delay_word(NEW_YORK, "2026-11-01T01:20", "2026-11-01T01:15", fold=1),
    ),
    check(
        "Sydney, spring: a use ended 01:30; at 03:31 61 min have passed: late",
        "late",
        lambda: delay_word(SYDNEY, "2026-10-04T01:30", "2026-10-04T03:31"),
    ),
    check(
        "London, spring: dried 27 March 09:00, 168 h later it is 10:00 on 3 April",
        "2026-04-03T10:00:00+01:00",
        lambda: hang_until(LONDON, "2026-03-27T09:00"),
    ),
    check(
        "New York, autumn: dried 30 October 09:00 EDT, 168 h later it is 08:00 EST on 6 November",
        "2026-11-06T08:00:00-05:00",
        lambda: hang_until(NEW_YORK, "2026-10-30T09:00"),
    ),
    check(
        "Sydney, autumn: dried 3 April 09:00 (+11), 168 h later it is 08:00 (+10) on 10 April",
        "2026-04-10T08:00:00+10:00",
        lambda: hang_until(SYDNEY, "2026-04-03T09:00"),
    ),
    check(
        "London, autumn: poured 20 October 12:00 BST, 14 days of 24 h end 3 November 11:00 GMT",
        "2026-11-03T11:00:00+00:00",
        lambda: reuse_until(LONDON, "2026-10-20T12:00"),
    ),
    check(
        "London: a lot printed 29 March ends at the end of that day of 23 hours, 23:00Z",
        "2026-03-29T23:00:00+00:00",
        lambda: expiry_until(LONDON, date(2026, 3, 29)),
    ),
    check(
        "Sydney: a lot printed 5 April ends at the end of that day of 25 hours, 14:00Z",
        "2026-04-05T14:00:00+00:00",
        lambda: expiry_until(SYDNEY, date(2026, 4, 5)),
    ),
    check(
        "Leap day 2028: 28 February 12:00Z plus 48 h is 1 March 12:00Z",
        "2028-03-01T12:00:00+00:00",
        lambda: clocks.after(datetime(2028, 2, 28, 12, tzinfo=UTC), 48 * 3600).isoformat(),
    ),
]


@pytest.mark.parametrize("one", CHECKS, ids=str)
def test_clocks_agree_with_arithmetic_in_utc(one: Check) -> None:
    one.assert_holds()


def test_wall_clock_arithmetic_would_have_been_wrong() -> None:
    naive = wall(LONDON, "2026-03-29T02:30") - wall(LONDON, "2026-03-29T00:30")
    assert naive == timedelta(hours=2)
