"""The outside: ports, valves, tip, the recess of an elevator; and the least time of manual cleaning."""

from __future__ import annotations

from lumenward.equipment.fittings import Detergent
from lumenward.journey.plan import PlannedStep, Timer
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the cleaning of the outside, timed since the endoscope went under the detergent."""
    labels: list[Detergent | None] = [*bench.poured]
    floors = [bench.deciding("clean", "duration", "floor", label=one) for one in labels or [None]]
    least = max((floor.value for floor in floors if floor), default=0.0)
    ticks = [words.tick("parts_dismantled", "Every removable part is off and cleaned apart", record=True)]
    if bench.has_elevator:
        ticks.append(
            words.tick("elevator_both_positions", "Elevator recess brushed, raised and lowered", record=True)
        )
    return [
        PlannedStep(
            key="exterior",
            group="Exterior",
            title="Clean the outside",
            say=_say(bench),
            cautions=[words.SPLASH],
            targets=list(
                dict.fromkeys(t for one in labels or [None] for t in bench.targets("clean", label=one))
            ),
            entries=ticks,
            timer=Timer(
                floor_s=least,
                recorded=False,
                start="It is under the detergent",
                running="Manual cleaning, since it went under the detergent",
                ends="Long enough: go on when it is clean",
                since="cleaning_started",
            ),
            kind="exterior_cleaned",
            confirm="The outside is clean",
            troubles=[words.damaged("exterior")],
        )
    ]


def _say(bench: Bench) -> list[str]:
    lines = [
        "Cloth from the control body down to the tip.",
        "Soft brush on ports, valves, knobs and the tip.",
    ]
    if bench.has_elevator:
        lines.append("Brush the recess with the elevator up, then with it down.")
    return lines
