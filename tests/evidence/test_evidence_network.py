"""Network flow, friction, annulus and water against EPANET, fluids, CoolProp, iapws and printed values."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache, partial

import fluids.friction
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import _iapws
from iapws.iapws97 import _PSat_T
from scipy.sparse import diags, identity, kron
from scipy.sparse.linalg import spsolve

from lumenward.calculations import run
from lumenward.cli import epanet_peer
from lumenward.demo.geometry import FAMILIES, load_family, port_ids
from lumenward.evidence import Check
from lumenward.hydraulics import annulus, water
from lumenward.hydraulics.network import Fluid, Network, Node, Tube
from lumenward.hydraulics.solver import Flow, solve

ML_MIN = 6e7
EPANET = "computed by EPANET 2.2 (the library in wntr 1.5.0)"
WHITE = "White, Fluid Mechanics"


def relative(
    name: str, expected: float, ours: Callable[[], object], tolerance: float, source: str, known: str
) -> Check:
    return Check("network", name, expected, ours, tolerance, source, known, relative=True)


def absolute(
    name: str, expected: object, ours: Callable[[], object], tolerance: float, source: str, known: str
) -> Check:
    return Check("network", name, expected, ours, tolerance, source, known)


def tube_flow() -> float:
    ends = (Node("in", 100e3), Node("out", 0.0))
    return solve(Network(Fluid.water(20.0), ends, (Tube("t", "in", "out", 3.0, 1e-3),))).of("t") * ML_MIN


LAMINAR = [
    relative(
        "one laminar tube, mL/min",
        49.01,
        tube_flow,
        1e-3,
        "Hagen-Poiseuille, 1 mm x 3 m, 100 kPa, 20 C",
        "closed form",
    ),
    relative(
        "one laminar tube against its own viscosity",
        math.pi * 1e-12 * 1e5 / (128 * PropsSI("V", "T", 293.15, "P", 101325, "Water") * 3.0) * ML_MIN,
        tube_flow,
        2e-4,
        "Hagen-Poiseuille with CoolProp's viscosity",
        "computed by CoolProp",
    ),
]

CENTRED = [
    absolute(
        f"centred annulus f Re at k = {k:g}",
        expected,
        lambda k=k: run("annulus", {"radius_ratio": k, "eccentricity": 0})["laminar_f_re"],
        0.01,
        f"{WHITE}, table 6.3",
        "read",
    )
    for k, expected in zip(
        (1e-5, 1e-4, 0.001, 0.01, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0),
        (70.09, 71.78, 74.68, 80.11, 86.27, 89.37, 92.35, 94.71, 95.59, 95.92, 96.0),
        strict=True,
    )
]


@cache
def finite_difference_ratio(k: float, e: float, across: int = 120, around: int = 240) -> float:
    """Solve Poisson's equation in bipolar coordinates on a grid: flow beside the shifted wire over the centred."""
    shift = e * (1 - k)
    centre = (1 - k**2 + shift**2) / (2 * shift)
    focus = math.sqrt(centre**2 - 1)
    outer, inner = math.asinh(focus), math.asinh(focus / k)
    eta = np.linspace(outer, inner, across + 1)[1:-1]
    xi = np.linspace(0, math.pi, around + 1)
    d_eta, d_xi = (inner - outer) / across, math.pi / around
    second_eta = diags([1.0, -2.0, 1.0], [-1, 0, 1], shape=(across - 1, across - 1), dtype=float) / d_eta**2
    second_xi = diags([1.0, -2.0, 1.0], [-1, 0, 1], shape=(around + 1, around + 1)).tolil()
    second_xi[0, 1] = second_xi[around, around - 1] = 2.0
    operator = kron(second_eta, identity(around + 1)) + kron(
        identity(across - 1), second_xi.tocsr() / d_xi**2
    )
    metric = (focus / (np.cosh(eta)[:, None] - np.cos(xi)[None, :])) ** 2
    u = spsolve(operator.tocsc(), -metric.ravel()).reshape(metric.shape)
    weights = np.full(around + 1, d_xi)
    weights[[0, -1]] /= 2
    flow = 2 * float(np.sum(u * metric * weights[None, :]) * d_eta)
    centred = math.pi / 8 * (1 - k**4 - (1 - k**2) ** 2 / math.log(1 / k))
    return flow / centred


