"""What flows in each tube and channel, what the cups should catch, how long ten volumes take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lumenward.equipment.endoscope import Channel, EndoscopeModel
from lumenward.hydraulics.assemble import (
    MANIFOLD,
    assemble,
    channel_flows_m3_s,
    channel_volumes_m3,
    port_tube,
)
from lumenward.hydraulics.flows import Flow
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.outflow import Expected, expected_outflow
from lumenward.hydraulics.solver import solve
from lumenward.quantities import from_si
from lumenward.screens.channels.question import Question

STARVING_SHARE = 1 / 3
"""Below this share of what it gets alone a channel is marked: common practice, no source."""

VOLUMES = 10.0
"""Channel volumes in which the settings are compared: common practice, no source."""

CUP_S = 10.0
_STILL_ML_MIN = 0.05
State = Literal["runs", "starving", "rest", "shut"]


@dataclass(frozen=True)
class TubeFigure:
    """One tube: its bore for the line's thickness, its flow for colour and figure."""

    id: str
    from_node: str
    to_node: str
    length_m: float
    bore_mm: float
    wire_mm: float
    ml_min: float
    state: State


@dataclass(frozen=True)
class ChannelFigure:
    """One channel in this setting and with its port alone open."""

    id: str
    name: str
    port: str
    port_name: str
    narrowest_mm: float
    volume_ml: float
    ml_min: float
    alone_ml_min: float
    state: State
    kpa: float
    limit_kpa: float | None
    limit_page: str

    @property
    def share(self) -> float:
        """Return the flow as a share of that with its port alone open."""
        return self.ml_min / self.alone_ml_min if self.alone_ml_min > 0 else 0.0

    @property
    def seconds(self) -> float:
        """Return how long `VOLUMES` volumes take in this setting; infinite where nothing flows."""
        return _seconds(self.volume_ml, self.ml_min)

    @property
    def alone_seconds(self) -> float:
        """Return how long they take with the port alone open."""
        return _seconds(self.volume_ml, self.alone_ml_min)

    @property
    def over(self) -> bool:
        """Return whether the pressure at the port is above what the IFU allows this channel."""
        return self.limit_kpa is not None and self.state != "shut" and self.kpa > self.limit_kpa


@dataclass(frozen=True)
class Cup:
    """One line of the outflow card."""

    outlet: str
    name: str
    ml: float
    least_ml: float
    most_ml: float
    look_ml: float

    @property
    def ranged(self) -> bool:
        """Return whether the place of a wire spreads the figure noticeably."""
        return self.most_ml - self.least_ml > 0.02 * self.most_ml


@dataclass(frozen=True)
class Figures:
    """Everything the map shows for one question."""

    tubes: tuple[TubeFigure, ...]
    channels: tuple[ChannelFigure, ...]
    cups: tuple[Cup, ...]
    pump_ml_min: float
    manifold_kpa: float
    all_open_s: float
    one_at_a_time_s: float
    unsure: tuple[str, ...]

    @property
    def starving(self) -> tuple[ChannelFigure, ...]:
        """Return the channels that get too little."""
        return tuple(one for one in self.channels if one.state == "starving")

    @property
    def over(self) -> tuple[ChannelFigure, ...]:
        """Return the channels whose pressure is above their limit."""
        return tuple(one for one in self.channels if one.over)


def work_out(question: Question) -> Figures:
    """Return the figures; raise what the hydraulics refuse."""
    model, clamps = question.model, question.clamps
    network = assemble(model, question.kind, question.pump, question.temperature_c)
    ports = [port_tube(port) for port in clamps]
    opened = [port_tube(port) for port in clamps if port not in question.shut]
    flow = solve(network.with_ports(ports, opened))
    alone = {port: _alone(model, network, ports, port) for port in {one.port for one in model.channels}}
    together = solve(network)
    channels = _channels(question, flow, alone)
    volumes = {one.id: one.volume_ml for one in channels}
    return Figures(
        tubes=_tubes(question, flow, channels),
        channels=channels,
        cups=_cups(model, expected_outflow(network, ports, CUP_S, [opened])),
        pump_ml_min=from_si(flow.delivered, "mL/min"),
        manifold_kpa=flow.at(MANIFOLD) / 1000,
        all_open_s=_longest(volumes, _in_ml_min(channel_flows_m3_s(model, together)), volumes),
        one_at_a_time_s=_in_turn(channels),
        unsure=_unsure(model, flow),
    )


def _unsure(model: EndoscopeModel, flow: Flow) -> tuple[str, ...]:
    """Return the channels with a stretch between laminar and turbulent, where friction is known to about 10 %."""
    between = {
        tube.id for tube, re in zip(flow.network.tubes, flow.reynolds, strict=True) if 2000 < re < 4000
    }
    return tuple(one.name.lower() for one in model.channels if between.intersection(one.tubes))


