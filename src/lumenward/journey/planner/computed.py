"""The seam to the hydraulics: numbers computed for this endoscope, this connector set, this pump and this water.

They stand beside the stated numbers with the basis "computed", and may lengthen a step, never shorten one. Where
geometry is missing the list is empty and the stated numbers stand alone.

In which turns of the clamps a pumped step is done, `turning.py` says.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from lumenward.equipment.endoscope import EndoscopeModel, Port
from lumenward.equipment.fittings import ConnectorSet, Pump
from lumenward.journey.planner.drying import dry_targets
from lumenward.journey.planner.turning import ByIdentity, Pumping, Turning, turning
from lumenward.journey.saying import inside, listed
from lumenward.journey.target import Target

if TYPE_CHECKING:
    from lumenward.journey.planner.bench import Bench

# Channel volumes that each step should pump through every channel: common practice, no source.
VOLUMES = {"flush": 10.0, "rinse": 10.0, "purge": 2.0}
RINSE_WATER_C = 20.0
CUP_S = 10.0
_NUMBERS = {2: "two", 3: "three"}


def computed_targets(bench: Bench, step: str) -> list[Target]:
    """Return the computed targets of a step; empty where nothing can be computed.

    For flush, rinse and purge: seconds until every channel has had `VOLUMES` of its own, or the volume stated for it
    where that is more, in the turns of `turns_of`.
    Straight, clean, level channels full of water; a purge is reckoned as if the fluid still filled them.
    """
    if step == "dry":
        return dry_targets(bench)
    if step not in VOLUMES:
        return []
    found = _turning(bench, step)
    if not found.parts or not math.isfinite(found.seconds):
        return []
    many = len(found.parts)
    turns = "" if many == 1 else f", in {_NUMBERS[many]} turns of the clamps"
    return [
        Target(
            step=step, quantity="duration", bound="floor", value=float(round(found.seconds)), unit="s",
            basis="computed",
            source=f"{VOLUMES[step]:g} volumes of each channel, or what is stated for it{turns}; {bench.pump.name}, "
            f"water at {_temperature_c(bench, step):g} °C, channels straight and clean",
        )
    ]  # fmt: skip


def turns_of(bench: Bench, step: str, floor_s: float) -> list[dict[str, Any]]:
    """Return the turns of the clamps of a pumped step as drawings, all together lasting to its floor.

    `{"title", "seconds", "shut", "focus", "then", "shut_words"}`: `shut` the ports whose clamps are closed, `focus`
    the channels that are served, `then` what to do at the end. A single turn is none, unless something is shut.
    """
    parts = _turning(bench, step).lasting(floor_s)
    shut = [[port.id for port in _fed(bench, parts) if port.id not in part.open] for part in parts]
    if len(parts) < 2 and not any(shut):
        return []
    return [
        {
            "title": f"What should come out, turn {place}", "seconds": part.seconds, "shut": shut[place - 1],
            "focus": [channel.id for channel in bench.model.channels if channel.port in part.open],
            "then": _change(bench, shut[place - 1], shut[place]) if place < len(parts) else "",
            "shut_words": _names(bench, shut[place - 1]),
        }
        for place, part in enumerate(parts, start=1)
    ]  # fmt: skip


def above_pressure(bench: Bench, step: str) -> str:
    """Return a sentence where no setting of the clamps keeps the pressures of the IFU with this pump, or nothing."""
    refusal = _turning(bench, step).refusal
    if refusal is None or refusal.code != "infeasible":
        return ""
    return (
        f"With {bench.pump.name} no setting of the clamps keeps every channel within the pressure its IFU allows. "
        "Use a gentler pump."
    )


def _fed(bench: Bench, parts: Sequence[Pumping]) -> list[Port]:
    """Return the ports that the connector set feeds in any of the turns, in the model's order."""
    fed = {port for part in parts for port in part.open}
    return [port for port in bench.model.ports if port.id in fed]