def extrapolated(k: float, e: float) -> float:
    coarse, fine = finite_difference_ratio(k, e), finite_difference_ratio(k, e, 240, 480)
    return fine + (fine - coarse) / 3


SHIFTED = [
    absolute(
        f"shifted wire, flow ratio at k, e = {k}, {e} ({way})",
        expected,
        lambda k=k, e=e: annulus.flow_ratio(k, e),
        5e-4,
        source,
        known,
    )
    for k, e, printed in ((0.5, 0.5, 1.3476), (0.5, 0.9, 2.0847))
    for way, expected, source, known in (
        ("noted", printed, "Piercy, Hooper and Winny 1933, evaluated by a separate prototype", "recalled"),
        (
            "finite differences",
            extrapolated(k, e),
            "Poisson's equation in bipolar coordinates, grid of 240 x 480",
            "computed by scipy",
        ),
    )
]

POINTS = ((1e5, 1e-4), (3e3, 1e-2), (4e3, 0.0), (1e4, 5e-4), (5e3, 1e-3))
PRINTED = {
    "colebrook": (0.0185138661, 0.0518683609, 0.0399070141, 0.0316442359, 0.0384953590),
    "churchill": (0.0184626246, 0.0479493313, 0.0405897330, 0.0318654508, 0.0391380944),
}
LIBRARY = {"colebrook": fluids.friction.Colebrook, "churchill": fluids.friction.Churchill_1977}


def by_name(law: str, re: float, rough: float) -> float:
    case = {"law": law, "reynolds": re, "relative_roughness": rough}
    return float(run("friction", case)["friction_factor"])


FRICTION = [
    relative(
        f"{law} at Re {re:g}, roughness {rough:g}{where}",
        value,
        lambda law=law, re=re, rough=rough: by_name(law, re, rough),
        1e-6,
        source,
        known,
    )
    for law in PRINTED
    for (re, rough), printed in zip(POINTS, PRINTED[law], strict=True)
    for where, value, source, known in (
        ("", printed, "fluids 1.3.1, noted", "computed by fluids 1.3.1"),
        (
            ", this run",
            LIBRARY[law](re, rough),
            "fluids, this run",
            f"computed by fluids {fluids.__version__}",
        ),
    )
] + [
    relative(
        f"swamee-jain at Re {re:g}, roughness {rough:g}",
        fluids.friction.Swamee_Jain_1976(re, rough),
        lambda re=re, rough=rough: by_name("swamee-jain", re, rough),
        5e-5,
        "fluids (unrounded coefficients)",
        f"computed by fluids {fluids.__version__}",
    )
    for re, rough in POINTS
]


@cache
def three_pipes(law: str) -> Flow:
    """White's three pipes in parallel: head 20.3 m, water of nu 1.02e-6, g 9.81."""
    ends = (Node("in", 1000 * 9.81 * 20.3), Node("out", 0.0))
    sizes = (("1", 100, 0.08, 0.24e-3), ("2", 150, 0.06, 0.12e-3), ("3", 80, 0.04, 0.20e-3))
    tubes = tuple(Tube(n, "in", "out", length, bore, roughness_m=rough) for n, length, bore, rough in sizes)
    return solve(Network(Fluid(1000, 1.02e-3), ends, tubes, friction=law))


PARALLEL = [
    relative(
        f"parallel pipe {n}, m3/h ({law})",
        expected,
        lambda n=n, law=law: three_pipes(law).of(n) * 3600,
        5e-3,
        f"{WHITE}, example on parallel pipes",
        "read",
    )
    for law in ("colebrook", "epanet")
    for n, expected in (("1", 62.5), ("2", 25.9), ("3", 11.4))
] + [
    relative(
        "parallel pipes, total m3/h",
        99.8,
        lambda: float(three_pipes("colebrook").flow.sum()) * 3600,
        5e-3,
        f"{WHITE}, example on parallel pipes",
        "read",
    )
]


