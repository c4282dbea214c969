"""What the right-hand side shows: the model's channels once for the plan, and for a step where to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.computed import expected


def of(
    bench: Bench, channels: Sequence[str], *, connecting: bool = False, flowing: str = ""
) -> dict[str, Any]:
    """Return a step's drawing: the channels to look at, the ports that are capped, the mL to expect in a cup.

    `flowing` names the pumped step. `expect` holds one row an outlet and turn of the clamps, `{"turn", "outlet",
    "channels", "name", "seconds", "ml", "look_ml"}`, computed for straight, clean channels with this pump and water;
    it is empty where nothing can be computed.
    """
    capped = [port.id for port in bench.model.ports if port.capped_for_flush]
    return {
        "show": "channels",
        "focus": list(channels),
        "capped": [] if connecting else capped,
        "connecting": connecting,
        "expect": expected(bench, flowing) if flowing else [],
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
