"""How often a simulated fault is found: our model judges what our model made, so every rate is an upper bound."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from lumenward.demo.geometry import load_family, port_ids
from lumenward.evidence import Check
from lumenward.hydraulics.diagnosis import Reading, diagnose
from lumenward.hydraulics.fault_table import Table, prepare, usual_settings
from lumenward.hydraulics.faults import Hypothesis, name_of
from lumenward.hydraulics.solver import Variants, solve_many

_FAMILY = "gastroscope"
_EACH = 6
_OWN = "simulated with our own model: an upper bound, no evidence from the world"
_SOURCE = "our prototype found the same to a few percent"
_PHYSICS = "same readings by the topology of the network: nothing leaves between the two blocks"


@cache
def _table() -> Table:
    return prepare(load_family(_FAMILY), port_ids(_FAMILY))


def _simulated(hypothesis: Hypothesis, count: int) -> NDArray[np.float64]:
    """Return noisy total flow and pressure (count, settings, 2) of endoscopes drawn anew, solved in full."""
    made, network = _table().rig, _table().rig.network
    rng = np.random.default_rng(zlib.crc32(name_of(hypothesis).encode()))
    spread = np.where(np.arange(len(network.tubes)) < made.real, 0.03, 0.0)
    drawn = np.clip(rng.standard_normal((count, len(network.tubes))), -3, 3)
    bore = np.array([t.bore_m for t in network.tubes]) * (1 + spread * drawn)
    for fault in hypothesis:
        if fault.kind == "partial":
            bore[:, network.tube_index[fault.at]] *= rng.uniform(0.35, 0.80, count)
    assert network.pump is not None
    supply = network.pump.flow_m3_s * (1 + 0.05 * np.clip(rng.standard_normal(count), -3, 3))
    shown = []
    for setting in usual_settings(made.ports):
        opened = np.tile(made.opened(setting, hypothesis), (count, 1))
        batch = solve_many(network, Variants(bore_m=bore, open=opened, pump_flow_m3_s=supply), engine="numpy")
        shown.append(np.stack([batch.delivered, batch.at(made.gauge)], axis=1))
    true = np.stack(shown, axis=1)
    noise = np.hypot(0.03 * true, [0.7e-6 / 60, 700.0]) * rng.standard_normal(true.shape)
    return np.asarray(np.maximum(true + noise, 0.0))


@cache
def _outcomes(kind: str, settings: int) -> tuple[tuple[bool, bool], ...]:
    """Return for each trial whether the true fault is in the first class, and whether that class excludes ok."""
    found = []
    for position, hypothesis in enumerate(_table().rig.hypotheses):
        kinds = {fault.kind for fault in hypothesis}
        if (kind == "two blocks" and len(hypothesis) == 2 and kinds == {"block"}) or (
            len(hypothesis) <= 1 and kinds == {kind} - {"ok"}
        ):
            for shown in _simulated(
                hypothesis, 1 if len(hypothesis) == 2 else 4 * _EACH if kind == "ok" else _EACH
            ):
                used = zip(usual_settings(_table().rig.ports)[:settings], shown, strict=False)
                readings = [Reading(s, float(flow), float(pressure)) for s, (flow, pressure) in used]
                first = diagnose(_table(), readings).classes[0][0]
                found.append((position in first, 0 not in first))
    return tuple(found)


def _rate(kind: str, column: int, settings: int = 99) -> float:
    return float(np.mean([one[column] for one in _outcomes(kind, settings)]))


def _named(name: str) -> set[str]:
    """Return the first class for what a fault reads on average, port by port."""
    table = _table()
    case = next(c for c, (h, _) in enumerate(table.rig.cases) if name_of(table.rig.hypotheses[h]) == name)
    readings = []
    for setting in usual_settings(table.rig.ports):
        sheet = table.sheets[frozenset(setting)]
        flow, pressure = (float(value) for value in sheet.mean[sheet.row[case], :2])
        readings.append(Reading(setting, flow, pressure))
    found = diagnose(table, readings)
    return set(found.names(found.classes[0][0]))


def _check(
    name: str,
    expected: Any,
    ours: Callable[[], Any],
    tolerance: float,
    known: str = _OWN,
    source: str = _SOURCE,
) -> Check:
    return Check("diagnosis", name, expected, ours, tolerance, source, known)


_ALIKE = {"block:nozzle", "block:air+block:water", "block:air+block:nozzle", "block:water+block:nozzle"}
CHECKS: list[Check] = [
    _check("port by port: a block is noticed", 1.0, lambda: _rate("block", 1), 0.05),
    _check("port by port: a block is in the first class", 1.0, lambda: _rate("block", 0), 0.05),
    _check("port by port: a tube off its port is in the first class", 1.0, lambda: _rate("disconnected", 0), 0.05),
    _check("port by port: a partial block is in the first class", 1.0, lambda: _rate("partial", 0), 0.1),
    _check("port by port: nothing wrong is called so", 1.0, lambda: _rate("ok", 0), 0.05),
    _check("port by port: two blocks are in the first class", 1.0, lambda: _rate("two blocks", 0), 0.15),
    _check("all open only: most blocks are not noticed", 0.25, lambda: _rate("block", 1, 1), 0.25),
    _check("a blocked nozzle reads like blocks before it", True, lambda: _named("block:nozzle") >= _ALIKE, 0.0,
           "closed form", _PHYSICS),
    _check("both blocked before the nozzle read like it", True, lambda: _named("block:air+block:water") >= _ALIKE, 0.0,
           "closed form", _PHYSICS),
    _check("a blocked stretch hides one behind it", True,
           lambda: "block:suction-cord+block:biopsy-distal" in _named("block:biopsy-distal"), 0.0,
           "closed form", _PHYSICS),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_faults_are_found_as_often_as_simulated(check: Check) -> None:
    check.assert_holds()