def _alone(model: EndoscopeModel, network: Network, ports: list[str], port: str) -> dict[str, float]:
    name = port_tube(port)
    opened = [name] if name in ports else []
    return _in_ml_min(channel_flows_m3_s(model, solve(network.with_ports(ports, opened))))


def _in_ml_min(flows: dict[str, float]) -> dict[str, float]:
    return {name: from_si(value, "mL/min") for name, value in flows.items()}


def _channels(
    question: Question, flow: Flow, alone: dict[str, dict[str, float]]
) -> tuple[ChannelFigure, ...]:
    model = question.model
    volumes = channel_volumes_m3(model)
    flows = _in_ml_min(channel_flows_m3_s(model, flow))
    ports = {port.id: port for port in model.ports}
    bores = {tube.id: tube.bore_mm for tube in model.tubes}
    return tuple(
        ChannelFigure(
            id=one.id, name=one.name, port=one.port, port_name=ports[one.port].name,
            narrowest_mm=min(bores[name] for name in one.tubes), volume_ml=volumes[one.id] * 1e6,
            ml_min=flows[one.id], alone_ml_min=alone[one.port][one.id],
            state=_state(one, question, flows[one.id], alone[one.port][one.id]),
            kpa=_kpa(flow, ports[one.port].node), limit_kpa=one.max_pressure_kpa,
            limit_page=one.pressure_page or "",
        )
        for one in model.channels
    )  # fmt: skip


def _kpa(flow: Flow, node: str) -> float:
    found = flow.at(node) / 1000
    return 0.0 if math.isnan(found) else found


def _state(channel: Channel, question: Question, ml_min: float, alone: float) -> State:
    if channel.port in question.shut:
        return "shut"
    if ml_min < _STILL_ML_MIN and alone < _STILL_ML_MIN:
        return "rest"
    return "starving" if ml_min < STARVING_SHARE * alone else "runs"


def _tubes(question: Question, flow: Flow, channels: tuple[ChannelFigure, ...]) -> tuple[TubeFigure, ...]:
    states: dict[str, set[State]] = {}
    for figure, channel in zip(channels, question.model.channels, strict=True):
        for name in (port_tube(channel.port), *channel.tubes):
            states.setdefault(name, set()).add(figure.state)
    return tuple(
        TubeFigure(
            tube.id, tube.from_node, tube.to_node, tube.length_m, tube.bore_m * 1000, tube.wire_m * 1000,
            from_si(flow.of(tube.id), "mL/min"), _tube_state(flow.of(tube.id), states.get(tube.id, set())),
        )
        for tube in flow.network.tubes
    )  # fmt: skip


def _tube_state(flow_m3_s: float, states: set[State]) -> State:
    """A tube that any channel uses well runs; one that only starving channels use starves."""
    if abs(from_si(flow_m3_s, "mL/min")) < _STILL_ML_MIN:
        return "shut" if states == {"shut"} else "rest"
    return "starving" if "starving" in states and "runs" not in states else "runs"


def _cups(model: EndoscopeModel, card: tuple[Expected, ...]) -> tuple[Cup, ...]:
    return tuple(
        Cup(
            line.outlet, outlet_name(model, line.outlet), line.volume_ml, line.least_m3 * 1e6,
            line.most_m3 * 1e6, line.look_m3 * 1e6,
        )
        for line in card
    )  # fmt: skip


def outlet_name(model: EndoscopeModel, outlet: str) -> str:
    """Return an outlet by the channels that end in it: "air and water"."""
    names = [channel.name.lower() for channel in model.channels if channel.tubes[-1] == outlet]
    return " and ".join(names) if len(names) < 3 else ", ".join(names[:-1]) + " and " + names[-1]


def outlets(model: EndoscopeModel) -> list[str]:
    """Return the tubes that give into the open, in the order of the model."""
    return list(dict.fromkeys(channel.tubes[-1] for channel in model.channels))


def _seconds(volume_ml: float, ml_min: float) -> float:
    return VOLUMES * volume_ml / ml_min * 60 if ml_min >= _STILL_ML_MIN else math.inf


def _longest(volumes: dict[str, float], flows: dict[str, float], names: dict[str, float]) -> float:
    return max(_seconds(volumes[name], flows[name]) for name in names)


def _in_turn(channels: tuple[ChannelFigure, ...]) -> float:
    """Return the sum over the ports, each held open alone until its channels have had their volumes."""
    longest: dict[str, float] = {}
    for one in channels:
        longest[one.port] = max(longest.get(one.port, 0.0), one.alone_seconds)
    return sum(longest.values())
