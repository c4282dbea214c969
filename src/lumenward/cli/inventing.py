"""`lumenward demo`: the invented house."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from cyclopts import Parameter
from cyclopts.validators import Number

from lumenward.cli.shell import DONE, say, start_django
from lumenward.quantities import Refusal

Json = Annotated[bool, Parameter(name="--json", negative="")]


def load(
    *,
    seed: int = 1,
    days: Annotated[int, Parameter(validator=Number(gte=1, lte=400))] = 90,
    as_json: Json = False,
) -> int:
    """Load the invented house into an empty database. Loading it a second time changes nothing.

    Example: lumenward demo load --days 90

    Parameters
    ----------
    seed
        the same seed makes the same house.
    days
        how many days of history.
    """
    start_django()
    from lumenward.records.accounts import is_demo
    from lumenward.records.housekeeping import is_empty
    from lumenward.records.status import status

    fresh = not is_demo()
    if fresh and not is_empty():
        raise Refusal(
            "not-empty", "Something real is recorded here.", "", "Use another LUMENWARD_HOME for the demo."
        )
    if fresh:
        from lumenward import demo

        demo.load(seed, days, datetime.now(UTC))
    events = status()["events"]
    words = f"{events} events of {days} invented days are here." if fresh else "The demo is here already."
    say({"loaded": fresh, "events": events}, words, as_json)
    return DONE


def remove(*, yes: Annotated[bool, Parameter(negative="")] = False, as_json: Json = False) -> int:
    """Remove the invented house and everything recorded in it. A real house is never touched.

    Example: lumenward demo remove --yes

    Parameters
    ----------
    yes
        really remove it.
    """
    if not yes:
        raise Refusal(
            "not-confirmed", "Everything recorded in the demo would go.", "yes", "Add --yes to remove it."
        )
    start_django()
    from lumenward.records.housekeeping import empty_demo

    count = empty_demo(datetime.now(UTC))
    say({"removed": count}, f"{count} invented events removed; the house is empty.", as_json)
    return DONE
