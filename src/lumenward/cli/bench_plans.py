"""How fast clamps are planned and faults told apart here; rows for the benchmark of the channels."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from lumenward.demo.geometry import channel_ids, load_family, port_ids
from lumenward.hydraulics.clamp_settings import every_setting
from lumenward.hydraulics.clamps import clamp_plan
from lumenward.hydraulics.diagnosis import Reading, diagnose
from lumenward.hydraulics.fault_table import Table, prepare, usual_settings
from lumenward.hydraulics.few_settings import Task, integer_programme
from lumenward.hydraulics.next_reading import worth_taking
from lumenward.hydraulics.simplex import least_total

SIX_PORTS = "echoendoscope"
DIAGNOSED = "gastroscope"
VOLUMES = 5.0
SWITCH_S = 4.0
PLAN_ROUNDS = 7


def clamp_plans() -> list[dict[str, Any]]:
    """Return the times of a plan with 6 ports, network solves included, without and with a cost per change."""
    network, ports = load_family(SIX_PORTS), port_ids(SIX_PORTS)
    held = {tube.id: tube.volume_m3 for tube in network.tubes}
    required = {name: VOLUMES * held[name] for name in channel_ids(SIX_PORTS)}
    plain = _best(lambda: clamp_plan(network, ports, required))
    dear = _best(lambda: clamp_plan(network, ports, required, switch_s=SWITCH_S))
    note = "6 ports, 63 settings, network solves included"
    return [
        _row("clamp plan", plain, "s", 0.030, note),
        _row("clamp plan, cost per change", dear, "s", 0.150, note),
    ]


def clamp_peer() -> list[dict[str, Any]]:
    """Return what HiGHS alone takes for the same programme, and how far its total lies from ours."""
    network, ports = load_family(SIX_PORTS), port_ids(SIX_PORTS)
    settings = every_setting(network, ports, channel_ids(SIX_PORTS))
    demands = np.array([VOLUMES * network.tubes[network.tube_index[n]].volume_m3 for n in settings.channels])
    needs = (settings.flow / demands).T
    unit = float((1 / needs.max(axis=1)).max())
    task = Task(needs * unit, SWITCH_S / unit)
    plain = least_total(task.needs)
    if plain is None:
        return []
    start = time.perf_counter()
    used, _ = integer_programme(task, plain.total, task.cost_of(plain))
    spent = time.perf_counter() - start
    found = plain if used is None else task.within(used) or plain
    required = dict(zip(settings.channels, map(float, demands), strict=True))
    ours = clamp_plan(network, ports, required, switch_s=SWITCH_S).total_s
    apart = abs(task.cost_of(found) * unit / ours - 1)
    return [
        _row(
            "clamp plan, cost per change, HiGHS alone",
            spent,
            "s",
            None,
            "scipy.optimize.milp, imported before",
        ),
        _row("our clamp plan and HiGHS apart", apart, "relative", 1e-4, "total with the cost of changes"),
    ]


def diagnoses() -> list[dict[str, Any]]:
    """Return the time to prepare a model's table and that of a diagnosis with single and double faults."""
    start = time.perf_counter()
    table = prepare(load_family(DIAGNOSED), port_ids(DIAGNOSED))
    prepared = time.perf_counter() - start
    readings = _readings(table)
    spent = _best(lambda: worth_taking(diagnose(table, readings[:3])))
    return [
        _row("diagnosis, table of one model", prepared, "s", None, "prepared once and kept"),
        _row(
            "diagnosis",
            spent,
            "s",
            1.0,
            f"{len(table.rig.hypotheses)} single and double faults, next reading included",
        ),
    ]


def _readings(table: Table) -> list[Reading]:
    found = []
    for setting in usual_settings(table.rig.ports):
        sheet = table.sheets[frozenset(setting)]
        flow, pressure = sheet.mean[sheet.row[0], :2]
        found.append(Reading(setting, float(flow), float(pressure)))
    return found


def _best(what: Callable[[], object]) -> float:
    best = float("inf")
    for _ in range(PLAN_ROUNDS):
        start = time.perf_counter()
        what()
        best = min(best, time.perf_counter() - start)
    return best


def _row(name: str, value: float, unit: str, wanted: float | None, note: str) -> dict[str, Any]:
    met = None if wanted is None else value <= wanted
    return {"name": name, "value": value, "unit": unit, "wanted": wanted, "met": met, "note": note}
