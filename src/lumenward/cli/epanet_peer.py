"""Our networks handed to EPANET 2.2, the public-domain solver for water mains, through the `wntr` package.

For tests and the benchmark only; `wntr` is no run-time dependency. Wires, pumps with slip and relief valves have no
counterpart there, so only round tubes between fixed pressures are compared.
"""

from __future__ import annotations

import ctypes
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Network

GRAVITY = 32.2 * 0.3048  # the value inside EPANET, m/s2
_DIAMETER, _FLOW = 0, 8
_LITRE = 1e-3
_FOLDER = {"linux": "linux-x64", "darwin": "darwin-x64", "win32": "windows-x64"}


def as_inp(network: Network, gravity: float = GRAVITY, accuracy: float = 1e-8) -> str:
    """Return the network as EPANET's input text; heads are pressures over density times `gravity`."""
    weight = network.fluid.density_kg_m3 * gravity
    free = [n for n in network.nodes if n.pressure_pa is None]
    fixed = [(n, n.pressure_pa) for n in network.nodes if n.pressure_pa is not None]
    pipes = [
        f"{t.id} {t.from_node} {t.to_node} {t.length_m:.15g} {t.bore_m * 1e3:.15g} {t.roughness_m * 1e3:.15g} "
        f"{t.minor_loss:.15g} {'Open' if t.open else 'Closed'}"
        for t in network.tubes
    ]
    kinematic = network.fluid.viscosity_pa_s / network.fluid.density_kg_m3
    lines = [
        "[TITLE]", "channels", "[JUNCTIONS]", *(f"{n.id} 0 0" for n in free),
        "[RESERVOIRS]", *(f"{n.id} {p / weight:.15g}" for n, p in fixed),
        "[PIPES]", *pipes,
        "[TIMES]", "Duration 0",
        "[OPTIONS]", "Units LPS", "Headloss D-W", f"Viscosity {kinematic:.15g}", "Trials 200",
        f"Accuracy {accuracy:g}", "[END]",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


class Toolkit:
    """One network open in EPANET's memory."""

    def __init__(
        self, network: Network, folder: Path, gravity: float = GRAVITY, accuracy: float = 1e-8
    ) -> None:
        case = folder / "case.inp"
        case.write_text(as_inp(network, gravity, accuracy), encoding="ascii")
        self.library = _library()
        self.project = ctypes.c_uint64()
        self.value, self.time = ctypes.c_double(), ctypes.c_long()
        self._call("createproject", ctypes.byref(self.project), own=False)
        self._call("open", *(str(folder / f"case.{end}").encode() for end in ("inp", "rpt", "bin")))
        self._call("openH")
        self.index = [self._index(t.id) for t in network.tubes]

    def _call(self, name: str, *given: Any, own: bool = True) -> None:
        code = getattr(self.library, "EN_" + name)(*((self.project, *given) if own else given))
        if code >= 100:
            raise RuntimeError(f"EPANET answers error {code} to {name}.")

    def _index(self, tube: str) -> int:
        found = ctypes.c_int()
        self._call("getlinkindex", tube.encode(), ctypes.byref(found))
        return found.value

    def solve(self, bore_m: Array | None = None) -> Array:
        """Return the flows (T,), m3/s, after setting the bores if given."""
        library, project = self.library, self.project
        if bore_m is not None:
            for i, bore in zip(self.index, bore_m, strict=True):
                library.EN_setlinkvalue(project, i, _DIAMETER, ctypes.c_double(bore * 1e3))
        self._call("initH", 0)
        self._call("runH", ctypes.byref(self.time))
        flow = np.empty(len(self.index))
        for place, i in enumerate(self.index):
            library.EN_getlinkvalue(project, i, _FLOW, ctypes.byref(self.value))
            flow[place] = self.value.value * _LITRE
        return flow

    def close(self) -> None:
        """Free EPANET's memory."""
        self._call("closeH")
        self._call("close")
        self._call("deleteproject")


def _library() -> ctypes.CDLL:
    """Load the shared library that wntr brings, without importing wntr and all it needs."""
    spec = find_spec("wntr")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("wntr is not installed; EPANET comes with it.", name="wntr")
    found = sorted(
        (Path(spec.origin).parent / "epanet" / "libepanet").glob(f"{_FOLDER[sys.platform]}/*epanet22.*")
    )
    if not found:
        raise ModuleNotFoundError(f"wntr brings no EPANET library for {sys.platform}.")
    return ctypes.CDLL(str(found[0]))


@contextmanager
def toolkit(network: Network, gravity: float = GRAVITY, accuracy: float = 1e-8) -> Iterator[Toolkit]:
    """Yield the network open in EPANET; its files vanish afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        engine = Toolkit(network, Path(folder), gravity, accuracy)
        try:
            yield engine
        finally:
            engine.close()


def flows(network: Network, gravity: float = GRAVITY) -> dict[str, float]:
    """Return EPANET's flow in every tube, m3/s."""
    with toolkit(network, gravity) as engine:
        found = engine.solve()
    return {tube.id: float(q) for tube, q in zip(network.tubes, found, strict=True)}


@contextmanager
def wrapped_toolkit(network: Network) -> Iterator[Callable[[Array], Array]]:
    """Yield a function from bores to flows that goes through wntr's own toolkit class, as its users do."""
    from wntr.epanet.toolkit import ENepanet

    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / "case"
        case.with_suffix(".inp").write_text(as_inp(network), encoding="ascii")
        engine = ENepanet()
        engine.ENopen(*(str(case.with_suffix(end)) for end in (".inp", ".rpt", ".bin")))
        engine.ENopenH()
        index = [engine.ENgetlinkindex(t.id) for t in network.tubes]

        def solve(bore_m: Array) -> Array:
            for i, bore in zip(index, bore_m, strict=True):
                engine.ENsetlinkvalue(i, _DIAMETER, bore * 1e3)
            engine.ENinitH(0)
            engine.ENrunH()
            return np.array([engine.ENgetlinkvalue(i, _FLOW) for i in index]) * _LITRE

        yield solve
        engine.ENcloseH()
        engine.ENclose()


def through_files(network: Network, folder: Path) -> Callable[[], Any]:
    """Return a function that runs wntr's simulator once: it writes an input file, runs EPANET, reads its results."""
    import wntr

    case = folder / "model.inp"
    case.write_text(as_inp(network), encoding="ascii")
    with warnings.catch_warnings(action="ignore"):  # it remarks on every input file with Darcy's law
        model = wntr.network.WaterNetworkModel(str(case))
    return lambda: wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "run"))
