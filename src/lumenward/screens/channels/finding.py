"""What the cups caught and the gauge showed, setting by setting, and what that says about faults."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.util import find_spec
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


@dataclass
class Finding:
    """The table of readings and, once there are any, the classes of faults."""

    heads: list[str]
    rows: list[Row]
    errors: dict[str, str] = field(default_factory=dict)
    classes: list[dict[str, Any]] = field(default_factory=list)
    advice: str = ""
    words: str = ""
    refusal: str = ""


def possible() -> bool:
    """Return whether this house can tell faults apart."""
    return find_spec(calculations.NAMES["diagnose"]) is not None


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
    return ["pressure after the pump, kPa", f"total in {CUP_S:g} s, mL", *cups]


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
    found.classes = result["classes"]
    found.advice = str(result.get("advice") or "")
    found.words = str(result.get("words") or "")
