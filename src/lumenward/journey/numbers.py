"""Who says which number: the IFU, a label, the policy or a shipped default, gathered for one step.

The plan shows what this module returns, the legality check and the rules judge by it, so that all three always
speak of the same number. `STEPS` is the vocabulary in which an IFU (`Instructions.states`), a label and a policy
name their steps.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache, partial
from typing import Generic, TypeVar

from lumenward.equipment.common import Bound, Stated
from lumenward.equipment.endoscope import EndoscopeModel, Route
from lumenward.equipment.fittings import Cabinet, ConnectorSet, Detergent, Disinfectant, LabelPair, TestStrip
from lumenward.equipment.policy import Policy
from lumenward.journey.target import Basis, Target, binding
from lumenward.quantities import convert

Label = Detergent | Disinfectant | ConnectorSet | Cabinet | TestStrip
Thing = TypeVar("Thing")
_KEPT = 4096  # answers: one library under one policy asks for some hundreds

STEPS: dict[str, str] = {
    "delay": "from the end of use to the start of cleaning",
    "leak-test": "the leak test, however it is done",
    "leak-test-wet": "the leak test under water",
    "leak-test-dry": "the leak test by gauge",
    "leak-test-machine": "the leak test by a machine",
    "detergent": "the detergent solution",
    "clean": "manual cleaning, from immersion to the last brush stroke",
    "brush": "brushing one channel",
    "aspirate": "drawing detergent through a channel",
    "flush": "pumping detergent through the channels",
    "purge": "pushing fluid out with air, after the flush, the rinse or the final rinse",
    "rinse": "pumping water through the channels",
    "inspect": "inspection",
    "verify": "the cleaning verification test",
    "hld": "contact with the disinfectant",
    "final-rinse": "the rinse after the disinfectant",
    "alcohol": "the alcohol flush",
    "dry": "drying with filtered air",
    "hang": "waiting in its place until use",
    "connector-set": "a connector set in use",
    "charge": "one fill of a basin",
    "strips": "test strips after opening",
}

# Steps of this vocabulary that documents speak of under a wider name, with the method or thing they mean.
_WIDER = {
    "leak-test-wet": ("leak-test", "wet"), "leak-test-dry": ("leak-test", "dry"),
    "leak-test-machine": ("leak-test", "machine"), "hang": ("store", None),
}  # fmt: skip
_UNIT = {
    "duration": "s", "life": "h", "pressure": "kPa", "volume": "mL", "temperature": "C", "concentration": "ppm",
    "count": "times",
}  # fmt: skip
_PRACTICE = "common practice, no source"
_THROUGH = ("aspirate", "flush", "rinse")  # a default speaks of channels; without any it says nothing
_DEFAULTS: tuple[tuple[str, str, float, str, str], ...] = (
    (
        "leak-test-wet",
        "duration",
        30,
        "s",
        "association newsletter on leak testing: at least 30 s under water",
    ),
    ("leak-test-dry", "duration", 10, "s", "clinical training page: the needle still for at least 10 s"),
    (
        "clean",
        "duration",
        300,
        "s",
        "J Hosp Infect, 307 cultures: cleaning of 5 min or less, odds ratio 1.61",
    ),
    ("aspirate", "duration", 30, "s", _PRACTICE),
    ("flush", "duration", 95, "s", _PRACTICE),
    ("rinse", "duration", 95, "s", _PRACTICE),
    ("dry", "duration", 600, "s", "professional summary of ST91:2021: at least 10 min of forced air"),
)


class _Same(Generic[Thing]):
    """A description as a key: frozen, so the same object always says the same; the key keeps it alive."""

    __slots__ = ("it",)

    def __init__(self, it: Thing) -> None:
        self.it = it

    def __hash__(self) -> int:
        return id(self.it)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.it is other.it


def targets_for(
    model: EndoscopeModel,
    policy: Policy,
    step: str,
    channel: str | None = None,
    label: Label | None = None,
    *,
    route: Route = "manual",
    temperature_c: float | None = None,
) -> list[Target]:
    """Return every number stated for a step, each with its basis and source, the highest authority first.

    Durations come in s, lives in h, pressures in kPa, volumes in mL, temperatures in C, concentrations in ppm.
    With a `channel`, numbers for another channel are left out; without one, only numbers for the whole endoscope
    are returned. `label` adds what a detergent, disinfectant, connector set, cabinet or strip says of itself;
    for a disinfectant `route` and `temperature_c` choose among its listed pairs (no pair listed: no number).
    An empty list means that nobody said anything: there is no number to fall back to.
    """
    if step not in STEPS:
        raise KeyError(step)
    return list(_stated(_Same(model), _Same(policy), step, channel, _Same(label), route, temperature_c))


@lru_cache(maxsize=_KEPT)
def _stated(
    described: _Same[EndoscopeModel], adopted: _Same[Policy], step: str, channel: str | None,
    labelled: _Same[Label | None], route: Route, temperature_c: float | None,
) -> tuple[Target, ...]:  # fmt: skip
    model, policy, label = described.it, adopted.it, labelled.it
    ifu = model.ifu.cited
    about = partial(_about, step=step, channel=channel, route=route)
    found = [_target(s, step, "IFU", f"{ifu}, {s.page}") for s in about(model.ifu.states)]
    found += _brush_passes(model, step, channel, ifu)
    found += _of_label(label, step, channel, route, temperature_c)
    source = f"{policy.name}, edition {policy.edition}"
    found += [_target(s, step, "policy", f"{source}: {s.page}") for s in about(policy.states)]
    found += _of_policy(model, policy, step, label)
    found += _defaults(step) if model.channels or step not in _THROUGH else []
    return tuple(sorted(found, key=lambda t: t.rank))


def deciding(targets: Iterable[Target], quantity: str, bound: str) -> Target | None:
    """Return the one that decides among the targets of one quantity and bound, or None."""
    return binding(t for t in targets if t.quantity == quantity and t.bound == bound)


def floor_s(
    model: EndoscopeModel,
    policy: Policy,
    step: str,
    channel: str | None = None,
    label: Label | None = None,
    *,
    route: Route = "manual",
    temperature_c: float | None = None,
) -> Target | None:
    """Return the shortest allowed duration of a step in s with who says so, or None where nobody does."""
    if step not in STEPS:
        raise KeyError(step)
    return _floor(_Same(model), _Same(policy), step, channel, _Same(label), route, temperature_c)


@lru_cache(maxsize=_KEPT)
def _floor(
    model: _Same[EndoscopeModel], policy: _Same[Policy], step: str, channel: str | None,
    label: _Same[Label | None], route: Route, temperature_c: float | None,
) -> Target | None:  # fmt: skip
    return deciding(_stated(model, policy, step, channel, label, route, temperature_c), "duration", "floor")


def floor_for_channels(
    model: EndoscopeModel, policy: Policy, step: str, channels: Iterable[str]
) -> Target | None:
    """Return the floor in s of a step that serves several channels at once: that of the slowest."""
    floors = [floor_s(model, policy, step, channel) for channel in channels] or [floor_s(model, policy, step)]
    return max((f for f in floors if f is not None), key=lambda t: (t.value, -t.rank), default=None)


def pair_at(label: Disinfectant, route: Route, temperature_c: float) -> LabelPair | None:
    """Return the listed pair of time and temperature that holds at a temperature; nothing between pairs is valid.

    Of several, the one with the highest lower bound is meant for this temperature; of equals the longer time.
    """
    fitting = [
        pair
        for pair in label.pairs
        if pair.route == route and pair.temperature_low_c <= temperature_c <= pair.temperature_high_c
    ]
    return max(fitting, key=lambda pair: (pair.temperature_low_c, pair.time_s), default=None)


def _about(states: Iterable[Stated], *, step: str, channel: str | None, route: Route) -> list[Stated]:
    wider, method = _WIDER.get(step, (step, None))
    way = route if step == "hld" else method
    return [
        s
        for s in states
        if s.step in (step, wider) and s.channel in (None, channel) and s.method in (None, way)
    ]


def _target(stated: Stated, step: str, basis: Basis, source: str) -> Target:
    unit = _UNIT[stated.quantity]
    value = stated.value if stated.unit == unit else convert(stated.value, stated.unit, unit)
    return Target(
        step=step, quantity=stated.quantity, bound=stated.bound, value=value, unit=unit, basis=basis,
        source=source, channel=stated.channel,
    )  # fmt: skip


def _brush_passes(model: EndoscopeModel, step: str, channel: str | None, ifu: str) -> list[Target]:
    named = model.channel(channel) if channel and step == "brush" else None
    if named is None or named.brush is None:
        return []
    return [
        Target(
            step=step, quantity="count", bound="floor", value=named.brush.passes, unit="times", basis="IFU",
            source=f"{ifu}, {named.brush.page}", channel=channel,
        )
    ]  # fmt: skip


def _of_label(
    label: Label | None, step: str, channel: str | None, route: Route, temperature_c: float | None
) -> list[Target]:
    if isinstance(label, Detergent):
        return _of_detergent(label, step, channel)
    if isinstance(label, Disinfectant):
        return _of_disinfectant(label, step, route, temperature_c)
    if isinstance(label, ConnectorSet) and step == "connector-set" and label.life_h is not None:
        return [_life(step, label.life_h, "label", f"{label.name}, {label.life_page or 'label'}")]
    if isinstance(label, Cabinet) and step == "hang" and label.validated_h is not None:
        return [_life(step, label.validated_h, "label", f"{label.name}, {label.page}")]
    if isinstance(label, TestStrip) and step == "strips":
        return [_life(step, label.open_d * 24, "label", f"{label.name}, {label.page}")]
    return []


def _of_detergent(label: Detergent, step: str, channel: str | None) -> list[Target]:
    source = label.on_label
    found = [
        _target(s, step, "label", f"{source}, {s.page}")
        for s in _about(label.states, step=step, channel=channel, route="manual")
    ]
    if step == "detergent":
        found.append(_limit(step, "temperature", "floor", label.temperature_low_c, "C", source))
        found.append(_limit(step, "temperature", "ceiling", label.temperature_high_c, "C", source))
    return found


def _of_disinfectant(
    label: Disinfectant, step: str, route: Route, temperature_c: float | None
) -> list[Target]:
    source = label.on_label
    if step == "final-rinse" and label.rinses is not None:
        return [_limit(step, "count", "floor", label.rinses, "times", source)]
    if step == "charge" and label.reuse_d is not None:
        return [_life(step, label.reuse_d * 24, "label", source)]
    if step != "hld":
        return []
    pair = None if temperature_c is None else pair_at(label, route, temperature_c)
    if pair is None:
        listed = [p for p in label.pairs if p.route == route]
        pair = listed[0] if temperature_c is None and len(listed) == 1 else None
    return [] if pair is None else _of_pair(pair, source)


def _of_pair(pair: LabelPair, source: str) -> list[Target]:
    return [
        _limit("hld", "duration", "floor", pair.time_s, "s", source),
        _limit("hld", "temperature", "floor", pair.temperature_low_c, "C", source),
        _limit("hld", "temperature", "ceiling", pair.temperature_high_c, "C", source),
    ]


def _of_policy(model: EndoscopeModel, policy: Policy, step: str, label: Label | None) -> list[Target]:
    if step == "delay":
        limit = policy.delay.limit_min * 60
        return [_limit(step, "duration", "ceiling", limit, "s", policy.delay.source, "policy")]
    if step == "connector-set" and policy.connector_set_life_h is not None:
        source = policy.connector_set_source or policy.name
        return [_life(step, policy.connector_set_life_h, "policy", source)]
    if step == "hang" and isinstance(label, Cabinet):
        return [
            _life(step, entry.hours, "policy", entry.source)
            for entry in policy.hang_times
            if entry.cabinet == label.kind and entry.high_risk == model.high_risk
        ]
    return []


def _defaults(step: str) -> list[Target]:
    return [
        _limit(step, quantity, "floor", value, unit, source, "default")
        for name, quantity, value, unit, source in _DEFAULTS
        if name == step
    ]


def _limit(
    step: str, quantity: str, bound: Bound, value: float, unit: str, source: str, basis: Basis = "label"
) -> Target:
    return Target(
        step=step, quantity=quantity, bound=bound, value=value, unit=unit, basis=basis, source=source
    )  # fmt: skip


def _life(step: str, hours: float, basis: Basis, source: str) -> Target:
    return _limit(step, "life", "ceiling", hours, "h", source, basis)
