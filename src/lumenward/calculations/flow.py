"""What flows in every tube of a network."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import network as model
from lumenward.hydraulics.flows import Flow
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.solver import solve
from lumenward.quantities import Refusal

TITLE = "Flow in a network of channels"
LEAVES_OUT = [
    "Air bubbles, soft or leaking parts, pulsation of the pump, and anything in the channel but the liquid.",
    "Minor losses are assumptions; so is the place of a wire, which alone can change its channel's flow by a "
    "factor of 2.3.",
    "Between Reynolds numbers of 2000 and 4000 friction, and so the flow, is known to about 10 %.",
    "Entrance lengths: below 1 % of the drop in a channel; a short nozzle's belongs into its minor loss.",
    "Flow through a channel is not evidence that it is clean. The IFU decides.",
]
EXAMPLE = {
    "fluid": {"temperature_c": 35},
    "friction": "epanet",
    "nodes": [{"id": "pump"}, {"id": "tip"}, {"id": "outlet", "pressure_pa": 0}],
    "tubes": [
        {"id": "hose", "from": "pump", "to": "tip", "length_m": 1.5, "bore_m": 0.004, "minor_loss": 2},
        {"id": "wide", "from": "tip", "to": "outlet", "length_m": 2.7, "bore_m": 0.0028, "minor_loss": 2},
        {"id": "narrow", "from": "tip", "to": "outlet", "length_m": 2.9, "bore_m": 0.001, "minor_loss": 2},
    ],
    "pump": {"node": "pump", "flow_m3_s": 1.25e-5, "slip_m3_s_pa": 1.25e-11, "relief_pa": 150000},
}


class FluidInput(CaseInput):
    """Water at a temperature, or a liquid by density and viscosity."""

    temperature_c: float | None = None
    density_kg_m3: float | None = None
    viscosity_pa_s: float | None = Field(None, description="dynamic")


class NodeInput(CaseInput):
    """A place where tubes meet; without a pressure it is free."""

    id: str
    pressure_pa: float | None = Field(None, description="gauge")


class TubeInput(CaseInput):
    """One tube, flow positive from -> to."""

    id: str
    from_node: str = Field(alias="from")
    to_node: str = Field(alias="to")
    length_m: float
    bore_m: float
    wire_m: float = Field(0.0, description="outer diameter of a wire inside; 0 for none")
    eccentricity: float = Field(0.0, description="0 centred, 1 on the wall")
    roughness_m: float = model.SMOOTH_TUBE_M
    minor_loss: float = Field(0.0, description="sum of loss coefficients on the velocity head")
    open: bool = Field(True, description="false: closed clamp or complete block")


class PumpInput(CaseInput):
    """A displacement pump into a free node."""

    node: str
    flow_m3_s: float
    slip_m3_s_pa: float = 0.0
    relief_pa: float | None = None


class Input(CaseInput):
    """A network: one liquid, one friction law, nodes, tubes, at most one pump."""

    fluid: FluidInput
    friction: Literal["colebrook", "swamee-jain", "churchill", "epanet"] = "epanet"
    nodes: list[NodeInput]
    tubes: list[TubeInput]
    pump: PumpInput | None = None


class TubeOutput(CaseOutput):
    """What happens in one tube."""

    id: str
    flow_m3_s: float = Field(description="positive from -> to")
    velocity_m_s: float
    reynolds: float
    friction_factor: float | None = Field(description="Darcy; none when nothing flows")
    wall_shear_pa: float
    pressure_drop_pa: float | None = Field(description="across a closed tube what its ends differ by")
    volume_m3: float


class NodeOutput(CaseOutput):
    """The pressure of one node; none where closed tubes shut it off on all sides."""

    id: str
    pressure_pa: float | None


class Output(CaseOutput):
    """Every tube, every node, and how well the answer balances."""

    tubes: list[TubeOutput]
    nodes: list[NodeOutput]
    pump_m3_s: float | None = Field(
        description="what the pump gives after slip and relief; none without a pump"
    )
    imbalance: float = Field(description="largest nodal imbalance over the inflow")
    iterations: int
    confidence: Literal["solid", "fair"]
    words: str


def run(case: Input) -> Output:
    """Return the flow; raise Refusal for a network that cannot be, or a pump shut in.

    >>> result = run(Input.model_validate(EXAMPLE))
    >>> result.imbalance < 1e-9
    True
    """
    flow = solve(network_of(case))
    unsure = [t.id for t, re in zip(case.tubes, flow.reynolds, strict=True) if 2000 < re < 4000]
    return Output(
        tubes=_tubes(flow),
        nodes=[
            NodeOutput(id=node.id, pressure_pa=_number(p))
            for node, p in zip(flow.network.nodes, flow.pressure, strict=True)
        ],
        pump_m3_s=flow.delivered if case.pump else None,
        imbalance=flow.imbalance,
        iterations=flow.iterations,
        confidence="fair" if unsure else "solid",
        words=_words(unsure),
    )


def network_of(case: Input, prefix: str = "") -> Network:
    """Return the network a case describes; `prefix` goes before the field of a Refusal ("network.")."""
    try:
        return Network(
            _fluid(case.fluid),
            tuple(model.Node(node.id, node.pressure_pa) for node in case.nodes),
            tuple(model.Tube(**tube.model_dump()) for tube in case.tubes),
            model.Pump(**case.pump.model_dump()) if case.pump else None,
            case.friction,
        )
    except Refusal as refusal:
        raise Refusal(refusal.code, refusal.message, prefix + refusal.field, refusal.hint) from None


def _fluid(given: FluidInput) -> model.Fluid:
    own = (given.density_kg_m3, given.viscosity_pa_s)
    if given.temperature_c is not None and own == (None, None):
        return model.Fluid.water(given.temperature_c)
    if given.temperature_c is None and given.density_kg_m3 is not None and given.viscosity_pa_s is not None:
        return model.Fluid(given.density_kg_m3, given.viscosity_pa_s)
    mixed = given.temperature_c is not None
    raise Refusal(
        "contradiction" if mixed else "missing",
        "The liquid is given twice." if mixed else "The liquid is not given.",
        "fluid",
        "Give temperature_c for water, or density_kg_m3 together with viscosity_pa_s.",
    )


def _tubes(flow: Flow) -> list[TubeOutput]:
    return [
        TubeOutput(
            id=tube.id,
            flow_m3_s=float(flow.flow[i]),
            velocity_m_s=float(flow.velocity[i]),
            reynolds=float(flow.reynolds[i]),
            friction_factor=_number(flow.friction_factor[i]),
            wall_shear_pa=float(flow.wall_shear[i]),
            pressure_drop_pa=_number(flow.pressure_drop[i]),
            volume_m3=float(flow.volume[i]),
        )
        for i, tube in enumerate(flow.network.tubes)
    ]


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _words(unsure: list[str]) -> str:
    if not unsure:
        return "Every tube is clearly laminar or clearly turbulent; minor losses are assumptions."
    return "Between laminar and turbulent, known to about 10 %: " + ", ".join(unsure) + "."


def picture(case: Input, result: Output) -> Chart:
    """Return the flow of each tube as a bar."""
    return Chart(
        question="How much flows in each tube?",
        x_label="tube",
        y_label="flow (mL/min)",
        series=[
            Series(
                name="flow",
                x=[tube.id for tube in result.tubes],
                y=[tube.flow_m3_s * 6e7 for tube in result.tubes],
                kind="bars",
            )
        ],
    )
