"""How fast the channels are calculated here, beside a peer in the same run on the same machine.

`channels_benchmark()` returns {"machine": {…}, "measures": [{"name", "value", "unit", "wanted", "met", "note"}, …],
"notes": […], "missing": [packages that are not installed]}. `wanted` is the figure the project set itself, None where
a measure only informs. A measure is a function without arguments that returns such rows; further ones are added to
`MEASURES`.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from lumenward.cli import bench_plans, epanet_peer
from lumenward.demo.geometry import load_family
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.solver import FlowBatch, Variants, has_compiler, solve_many, warm_up

Row = dict[str, Any]
Measure = Callable[[], list[Row]]

MANY = 100_000
BORE_SPREAD = 0.03
ROUNDS = 3
PEER_NETWORKS = 3_000
FILE_RUNS = 20
SHELL_CASE = {
    "fluid": {"temperature_c": 20},
    "nodes": [{"id": "in", "pressure_pa": 100000}, {"id": "out", "pressure_pa": 0}],
    "tubes": [{"id": "t", "from": "in", "to": "out", "length_m": 3.0, "bore_m": 0.001}],
}


def channels_benchmark() -> dict[str, Any]:
    """Run every measure and return the rows; what a missing package prevents stands in `notes`."""
    rows: list[Row] = []
    missing = [] if has_compiler() else ["numba"]
    notes = [
        "Gastroscope demo network, 13 tubes, 100 kPa, bores varied by 3 %; the best of three rounds.",
        "The peers solve the same networks one after the other on one core, as their interfaces allow.",
    ]
    for measure in MEASURES:
        try:
            rows += measure()
        except ImportError as error:
            missing.append(error.name or str(error))
            notes.append(f"Not measured ({measure.__name__.strip('_')}): {error}")
    gone = list(dict.fromkeys(missing))
    return {"machine": _machine(), "measures": rows + _ratios(rows), "notes": notes, "missing": gone}


def row(
    name: str, value: float, unit: str, wanted: float | None = None, note: str = "", *, low: bool = False
) -> Row:
    """Return one measure; with `low` a smaller value is better."""
    met = None if wanted is None else (value <= wanted if low else value >= wanted)
    return {"name": name, "value": value, "unit": unit, "wanted": wanted, "met": met, "note": note}


def _network() -> Network:
    return load_family("gastroscope", pressure_pa=100e3, temperature_c=20.0)


def _bores(network: Network, count: int) -> Array:
    spread = np.random.default_rng(1).standard_normal((count, len(network.tubes)))
    return np.array([t.bore_m for t in network.tubes]) * (1 + BORE_SPREAD * spread)


def _timed(engine: str, count: int) -> tuple[float, FlowBatch]:
    network = _network()
    variants = Variants(bore_m=_bores(network, count))
    best = float("inf")
    for _ in range(ROUNDS):
        start = time.perf_counter()
        batch = solve_many(network, variants, engine=engine)
        best = min(best, time.perf_counter() - start)
    return count / best, batch


def _ours() -> list[Row]:
    start = time.perf_counter()
    compiled = warm_up()
    ready = time.perf_counter() - start
    plain, batch = _timed("numpy", MANY)
    rows = [row("numpy", plain, "networks/s", 10_000)]
    if compiled:
        speed, theirs = _timed("compiled", MANY)
        apart = float(np.max(np.abs(theirs.flow / batch.flow - 1)))
        rows += [
            row("compiled", speed, "networks/s", 100_000, f"{os.cpu_count()} threads"),
            row(
                "compiled and numpy apart",
                apart,
                "relative",
                1e-9,
                "largest of any tube of any variant",
                low=True,
            ),
            row("ready", ready, "s", None, "loading the compiled code, or compiling it the first time"),
        ]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (
        1024 if sys.platform != "darwin" else 1024**2
    )
    return [
        *rows,
        row("memory", peak, "MB", 500, f"peak of the process after both batches of {MANY}", low=True),
    ]


def _epanet() -> list[Row]:
    network = _network()
    bores = _bores(network, PEER_NETWORKS)
    best = float("inf")
    with epanet_peer.toolkit(network) as engine:
        for _ in range(ROUNDS):
            start = time.perf_counter()
            found = np.array([engine.solve(bore) for bore in bores])
            best = min(best, time.perf_counter() - start)
    mine = solve_many(network, Variants(bore_m=bores), engine="numpy").flow
    apart = float(np.max(np.abs(mine / found - 1)))
    return [
        row(
            "EPANET in memory, bare library",
            PEER_NETWORKS / best,
            "networks/s",
            None,
            "ctypes straight into EPANET",
        ),
        row("ours and EPANET apart", apart, "relative", 1e-4, "largest of any tube", low=True),
    ]


def _toolkit() -> list[Row]:
    network = _network()
    bores = _bores(network, PEER_NETWORKS)
    with epanet_peer.wrapped_toolkit(network) as solve:
        start = time.perf_counter()
        for bore in bores:
            solve(bore)
        spent = time.perf_counter() - start
    return [
        row("EPANET toolkit in memory", PEER_NETWORKS / spent, "networks/s", None, "wntr's toolkit class")
    ]


def _files() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        run = epanet_peer.through_files(_network(), Path(folder))
        start = time.perf_counter()
        for _ in range(FILE_RUNS):
            run()
        spent = time.perf_counter() - start
    return [row("wntr through files", FILE_RUNS / spent, "networks/s", None, "EpanetSimulator.run_sim")]


def _shell() -> list[Row]:
    command = [sys.executable, "-c", "from lumenward.cli import main; main()", "calc", "flow"]
    best = float("inf")
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run(command, input=json.dumps(SHELL_CASE), text=True, capture_output=True, check=True)
        best = min(best, time.perf_counter() - start)
    return [row("calc flow from the shell", best, "s", 1.0, "start-up included", low=True)]


MEASURES: list[Measure] = [
    _ours,
    _epanet,
    _toolkit,
    _files,
    _shell,
    bench_plans.clamp_plans,
    bench_plans.clamp_peer,
    bench_plans.diagnoses,
]


def _ratios(rows: list[Row]) -> list[Row]:
    found = {r["name"]: r["value"] for r in rows}
    pairs = [
        ("compiled", "EPANET toolkit in memory", 15.0),
        ("compiled", "EPANET in memory, bare library", None),
        ("numpy", "EPANET in memory, bare library", None),
        ("compiled", "wntr through files", 1000.0),
        ("numpy", "wntr through files", None),
    ]
    return [
        row(f"{ours} over {theirs}", found[ours] / found[theirs], "times", wanted)
        for ours, theirs, wanted in pairs
        if ours in found and theirs in found
    ]


def _machine() -> dict[str, Any]:
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else None
    return {
        "processors": os.cpu_count(),
        "load": load,
        "python": platform.python_version(),
        "numpy": np.__version__,
    }
