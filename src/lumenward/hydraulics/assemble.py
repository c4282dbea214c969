"""From the library to a network: one endoscope on its connector set, at one pump, in water of one temperature.

    assemble(model, connector_set, pump, temperature_c, clamped=()) -> Network
    channel_flows_m3_s(model, solve(network)) -> {channel: m3/s}
    channel_volumes_m3(model) -> {channel: m3}

The pump feeds node "P"; its hose leads to the manifold "M"; from there a connector tube "port-…" leads to each port;
the distal end "out" is open to the room. A port without a connector tube counts as capped.
"""

from __future__ import annotations

import math
from collections.abc import Collection

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.endoscope import Tube as ModelTube
from lumenward.equipment.fittings import ConnectorSet
from lumenward.equipment.fittings import Pump as FlushingPump
from lumenward.hydraulics.flows import Flow
from lumenward.hydraulics.network import Fluid, Network, Node, Pump, Tube
from lumenward.quantities import Refusal, to_si

SOURCE, MANIFOLD, OUT = "P", "M", "out"


def port_tube(port_id: str) -> str:
    """Return the id of the connector tube that leads to a port.

    >>> port_tube("biopsy")
    'port-biopsy'
    """
    return f"port-{port_id}"


def assemble(
    model: EndoscopeModel,
    connector_set: ConnectorSet,
    pump: FlushingPump,
    temperature_c: float,
    clamped: Collection[str] = (),
    friction: str = "epanet",
) -> Network:
    """Return the network of `model` on `connector_set` at `pump`, with the clamps of the ports `clamped` closed.

    `temperature_c` of the water, above 0 and below 100. Steady flow only; the endoscope straight and level, the
    tip and the fluid's surface at one height. Raises Refusal `does-not-fit`, `no-channels`, `unknown-port`,
    `no-clamp`, and those of the network.
    """
    _check(model, connector_set, clamped)
    nodes = {port.id: port.node for port in model.ports}
    tubes = [_hose(pump)]
    for one in connector_set.tubes:
        tubes.append(
            Tube(
                port_tube(one.port),
                MANIFOLD,
                nodes[one.port],
                length_m=one.length_m,
                bore_m=to_si(one.bore_mm, "mm"),
                minor_loss=one.minor_loss,
                open=one.port not in clamped,
            )
        )
    tubes += [_channel_tube(one) for one in model.tubes]
    found = dict.fromkeys(end for tube in tubes for end in (tube.from_node, tube.to_node))
    ends = tuple(Node(node, 0.0 if node == OUT else None) for node in found)
    return Network(Fluid.water(temperature_c), ends, tuple(tubes), _pump(pump), friction)


def channel_volumes_m3(model: EndoscopeModel) -> dict[str, float]:
    """Return what each channel holds, m3; a stretch that two channels share counts in both.

    A wire takes its room away: the volume is the annulus times the length.
    """
    volumes = {tube.id: _channel_tube(tube).volume_m3 for tube in model.tubes}
    return {channel.id: math.fsum(volumes[name] for name in channel.tubes) for channel in model.channels}


def channel_flows_m3_s(model: EndoscopeModel, flow: Flow) -> dict[str, float]:
    """Return the flow that passes the whole of each channel, m3/s: the least of those in its tubes.

    A channel whose clamp is closed has none, even where another channel feeds a stretch that they share.
    """
    return {channel.id: min(abs(flow.of(name)) for name in channel.tubes) for channel in model.channels}


def _check(model: EndoscopeModel, connector_set: ConnectorSet, clamped: Collection[str]) -> None:
    if not model.channels:
        raise Refusal("no-channels", f"{model.name} has no channel to flush.", "model", "Skip the flush.")
    if model.id not in connector_set.fits:
        raise Refusal(
            "does-not-fit",
            f"{connector_set.name} does not fit {model.name}.",
            "connector_set",
            f"It fits {', '.join(connector_set.fits)}.",
        )
    clamps = {tube.port: tube.clamp for tube in connector_set.tubes}
    for port in clamped:
        if port not in clamps:
            hint = f"Ports with a tube: {', '.join(clamps)}."
            raise Refusal("unknown-port", f"{connector_set.name} has no tube to {port!r}.", "clamped", hint)
        if not clamps[port]:
            raise Refusal(
                "no-clamp",
                f"The tube to {port!r} has no clamp.",
                "clamped",
                "It stays open, or is taken off.",
            )


def _hose(pump: FlushingPump) -> Tube:
    return Tube(
        "hose",
        SOURCE,
        MANIFOLD,
        length_m=pump.hose_length_m,
        bore_m=to_si(pump.hose_bore_mm, "mm"),
        minor_loss=pump.hose_minor_loss,
    )


def _channel_tube(one: ModelTube) -> Tube:
    return Tube(
        one.id,
        one.from_,
        one.to,
        length_m=one.length_m,
        bore_m=to_si(one.bore_mm, "mm"),
        wire_m=to_si(one.wire_mm, "mm"),
        eccentricity=one.eccentricity,
        minor_loss=one.minor_loss,
    )


def _pump(pump: FlushingPump) -> Pump:
    flow = to_si(pump.flow_ml_min, "mL/min")
    slip = flow * pump.slip_fraction_per_100_kpa / 1e5
    return Pump(SOURCE, flow, slip, to_si(pump.relief_kpa, "kPa"))
