"""The shortest sequence of clamp settings that gives every channel its volume."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations import flow
from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import bounds, clamp_words, clamps
from lumenward.hydraulics.clamp_settings import checked
from lumenward.hydraulics.network import Network
from lumenward.quantities import Refusal

TITLE = "Clamp plan: which clamps to open, and for how long"
LEAVES_OUT = [
    "The time a person needs at the clamps, unless switch_s gives it; without it the plan may hold turns too short "
    "to be worth setting.",
    "Filling empty channels, air bubbles, the swing of pressure after a change, soft or leaking parts.",
    "Minor losses are assumptions; so is the place of a wire, which alone can change its channel's flow by a "
    "factor of 2.3.",
    "Volume and shear through a channel are not evidence that it is clean. The IFU decides; its volumes, times and "
    "pressures stand above this plan.",
]
EXAMPLE = {
    "network": {
        "fluid": {"temperature_c": 35},
        "nodes": [{"id": "pump"}, {"id": "manifold"}, {"id": "wide-port"}, {"id": "narrow-port"},
                  {"id": "tip", "pressure_pa": 0}],
        "tubes": [
            {"id": "hose", "from": "pump", "to": "manifold", "length_m": 1.5, "bore_m": 0.004, "minor_loss": 2},
            {"id": "clamp-wide", "from": "manifold", "to": "wide-port", "length_m": 0.5, "bore_m": 0.004,
             "minor_loss": 2.5},
            {"id": "clamp-narrow", "from": "manifold", "to": "narrow-port", "length_m": 0.5, "bore_m": 0.0025,
             "minor_loss": 2.5},
            {"id": "wide", "from": "wide-port", "to": "tip", "length_m": 2.7, "bore_m": 0.0028, "minor_loss": 2},
            {"id": "narrow", "from": "narrow-port", "to": "tip", "length_m": 2.9, "bore_m": 0.001, "minor_loss": 2},
        ],
        "pump": {"node": "pump", "flow_m3_s": 1.25e-5, "slip_m3_s_pa": 1.25e-11, "relief_pa": 150000},
    },
    "ports": ["clamp-wide", "clamp-narrow"],
    "channels": ["wide", "narrow"],
    "volumes": 5,
    "switch_s": 3,
    "floor_s": 10,
}  # fmt: skip
MOST_VOLUMES = 10_000.0


class ShearInput(CaseInput):
    """A wall shear that every channel shall see for some time."""

    minimum_pa: float
    seconds: float


class Input(CaseInput):
    """A network, its clamps, and what each channel needs; `volumes` or `required_m3`, one of them."""

    network: flow.Input
    ports: list[str] = Field(description="ids of tubes with a clamp, at most 10")
    channels: list[str] | None = Field(None, description="ids of tubes that need volume")
    volumes: float | None = Field(None, description="channel volumes each")
    required_m3: dict[str, float] | None = Field(None, description="volume by channel")
    pressure_cap_pa: float | dict[str, float] | None = Field(
        None,
        description="a number caps every place from the pump on; a mapping caps tubes (both ends) or nodes",
    )
    switch_s: float = Field(0.0, description="cost of setting the clamps once, for each setting used")
    floor_s: float = Field(0.0, description="least running time: IFU, label or policy; never undercut")
    shear: ShearInput | None = None


class Step(CaseOutput):
    """One turn; the steps stand in order, narrow channels first."""

    open: list[str] = Field(description="open ports; all others are closed")
    duration_s: float
    flow_m3_s: dict[str, float] = Field(description="by channel, without sign")
    highest_pa: float = Field(description="highest pressure anywhere, gauge")


class Channel(CaseOutput):
    """What one channel needs and gets."""

    id: str
    required_m3: float
    delivered_m3: float


class Output(CaseOutput):
    """The plan, what it saves, and what limits it."""

    steps: list[Step]
    total_s: float = Field(description="running time and switch_s for each step")
    running_s: float
    all_open_s: float | None = Field(
        description="all ports open at once, floor and switch_s counted; none: cannot"
    )
    one_at_a_time_s: float | None = Field(description="one port after another, counted alike; none: cannot")
    binding: list[str] = Field(description="what limits the plan, the strongest first")
    channels: list[Channel]
    floor_rest_s: float = Field(description="what the floor added, shared over all steps in proportion")
    settings: int = Field(description="settings of the clamps considered")
    refused_by_cap: int = Field(description="of these, how many exceed a pressure cap")
    all_open_flow_m3_s: dict[str, float] = Field(description="by channel, for comparison")
    proven: bool = Field(
        description="nothing shorter exists; false only when there were too many settings to prove"
    )
    confidence: str
    words: str


def run(case: Input) -> Output:
    """Return the shortest plan; raise Refusal `infeasible` naming the channel and the limit.

    >>> result = run(Input.model_validate(EXAMPLE))
    >>> [(step.open, round(step.duration_s, 1)) for step in result.steps]
    [(['clamp-narrow'], 4.2), (['clamp-wide', 'clamp-narrow'], 7.6)]
    """
    network = flow.network_of(case.network, "network.")
    required = _required(case, network)
    shear = clamps.Shear(case.shear.minimum_pa, case.shear.seconds) if case.shear else None
    plan = clamps.clamp_plan(
        network, case.ports, required, case.pressure_cap_pa, case.switch_s, case.floor_s, shear
    )
    return Output(
        steps=[_step(turn) for turn in plan.turns],
        total_s=plan.total_s,
        running_s=plan.schedule.running_s,
        all_open_s=plan.all_open_s,
        one_at_a_time_s=plan.one_at_a_time_s,
        binding=clamp_words.binding(plan),
        channels=[
            Channel(id=name, required_m3=volume, delivered_m3=plan.volume_m3(name))
            for name, volume in required.items()
        ],
        floor_rest_s=plan.schedule.stretched_s,
        settings=len(plan.settings.open),
        refused_by_cap=plan.refused_by_cap,
        all_open_flow_m3_s=_all_open(plan),
        proven=plan.schedule.proven,
        confidence="fair",
        words=_words(plan),
    )


def _required(case: Input, network: Network) -> dict[str, float]:
    if (case.volumes is None) == (case.required_m3 is None):
        what = "neither" if case.volumes is None else "both"
        raise Refusal(
            "missing" if case.volumes is None else "contradiction",
            f"Exactly one of volumes and required_m3 says what the channels need; found {what}.",
            "volumes",
            "volumes is a number of channel volumes, required_m3 gives m3 by channel.",
        )
    if case.required_m3 is not None:
        return _stated(case.required_m3, case.channels)
    channels = case.channels or []
    checked(network, channels, "channels", len(network.tubes))
    each = bounds.between(case.volumes or 0.0, 0.0, MOST_VOLUMES, "volumes", "A number of volumes", "volumes")
    return {name: each * network.tubes[network.tube_index[name]].volume_m3 for name in channels}


def _stated(required: dict[str, float], channels: list[str] | None) -> dict[str, float]:
    names = list(required) if channels is None else channels
    for name in required:
        if name not in names:
            hint = "One of: " + ", ".join(names)
            raise Refusal("unknown-key", f"{name!r} is not among the channels.", f"required_m3.{name}", hint)
    for i, name in enumerate(names):
        if name not in required:
            message = f"The channel {name!r} has no required volume."
            raise Refusal("missing", message, f"channels[{i}]", "Add it to required_m3; 0 asks for nothing.")
    return {name: required[name] for name in names}


def _step(turn: clamps.Turn) -> Step:
    return Step(
        open=list(turn.open),
        duration_s=turn.duration_s,
        flow_m3_s=turn.flow_m3_s,
        highest_pa=turn.highest_pa,
    )


def _all_open(plan: clamps.ClampPlan) -> dict[str, float]:
    at = plan.settings.all_open
    if at is None:
        return {}
    return dict(zip(plan.settings.channels, map(float, plan.settings.flow[at]), strict=True))


def _words(plan: clamps.ClampPlan) -> str:
    turns = "; ".join(
        f"open {clamp_words.ports(turn.open)} for {clamp_words.seconds(turn.duration_s)}"
        for turn in plan.turns
    )
    if not turns:
        return "Nothing is asked for."
    doubt = "" if plan.schedule.proven else " There were too many settings to prove that nothing is shorter."
    said = f"{turns[0].upper()}{turns[1:]}. {clamp_words.savings(plan)}{doubt}"
    return f"{said} Volume is not evidence of a clean channel."


def picture(case: Input, result: Output) -> Chart:
    """Return the flow of each channel in each step beside all ports open, as bars; no bar where nothing flows."""
    names: list[float | str] = [channel.id for channel in result.channels]
    settings = [
        (f"turn {i}: {clamp_words.ports(s.open)}", s.flow_m3_s) for i, s in enumerate(result.steps, 1)
    ]
    if result.all_open_flow_m3_s:
        settings.insert(0, ("all ports open", result.all_open_flow_m3_s))
    return Chart(
        question="How much flows in each channel by setting of the clamps?",
        x_label="channel",
        y_label="flow (mL/min)",
        series=[
            Series(name=label, x=names, y=[6e7 * flows[str(name)] or None for name in names], kind="bars")
            for label, flows in settings
        ],
        log_y=True,
    )
