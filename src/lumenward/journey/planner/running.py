"""The clocks of a cycle that are running now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lumenward.journey import clocks
from lumenward.journey.planner.bench import Bench


def clocks_of(bench: Bench) -> list[dict[str, Any]]:
    """Return the running clocks as data, the one that ends first at the front; `word` is how each stands now."""
    found = sorted(_running(bench), key=lambda clock: clock.limit_at)
    return [clock.model_dump(mode="json") | {"word": clock.word(bench.now)} for clock in found]


def _running(bench: Bench) -> Iterator[clocks.Clock]:
    cycle = bench.cycle
    if cycle is None:
        return
    if bench.endoscope.end_of_use and cycle.time_known and cycle.cleaning_started_at is None:
        yield clocks.delay(bench.model, bench.policy, bench.endoscope.end_of_use)
    yield from _connector_set(bench)
    yield from _hang(bench)


def _connector_set(bench: Bench) -> Iterator[clocks.Clock]:
    kinds = {kind.id: kind for kind in bench.library.connector_sets}
    for one in bench.world.connector_sets():
        if bench.cycle and one.on == bench.cycle.id and one.first_use_at and one.kind in kinds:
            clock = clocks.connector_set(bench.model, bench.policy, kinds[one.kind], one.first_use_at)
            if clock:
                yield clock


def _hang(bench: Bench) -> Iterator[clocks.Clock]:
    cycle = bench.cycle
    cabinet = next((one for one in bench.library.cabinets if cycle and one.id == cycle.cabinet), None)
    if cycle and cabinet and cycle.dried_at and cycle.stored_at:
        clock = clocks.hang(bench.model, bench.policy, cabinet, cycle.dried_at)
        if clock:
            yield clock
