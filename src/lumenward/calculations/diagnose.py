"""Which faults fit the readings of one endoscope, which cannot be told apart, and what to read next."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from pydantic import Field

from lumenward.calculations import flow
from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import diagnosis_words as say
from lumenward.hydraulics.diagnosis import Diagnosis, Noise, Reading, diagnose
from lumenward.hydraulics.fault_store import kept
from lumenward.hydraulics.fault_table import Table, prepare
from lumenward.hydraulics.faults import name_of
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.next_reading import entropy_bits, worth_taking

TITLE = "What is blocked? Faults from flow, pressure and cups"
LEAVES_OUT = [
    "Air bubbles, soft kinks, leaking caps and wet connectors: the model knows none of them, so its rates are an "
    "upper bound.",
    "Where along a channel a block sits, and whether it is a kink or a clot: no reading of flow and pressure tells.",
    "The spreads of bores, pump and readings are assumptions unless given; the chances before any reading are even "
    "among single faults.",
    "A diagnosis is a reason to look, not a finding. Inspection and the IFU decide.",
]
_TUBES = [
    {"id": "hose", "from": "pump", "to": "manifold", "length_m": 1.5, "bore_m": 0.004, "minor_loss": 2},
    {"id": "port-wide", "from": "manifold", "to": "w", "length_m": 0.5, "bore_m": 0.004, "minor_loss": 2.5},
    {
        "id": "port-narrow",
        "from": "manifold",
        "to": "n",
        "length_m": 0.5,
        "bore_m": 0.0025,
        "minor_loss": 2.5,
    },
    {"id": "wide", "from": "w", "to": "tip", "length_m": 2.7, "bore_m": 0.0028, "minor_loss": 2},
    {"id": "narrow", "from": "n", "to": "tip", "length_m": 2.9, "bore_m": 0.001, "minor_loss": 2},
]
EXAMPLE = {
    "network": {
        "fluid": {"temperature_c": 35},
        "nodes": [
            {"id": "pump"},
            {"id": "manifold"},
            {"id": "w"},
            {"id": "n"},
            {"id": "tip", "pressure_pa": 0},
        ],
        "tubes": _TUBES,
        "pump": {"node": "pump", "flow_m3_s": 1.25e-5, "slip_m3_s_pa": 1.25e-11, "relief_pa": 150000},
    },
    "ports": ["port-wide", "port-narrow"],
    "readings": [{"open": ["port-wide", "port-narrow"], "flow_m3_s": 1.17e-5, "pressure_pa": 66000}],
}


_folders: list[Path] = []


class ReadingInput(CaseInput):
    """What was read with only these ports open; at least one value."""

    open: list[str] = Field(description="ids of the open ports")
    flow_m3_s: float | None = Field(None, description="total flow the network takes in")
    pressure_pa: float | None = Field(None, description="gauge, at pressure_at")
    outflow_m3_s: dict[str, float] = Field(
        {}, description="by outlet: a tube that ends at a fixed pressure, or the node where it ends alone"
    )


class NoiseInput(CaseInput):
    """Standard deviations of a reading: a share and a fixed part."""

    flow_share: float = Field(Noise.flow_share, ge=1e-4, le=1)
    flow_m3_s: float = Field(Noise.flow_m3_s, ge=1e-12, le=1e-3)
    pressure_share: float = Field(Noise.pressure_share, ge=1e-4, le=1)
    pressure_pa: float = Field(Noise.pressure_pa, ge=1, le=1e6)


class Input(CaseInput):
    """A network in order, its ports, and readings; fault names are explained in the output."""

    network: flow.Input
    ports: list[str] = Field(description="ids of tubes with a clamp, at most 12")
    readings: list[ReadingInput]
    baseline: list[ReadingInput] = Field(
        [], description="this endoscope's own earlier readings, when in order"
    )
    pressure_at: str | None = Field(None, description="node of the gauge; where the ports meet when left out")
    places: list[str] | None = Field(
        None, description="tubes that can be blocked; all behind the ports if left out"
    )
    doubles: bool = Field(True, description="whether two faults at once are considered")
    noise: NoiseInput | None = Field(None, description="3 % and 0.7 mL/min or 0.7 kPa when left out")


class FaultClass(CaseOutput):
    """Faults that these readings cannot tell apart."""

    members: list[str] = Field(
        description="ok, block:TUBE, partial:TUBE (35 to 80 % of the bore left), disconnected:PORT (its tube is off), "
        "two at once joined with +; fewest faults first"
    )
    probability: float
    words: str


class NextReading(CaseOutput):
    """A reading to take."""

    open: list[str]
    read: list[str] = Field(description="flow, pressure, or the id of an outlet for a cup")
    expected_drop_bits: float = Field(description="expected drop in the entropy of the faults")


class Output(CaseOutput):
    """The classes, most probable first, and the next reading most worth taking."""

    classes: list[FaultClass] = Field(description="probabilities sum to 1")
    advice: str
    next_reading: NextReading | None = Field(description="none when no reading is expected to tell more")
    candidates: list[NextReading]
    entropy_bits: float = Field(description="what is still open between the faults")
    can_tell: bool = Field(description="one class has at least 90 %, and does not mix faults with none")
    explained: bool = Field(description="false when no fault considered comes near the readings")
    misfit: float = Field(description="standard deviations between the readings and the best fault")
    confidence: str
    words: str


def run(case: Input) -> Output:
    """Return the classes; raise Refusal for readings that name what is not there or hold no values.

    >>> result = run(Input.model_validate(EXAMPLE))
    >>> result.classes[0].members[0], abs(sum(c.probability for c in result.classes) - 1) < 1e-12
    ('ok', True)
    """
    return answer(case, table_of(case))


def keep_tables_in(folder: Path | None) -> None:
    """Keep the tables of models in this folder from now on, so that each is worked out once; None ends it."""
    _folders[:] = [] if folder is None else [folder]
    _prepared.cache_clear()


def table_of(case: Input) -> Table:
    """Return the prepared table of a case; kept in memory for the next one of the same model."""
    network = flow.network_of(case.network, "network.")
    places = None if case.places is None else tuple(case.places)
    return _prepared(network, tuple(case.ports), case.pressure_at, places, case.doubles)


@lru_cache(maxsize=16)
def _prepared(
    network: Network, ports: tuple[str, ...], gauge: str | None, places: tuple[str, ...] | None, doubles: bool
) -> Table:
    if _folders:
        return kept(_folders[0], network, ports, gauge, places, doubles)
    return prepare(network, ports, gauge, places, doubles)


def answer(case: Input, table: Table) -> Output:
    """Return the outcome with a table that was prepared ahead."""
    noise = Noise(**case.noise.model_dump()) if case.noise else None
    outlets = _tubes_at_lone_ends(case.network)
    found = diagnose(table, _readings(case.readings, outlets), _readings(case.baseline, outlets), noise)
    candidates = worth_taking(found)
    still_open = entropy_bits(found.probability)
    rated = [NextReading(open=list(c.open), read=list(c.what), expected_drop_bits=c.bits) for c in candidates]
    worth = found.explained and bool(candidates) and candidates[0].bits >= say.WORTH_BITS
    return Output(
        classes=[_class(found, members, probability) for members, probability in found.classes],
        advice=say.advice(found, candidates, still_open),
        next_reading=rated[0] if worth else None,
        candidates=rated,
        entropy_bits=still_open,
        can_tell=found.can_tell,
        explained=found.explained,
        misfit=found.misfit,
        confidence="weak",
        words=say.summary(found),
    )


def _readings(given: list[ReadingInput], outlets: dict[str, str]) -> list[Reading]:
    return [
        Reading(
            tuple(dict.fromkeys(r.open)),
            r.flow_m3_s,
            r.pressure_pa,
            {outlets.get(outlet, outlet): flow_m3_s for outlet, flow_m3_s in r.outflow_m3_s.items()},
        )
        for r in given
    ]


def _tubes_at_lone_ends(network: flow.Input) -> dict[str, str]:
    """Return by node of fixed pressure its only tube: a cup may be named by the opening it stood under."""
    tubes = {tube.id for tube in network.tubes}
    lone = {}
    for node in network.nodes:
        there = [tube.id for tube in network.tubes if node.id in (tube.from_node, tube.to_node)]
        if node.pressure_pa is not None and len(there) == 1 and node.id not in tubes:
            lone[node.id] = there[0]
    return lone


def _class(found: Diagnosis, members: tuple[int, ...], probability: float) -> FaultClass:
    hypotheses = [found.table.rig.hypotheses[h] for h in members]
    return FaultClass(
        members=[name_of(h) for h in hypotheses], probability=probability, words=say.sentence(hypotheses[0])
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the probability of the likeliest classes as bars."""
    top = [one for one in result.classes if one.probability >= 0.005][:8]
    labels: list[float | str] = [
        one.members[0] + (f" (or {len(one.members) - 1} more)" if len(one.members) > 1 else "") for one in top
    ]
    return Chart(
        question="Which faults fit these readings?",
        x_label="faults that these readings cannot tell apart",
        y_label="probability",
        series=[Series(name="probability", x=labels, y=[one.probability for one in top], kind="bars")],
    )
