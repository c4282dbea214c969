"""The invented channel networks: five families, on an invented pump or on a steady pressure."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from lumenward.hydraulics.network import Fluid, Network, Node, Pump, Tube
from lumenward.quantities import Refusal, to_si

FAMILIES = ("colonoscope", "gastroscope", "duodenoscope", "bronchoscope", "echoendoscope")


@cache
def _figures() -> dict[str, Any]:
    text = files("lumenward.demo").joinpath("geometry.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def load_family(
    name: str,
    *,
    pressure_pa: float | None = None,
    temperature_c: float = 35.0,
    friction: str = "epanet",
    wires: bool = True,
) -> Network:
    """Return hose, connector tubes with clamps, and channels of one family, filled with water.

    Fed by the invented pump, or by a steady `pressure_pa` at the pump's node "P" when given. Without `wires` the
    wire channels are plain bores. Raises Refusal `unknown-family`.

    >>> len(load_family("gastroscope").tubes)
    13
    """
    if name not in FAMILIES:
        raise Refusal(
            "unknown-family", f"There is no family {name!r}.", "name", "One of: " + ", ".join(FAMILIES)
        )
    figures = _figures()
    channels = figures[name]["tubes"]
    tubes = [_tube({"id": "hose", **figures["hose"]}, wires)]
    tubes += [_connector(node) for node in _port_nodes(channels)]
    tubes += [_tube(channel, wires) for channel in channels]
    free = dict.fromkeys(end for tube in tubes for end in (tube.from_node, tube.to_node))
    fixed = {"out": 0.0, "P": pressure_pa}
    nodes = tuple(Node(node, fixed.get(node)) for node in free)
    pump = _pump() if pressure_pa is None else None
    return Network(Fluid.water(temperature_c), nodes, tuple(tubes), pump, friction)


def port_ids(name: str) -> tuple[str, ...]:
    """Return the ids of the family's connector tubes, which carry the clamps.

    >>> port_ids("bronchoscope")
    ('port-suction', 'port-biopsy')
    """
    return tuple(tube.id for tube in load_family(name).tubes if tube.id.startswith("port-"))


def channel_ids(name: str) -> tuple[str, ...]:
    """Return the ids of the family's channels, from port to tip.

    >>> channel_ids("bronchoscope")
    ('suction-cord', 'biopsy-stub', 'biopsy-distal')
    """
    return tuple(channel["id"] for channel in _figures()[name]["tubes"])


def _port_nodes(channels: list[dict[str, Any]]) -> list[str]:
    return [channel["from"] for channel in channels if channel["from"] in _figures()["connectors"]]


def _connector(node: str) -> Tube:
    figures = dict(_figures()["connectors"][node])
    return _tube({"id": "port-" + figures.pop("name"), "from": "M", "to": node, **figures}, True)


def _tube(figures: dict[str, Any], wires: bool) -> Tube:
    return Tube(
        figures["id"],
        figures["from"],
        figures["to"],
        length_m=figures["length_m"],
        bore_m=to_si(figures["bore_mm"], "mm"),
        wire_m=to_si(figures.get("wire_mm", 0.0), "mm") if wires else 0.0,
        eccentricity=figures.get("eccentricity", 0.0) if wires else 0.0,
        roughness_m=to_si(_figures()["roughness"]["all_um"], "µm"),
        minor_loss=figures["minor_loss"],
    )


def _pump() -> Pump:
    figures = _figures()["pump"]
    flow = to_si(figures["flow_ml_min"], "mL/min")
    return Pump("P", flow, flow * figures["slip_per_100_kpa"] / 1e5, to_si(figures["relief_kpa"], "kPa"))