def _names(bench: Bench, ports: Collection[str]) -> str:
    return listed(inside(port.name) for port in bench.model.ports if port.id in ports)


def _change(bench: Bench, before: Collection[str], after: Collection[str]) -> str:
    """Return what to do at the clamps from one turn to the next: "shut the air port, open the biopsy port"."""
    shut = _names(bench, [port for port in after if port not in before])
    opened = _names(bench, [port for port in before if port not in after])
    return ", ".join(
        words for words in (f"shut {shut}" if shut else "", f"open {opened}" if opened else "") if words
    )


def expected(bench: Bench, step: str = "flush") -> list[dict[str, Any]]:
    """Return what should leave each outlet into a cup in 10 s, one row an outlet and turn; empty if not computed.

    `{"turn", "outlet", "channels", "name", "seconds", "ml", "look_ml"}`: at `look_ml` or less it is worth a look.
    """
    kind = connector_kind(bench)
    if kind is None or not bench.channels:
        return []
    settings = tuple(part.open for part in _turning(bench, step).parts)
    rows = _cup(bench.model, kind, bench.pump, _temperature_c(bench, step), settings)
    return [_named(bench, row) for row in rows]


def connector_kind(bench: Bench) -> ConnectorSet | None:
    """Return the kind of the set that is on, else the first that fits and could be taken."""
    on = bench.world.connector_set(str(bench.body_of("connected").get("connector_set", "")))
    fitting = [kind for kind in bench.library.connector_sets if bench.model.id in kind.fits]
    worn = [kind for kind in fitting if on and kind.id == on.kind]
    return next(iter(worn or fitting), None)


def _temperature_c(bench: Bench, step: str) -> float:
    """Return the measured temperature of the detergent, else the colder end of its label; water cooler still."""
    if step == "rinse":
        return RINSE_WATER_C
    measured = bench.body_of("detergent_dosed").get("temperature_c")
    if isinstance(measured, int | float):
        return float(measured)
    return min((one.temperature_low_c for one in bench.detergents), default=RINSE_WATER_C)


def _turning(bench: Bench, step: str) -> Turning:
    kind = connector_kind(bench)
    if kind is None:
        return Turning()
    return turning(
        bench.model, kind, bench.pump, _temperature_c(bench, step), VOLUMES[step], step, bench.policy
    )


def _cup(
    model: EndoscopeModel,
    kind: ConnectorSet,
    pump: Pump,
    temperature_c: float,
    settings: tuple[tuple[str, ...], ...],
) -> tuple[dict[str, Any], ...]:
    return _cup_of(ByIdentity(model), ByIdentity(kind), ByIdentity(pump), temperature_c, settings)


@lru_cache(maxsize=512)
def _cup_of(
    model: ByIdentity,
    kind: ByIdentity,
    pump: ByIdentity,
    temperature_c: float,
    settings: tuple[tuple[str, ...], ...],
) -> tuple[dict[str, Any], ...]:
    from lumenward.hydraulics.assemble import assemble, port_tube
    from lumenward.hydraulics.outflow import expected_outflow

    network = assemble(model.thing, kind.thing, pump.thing, temperature_c)
    ports = [port_tube(tube.port) for tube in kind.thing.tubes]
    opened = [[port_tube(port) for port in setting] for setting in settings]
    turn = {tuple(one): number + 1 for number, one in enumerate(opened)}
    return tuple(
        {
            "turn": turn[line.open],
            "outlet": line.outlet,
            "seconds": line.seconds,
            "ml": round(line.volume_ml, 1),
            "look_ml": round(line.look_m3 * 1e6, 1),
        }
        for line in expected_outflow(network, ports, CUP_S, opened)
    )


def _named(bench: Bench, row: dict[str, Any]) -> dict[str, Any]:
    through = [channel for channel in bench.model.channels if channel.tubes[-1] == row["outlet"]]
    names = listed([channel.name.lower() for channel in through]) or str(row["outlet"])
    return row | {"channels": [channel.id for channel in through], "name": names}