@cache
def steady(family: str) -> Network:
    return load_family(family, pressure_pa=100e3, temperature_c=20.0, wires=False)


@cache
def ours(family: str) -> Flow:
    return solve(steady(family))


@cache
def theirs(family: str, gravity: float) -> dict[str, float]:
    return epanet_peer.flows(steady(family), gravity)


def largest(family: str, gravity: float) -> float:
    return max(abs(ours(family).of(name) / q - 1) for name, q in theirs(family, gravity).items())


NOTED = {
    "hose": 1285.9,
    "suction-cord": 556.5,
    "biopsy-stub": 549.1,
    "biopsy-distal": 1105.6,
    "air": 70.60,
    "water": 70.60,
    "nozzle": 141.2,
    "aux-water": 39.06,
}

MAINS = (
    [
        relative(
            f"gastroscope net at 100 kPa: {name}, mL/min",
            q,
            lambda name=name: ours("gastroscope").of(name) * ML_MIN,
            1.5e-3,
            "EPANET 2.2, its own g",
            "computed by EPANET 2.2 (wntr 1.5.0)",
        )
        for name, q in NOTED.items()
    ]
    + [
        relative(
            f"gastroscope net, this run, g matched: {t.id}, mL/min",
            theirs("gastroscope", epanet_peer.GRAVITY)[t.id] * ML_MIN,
            lambda name=t.id: ours("gastroscope").of(name) * ML_MIN,
            1e-4,
            "EPANET 2.2 with heads over its own g of 32.2 ft/s2",
            EPANET,
        )
        for t in steady("gastroscope").tubes
    ]
    + [
        absolute(
            f"{family} net, this run, largest deviation of any tube ({how})",
            0.0,
            lambda family=family, g=g: largest(family, g),
            tolerance,
            "EPANET 2.2",
            EPANET,
        )
        for family in FAMILIES
        for how, g, tolerance in (("g matched", epanet_peer.GRAVITY, 1e-4), ("g 9.80665", 9.80665, 1.5e-3))
    ]
)


def looped(seed: int) -> Network:
    """Eight tubes with loops and two sources; half the tubes are named against their flow."""
    random = np.random.default_rng(seed)
    nodes = (Node("R", 80e3), Node("S", 30e3), Node("O", 0.0), *(Node(str(i)) for i in range(4)))
    pairs = (("R", "0"), ("0", "1"), ("1", "O"), ("2", "0"), ("1", "2"), ("2", "3"), ("O", "3"), ("S", "3"))
    tubes = tuple(
        Tube(
            f"t{i}",
            a,
            b,
            float(random.uniform(0.2, 3)),
            float(random.uniform(8e-4, 4e-3)),
            minor_loss=float(random.uniform(0, 3)),
        )
        for i, (a, b) in enumerate(pairs)
    )
    return Network(Fluid.water(20.0), nodes, tubes)


def largest_in_loops(seed: int) -> float:
    network = looped(seed)
    flow, peer = solve(network), epanet_peer.flows(network)
    scale = float(np.max(np.abs(flow.flow)))
    return max(abs(flow.of(name) - q) / scale for name, q in peer.items())


LOOPS = [
    absolute(
        f"looped net {seed}, two sources, flow either way",
        0.0,
        lambda seed=seed: largest_in_loops(seed),
        1e-4,
        "EPANET 2.2",
        EPANET,
    )
    for seed in range(5)
]


def never_lower() -> bool:
    """Open the ports one after the other at 100 kPa: the total rises, every other channel falls or stays."""
    for family in FAMILIES:
        network, ports = load_family(family, pressure_pa=100e3), port_ids(family)
        before = solve(network.with_ports(ports, ports[:1]))
        for count in range(2, len(ports) + 1):
            after = solve(network.with_ports(ports, ports[:count]))
            others_fall = all(after.of(p) <= before.of(p) * (1 + 1e-9) for p in ports[: count - 1])
            if after.of("hose") < before.of("hose") or not others_fall:
                return False
            before = after
    return True


