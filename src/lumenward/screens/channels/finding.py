"""What the cups caught and the gauge showed, setting by setting, and what that says about faults."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict

from lumenward import calculations
from lumenward.hydraulics.assemble import assemble, port_tube
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.outflow import expected_outflow
from lumenward.quantities import Refusal, parse_in
from lumenward.screens.channels.figures import CUP_S, outlet_name, outlets
from lumenward.screens.channels.plans import listed
from lumenward.screens.channels.question import Question

WORTH_SAYING = 0.005
MOST_CLASSES = 8
MOST_MEMBERS = 5


@dataclass(frozen=True)
class Cell:
    """One reading: where it is typed, what was typed, what is expected."""

    name: str
    label: str
    text: str
    expected: str
    error: str = ""


@dataclass(frozen=True)
class Row:
    """One setting of the clamps with its readings."""

    say: str
    opened: tuple[str, ...]
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Class:
    """Faults that the readings cannot tell apart, in words."""

    say: str
    probability: float


@dataclass
class Finding:
    """The table of readings and, once there are any, the classes of faults."""

    heads: list[str]
    rows: list[Row]
    errors: dict[str, str] = field(default_factory=dict)
    classes: list[Class] = field(default_factory=list)
    others: float = 0.0
    advice: str = ""
    words: str = ""
    refusal: str = ""


def look_for(question: Question, asked: QueryDict) -> Finding:
    """Return the readings as typed and what they say; nothing typed, nothing said."""
    settings = _settings(question)
    network = assemble(question.model, question.kind, question.pump, question.temperature_c)
    found = Finding(_heads(question), [])
    readings = []
    for number, opened in enumerate(settings):
        row, reading = _row(question, network, number, opened, asked)
        found.rows.append(row)
        found.errors |= {cell.name: cell.error for cell in row.cells if cell.error}
        if reading:
            readings.append({"open": [port_tube(port) for port in opened], **reading})
    if readings and not found.errors:
        _diagnose(question, network, readings, found)
    return found


def _settings(question: Question) -> list[tuple[str, ...]]:
    return [question.clamps, *((port,) for port in question.clamps if len(question.clamps) > 1)]


def _heads(question: Question) -> list[str]:
    cups = [f"cup at {outlet_name(question.model, one)}, mL" for one in outlets(question.model)]
    return ["pressure at the manifold, kPa", f"total in {CUP_S:g} s, mL", *cups]


def _row(
    question: Question, network: Network, number: int, opened: tuple[str, ...], asked: QueryDict
) -> tuple[Row, dict[str, Any]]:
    names = {port.id: port.name.lower() for port in question.model.ports}
    say = "all clamps open" if opened == question.clamps else f"{listed([names[p] for p in opened])} alone"
    ports = [port_tube(port) for port in question.clamps]
    card = expected_outflow(network, ports, CUP_S, [[port_tube(p) for p in opened]])
    expects = {line.outlet: line.volume_ml for line in card}
    cells = [
        _cell(asked, f"r{number}.kpa", f"pressure, {say}", ""),
        _cell(asked, f"r{number}.total", f"total, {say}", ""),
    ]
    cells += [
        _cell(
            asked,
            f"r{number}.{one}",
            f"{outlet_name(question.model, one)}, {say}",
            _ml(expects.get(one, 0.0)),
        )
        for one in outlets(question.model)
    ]
    return Row(say, opened, tuple(cells)), _reading(question, number, cells)


def _ml(value: float) -> str:
    return "none" if value < 0.005 else f"{value:.0f}" if value >= 20 else f"{value:.2g}"


def _cell(asked: QueryDict, name: str, label: str, expected: str) -> Cell:
    text = asked.get(name, "")[:60]
    unit = "kPa" if name.endswith(".kpa") else "mL"
    if not text.strip():
        return Cell(name, label, text, expected)
    try:
        if parse_in(text, unit, name) < 0:
            raise Refusal("too-low", "A reading is zero or more.", name)
    except Refusal as refusal:
        return Cell(name, label, text, expected, f"{refusal.message} {refusal.hint}".strip())
    return Cell(name, label, text, expected)


def _reading(question: Question, number: int, cells: list[Cell]) -> dict[str, Any]:
    typed = {
        cell.name.removeprefix(f"r{number}."): parse_in(
            cell.text, "kPa" if cell.name.endswith(".kpa") else "mL"
        )
        for cell in cells
        if cell.text.strip() and not cell.error
    }
    reading: dict[str, Any] = {}
    if "kpa" in typed:
        reading["pressure_pa"] = typed.pop("kpa") * 1000
    if "total" in typed:
        reading["flow_m3_s"] = typed.pop("total") * 1e-6 / CUP_S
    if typed:
        reading["outflow_m3_s"] = {outlet: ml * 1e-6 / CUP_S for outlet, ml in typed.items()}
    return reading


def network_case(network: Network) -> dict[str, Any]:
    """Return a network as the input of the calculation `flow`."""
    pump = network.pump
    return {
        "fluid": {"density_kg_m3": network.fluid.density_kg_m3, "viscosity_pa_s": network.fluid.viscosity_pa_s},
        "friction": network.friction,
        "nodes": [
            {"id": node.id} | ({} if node.pressure_pa is None else {"pressure_pa": node.pressure_pa})
            for node in network.nodes
        ],
        "tubes": [
            {
                "id": tube.id, "from": tube.from_node, "to": tube.to_node, "length_m": tube.length_m,
                "bore_m": tube.bore_m, "wire_m": tube.wire_m, "eccentricity": tube.eccentricity,
                "roughness_m": tube.roughness_m, "minor_loss": tube.minor_loss, "open": tube.open,
            }
            for tube in network.tubes
        ],
        "pump": None
        if pump is None
        else {
            "node": pump.node, "flow_m3_s": pump.flow_m3_s, "slip_m3_s_pa": pump.slip_m3_s_pa,
            "relief_pa": pump.relief_pa,
        },
    }  # fmt: skip


def _diagnose(question: Question, network: Network, readings: list[dict[str, Any]], found: Finding) -> None:
    case = {
        "network": network_case(network),
        "ports": [port_tube(port) for port in question.clamps],
        "readings": readings,
    }
    try:
        result = calculations.run("diagnose", case)
    except Refusal as refusal:
        found.refusal = f"{refusal.message} {refusal.hint}".strip()
        return
    shown = [one for one in result["classes"] if one["probability"] >= WORTH_SAYING][:MOST_CLASSES]
    found.classes = [Class(members_in_words(question, one["members"]), one["probability"]) for one in shown]
    found.others = max(0.0, 1.0 - sum(one.probability for one in found.classes))
    found.advice = named(question, result["advice"])
    found.words = named(question, result["words"])


def members_in_words(question: Question, members: list[str]) -> str:
    """Return faults as a person names them, parted by "or"."""
    said = [" and ".join(_fault(question, one) for one in member.split("+")) for member in members]
    more = len(said) - MOST_MEMBERS
    shown = said if more <= 0 else [*said[:MOST_MEMBERS], f"one of {more} more"]
    return "; or ".join(shown)


def _fault(question: Question, fault: str) -> str:
    kind, _, place = fault.strip().partition(":")
    if kind == "ok":
        return "nothing wrong"
    where = place_names(question).get(place, place.replace("-", " "))
    return {
        "block": f"{where} blocked", "partial": f"{where} partly blocked", "disconnected": f"tube off the {where}",
    }.get(kind, fault)  # fmt: skip


def place_names(question: Question) -> dict[str, str]:
    """Return every tube by the name a person gives it: a channel's own stretch, a port, or where channels share."""
    names: dict[str, str] = {}
    for tube in question.model.tubes:
        through = [one.name.lower() for one in question.model.channels if tube.id in one.tubes]
        own = [one.name.lower() for one in question.model.channels if one.tubes[0] == tube.id]
        alone = len(through) == 1 and len(own) == 1
        names[tube.id] = f"{own[0]} channel" if alone else f"{tube.id.replace('-', ' ')} ({listed(through)})"
    ports = {port.id: port.name.lower() for port in question.model.ports}
    names |= {port_tube(port): ports[port] for port in question.clamps}
    return names


def named(question: Question, sentence: str) -> str:
    """Return a sentence with the names of places for the ids of their tubes."""
    names = place_names(question)
    for tube in sorted(names, key=len, reverse=True):
        if "-" in tube:
            sentence = re.sub(rf"(?<![\w-])'?{re.escape(tube)}'?(?![\w-])", names[tube], sentence)
    return sentence
