"""The order of a cycle: one builder a group of steps, in the order in which the work is done.

To add a step: write `steps/<name>.py` with `build(bench) -> list[PlannedStep]` and put it in its place here.
"""

from __future__ import annotations

from collections.abc import Callable

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.steps import (
    alcohol,
    aspirate,
    bedside,
    brush,
    clean,
    connect,
    delay,
    detergent,
    disconnect,
    dry,
    exterior,
    final_rinse,
    flush,
    hld_by_hand,
    hld_by_machine,
    inspect,
    leak_test,
    purge,
    receive,
    release,
    rinse,
    store,
    used,
    verify,
)

Builder = Callable[[Bench], list[PlannedStep]]

BUILDERS: tuple[Builder, ...] = (
    used.build,
    bedside.build,
    receive.build,
    delay.build,
    leak_test.build,
    detergent.build,
    clean.build,
    brush.build,
    exterior.build,
    connect.build,
    aspirate.build,
    flush.build,
    purge.after_flush,
    rinse.build,
    purge.after_rinse,
    disconnect.build,
    inspect.build,
    verify.build,
    hld_by_hand.build,
    hld_by_machine.build,
    final_rinse.build,
    alcohol.build,
    dry.build,
    store.build,
    release.build,
)


def steps_of(bench: Bench) -> list[PlannedStep]:
    """Return every step of the cycle in its order."""
    return [step for build in BUILDERS for step in build(bench)]