def worst_imbalance() -> float:
    return max(solve(load_family(family)).imbalance for family in FAMILIES)


INVARIANTS = [
    absolute(
        "largest imbalance over inflow, five nets on the pump",
        0.0,
        worst_imbalance,
        1e-9,
        "conservation of mass",
        "closed form",
    ),
    absolute(
        "one more open port at fixed pressure: total up, others down",
        True,
        never_lower,
        0.0,
        "monotone networks",
        "closed form",
    ),
]

TABLE = (
    (10, 999.702, 1305.90, 1228.2, 74.221),
    (20, 998.207, 1001.60, 2339.3, 72.736),
    (25, 997.048, 890.02, 3169.9, 71.972),
    (37, 993.330, 691.30, 6282.3, 70.081),
    (45, 990.213, 595.77, 9595.0, 68.777),
    (60, 983.196, 466.04, 19946.4, 66.238),
)


def of_water(key: str, t: float) -> float:
    return float(run("water", {"temperature_c": t})[key])


def water_rows(t: float, rho: float, mu: float, psat: float, sigma: float) -> list[Check]:
    kelvin = t + 273.15
    density = partial(of_water, "density_kg_m3", t)
    thick = partial(of_water, "viscosity_pa_s", t)
    vapour = partial(of_water, "saturation_pressure_pa", t)
    skin = partial(of_water, "surface_tension_n_m", t)
    noted, now = "computed by CoolProp 8.0.0 and iapws 1.5.5", "computed by CoolProp"
    return [
        absolute(f"water density {t} C", rho, density, 0.02, "CoolProp, noted", noted),
        absolute(
            f"water density {t} C, this run",
            PropsSI("D", "T", kelvin, "P", 101325, "Water"),
            density,
            0.02,
            "CoolProp",
            now,
        ),
        relative(f"water viscosity {t} C", mu * 1e-6, thick, 2e-4, "CoolProp and iapws, noted", noted),
        relative(
            f"water viscosity {t} C, this run",
            float(_iapws._Viscosity(water.density(t), kelvin)),
            thick,
            2e-4,
            "iapws, IAPWS 2008 in full",
            "computed by iapws",
        ),
        relative(f"water vapour pressure {t} C", psat, vapour, 2e-4, "CoolProp, noted", noted),
        relative(
            f"water vapour pressure {t} C, this run",
            PropsSI("P", "T", kelvin, "Q", 0, "Water"),
            vapour,
            2e-4,
            "CoolProp",
            now,
        ),
        relative(
            f"water vapour pressure {t} C, second peer",
            _PSat_T(kelvin) * 1e6,
            vapour,
            3e-4,
            "iapws, IF97",
            "computed by iapws",
        ),
        relative(f"water surface tension {t} C", sigma * 1e-3, skin, 5e-5, "iapws, noted", noted),
        relative(
            f"water surface tension {t} C, this run",
            float(_iapws._Tension(kelvin)),
            skin,
            5e-5,
            "iapws",
            "computed by iapws",
        ),
    ]


WATER = [check for row in TABLE for check in water_rows(*row)] + [
    relative(
        "water viscosity 25 C against the release's point at 998 kg/m3",
        889.7351e-6,
        lambda: water.viscosity(25.0),
        5e-4,
        "IAPWS R12-08, table of check values (density 998 instead of 997.05)",
        "read",
    ),
    relative(
        "viscosity of a cold sink over a warm one, 20 and 40 C",
        1.534,
        lambda: water.viscosity(20.0) / water.viscosity(40.0),
        1e-3,
        "CoolProp, noted",
        "computed by CoolProp 8.0.0",
    ),
]

CHECKS = [*LAMINAR, *CENTRED, *SHIFTED, *FRICTION, *PARALLEL, *MAINS, *LOOPS, *INVARIANTS, *WATER]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_network_flow_agrees_with_the_world(check: Check) -> None:
    check.assert_holds()
