"""What the right-hand side shows: the model's channels once for the plan, and for a step where to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.computed import expected, turns_of

CUPS = ("flush", "rinse")  # the steps in which fluid can be caught


def of(
    bench: Bench, channels: Sequence[str], *, connecting: bool = False, pumped: str = "", floor_s: float = 0.0
) -> dict[str, Any]:
    """Return a step's drawing: the channels to look at, the ports that are capped, the mL to expect in a cup.

    `pumped` names a pumped step of that floor. `expect` then holds one row an outlet, `{"outlet", "channels", "name",
    "seconds", "ml", "look_ml"}`, and `turns` the turns of the clamps, each with what it changes in the drawing (see
    `turns_of`) and its own `expect`. Computed for straight, clean channels with this pump and water; empty where
    nothing can be computed.
    """
    capped = [port.id for port in bench.model.ports if port.capped_for_flush]
    rows = expected(bench, pumped) if pumped in CUPS else []
    turns = turns_of(bench, pumped, floor_s) if pumped else []
    return {
        "show": "channels",
        "focus": list(channels),
        "capped": [] if connecting else capped,
        "connecting": connecting,
        "expect": [row for row in rows if row["turn"] == 1],
        "turns": [
            turn | {"expect": [row for row in rows if row["turn"] == place]}
            for place, turn in enumerate(turns, start=1)
        ],
    }


def channel_map(bench: Bench) -> dict[str, Any]:
    """Return the model as a map: ports, tubes with their bores, channels with the tubes they run through."""
    return {
        "ports": [port.model_dump() for port in bench.model.ports],
        "tubes": [tube.model_dump(by_alias=True) for tube in bench.model.tubes],
        "channels": [
            {
                "id": channel.id,
                "name": channel.name,
                "tubes": list(channel.tubes),
                "port": channel.port,
                "brush": channel.brush.code if channel.brush else "",
                "brush_mm": channel.brush.diameter_mm if channel.brush else None,
                "aspirates": channel.aspirates,
                "max_pressure_kpa": channel.max_pressure_kpa,
            }
            for channel in bench.model.channels
        ],
    }
