from __future__ import annotations

import math

import pytest

from lumenward.hydraulics.network import Fluid, Network, Node, Pump, Tube
from lumenward.hydraulics.outflow import Expected, expected_outflow, judge
from lumenward.hydraulics.solver import solve
from lumenward.quantities import Refusal

PORTS = ["biopsy", "air", "wire"]


def _invented(pump: Pump | None = None) -> Network:
    """Return a hose from a supply to three clamps: a wide channel, a narrow one and one around a wire."""
    nodes = (Node("P", None if pump else 100e3), Node("M"), Node("out", 0.0))
    tubes = (
        Tube("hose", "P", "M", 1.5, 0.004, minor_loss=2.0),
        Tube("biopsy", "M", "out", 1.3, 0.0037, minor_loss=2.0),
        Tube("air", "M", "out", 3.0, 0.0012, minor_loss=1.5),
        Tube("wire", "M", "out", 1.4, 0.0009, wire_m=0.00045, eccentricity=0.5, minor_loss=2.0),
    )
    return Network(Fluid.water(35.0), nodes, tubes, pump)


def test_the_card_lists_all_open_first_and_then_each_port_alone() -> None:
    card = expected_outflow(_invented(), PORTS, 60.0)
    assert list(dict.fromkeys(line.open for line in card)) == [tuple(PORTS), *((port,) for port in PORTS)]
    assert [line.outlet for line in card[:3]] == PORTS


def test_each_line_is_what_the_network_gives_in_that_time() -> None:
    card = expected_outflow(_invented(), PORTS, 30.0)
    for line in card:
        flow = solve(_invented().with_ports(PORTS, line.open))
        assert line.volume_m3 == pytest.approx(30.0 * flow.of(line.outlet), rel=1e-9, abs=1e-18)


def test_a_closed_port_is_expected_to_give_nothing() -> None:
    for line in expected_outflow(_invented(), PORTS, 60.0):
        if line.outlet not in line.open:
            assert (line.volume_m3, line.look_m3) == (0.0, 0.0)
            assert judge(line, 0.0) == "nothing-expected"
            assert judge(line, 1e-6) == "more-than-expected"
            assert line.seconds_to(1e-6) == math.inf


def test_with_a_pump_the_narrow_channels_starve_when_all_is_open() -> None:
    pump = Pump("P", 1.25e-5, 1.25e-11, 150e3)
    card = {(line.open, line.outlet): line for line in expected_outflow(_invented(pump), PORTS, 60.0)}
    together, alone = card[tuple(PORTS), "air"], card[("air",), "air"]
    assert together.volume_m3 < 0.3 * alone.volume_m3
    assert alone.seconds_to(50e-6) < together.seconds_to(50e-6)


def test_the_unknown_place_of_a_wire_is_a_range_and_the_look_starts_below_it() -> None:
    card = {line.outlet: line for line in expected_outflow(_invented(), PORTS, 60.0, [PORTS])}
    wire = card["wire"]
    assert wire.least_m3 < wire.volume_m3 < wire.most_m3
    assert 1.8 < wire.most_m3 / wire.least_m3 < 2.5
    assert wire.look_m3 == 0.5 * wire.least_m3
    assert card["air"].most_m3 / card["air"].least_m3 < 1.01


def test_half_or_less_is_worth_a_look_and_nothing_is_too() -> None:
    line = Expected("air", ("air",), 60.0, 40e-6, 30e-6, 60e-6)
    assert judge(line, 0.0) == "worth-a-look"
    assert judge(line, 15e-6) == "worth-a-look"
    assert judge(line, 16e-6) == "as-expected"
    assert judge(line, 120e-6) == "as-expected"
    assert judge(line, 121e-6) == "more-than-expected"


def test_the_supply_is_no_outlet_and_suction_is_nothing_caught() -> None:
    nodes = (Node("in", 50e3), Node("T"), Node("out", 0.0), Node("drain", -20e3))
    tubes = (
        Tube("feed", "in", "T", 1.0, 0.002),
        Tube("tip", "T", "out", 1.0, 0.002),
        Tube("suction", "drain", "T", 1.0, 0.004),
    )
    network = Network(Fluid.water(20.0), nodes, tubes)
    card = expected_outflow(network, ["feed", "tip"], 60.0, [("feed", "tip"), ("tip",)])
    assert "feed" not in {line.outlet for line in card}
    drawn = next(line for line in card if line.outlet == "suction" and line.open == ("tip",))
    assert drawn.volume_m3 > 0.0
    assert all(line.volume_m3 == 0.0 for line in card if line.outlet == "tip" and line.open == ("tip",))


def test_a_single_port_gets_a_single_setting() -> None:
    card = expected_outflow(_invented(), ["air"], 60.0)
    assert {line.open for line in card} == {("air",)}


@pytest.mark.parametrize(
    ("ports", "seconds", "settings", "code", "field"),
    [
        (["nose"], 60.0, None, "unknown-tube", "ports"),
        (PORTS, 60.0, [("hose",)], "unknown-port", "settings"),
        (PORTS, 0.0, None, "too-low", "seconds"),
        (PORTS, -5.0, None, "too-low", "seconds"),
        (PORTS, math.nan, None, "not-finite", "seconds"),
        (PORTS, 60000.0, None, "too-high", "seconds"),
    ],
)
def test_a_card_that_cannot_be_is_refused(
    ports: list[str], seconds: float, settings: list[tuple[str, ...]] | None, code: str, field: str
) -> None:
    with pytest.raises(Refusal) as caught:
        expected_outflow(_invented(), ports, seconds, settings)
    assert (caught.value.code, caught.value.field) == (code, field)


@pytest.mark.parametrize("measured", [-1e-6, math.nan, math.inf])
def test_a_cup_that_cannot_be_is_refused(measured: float) -> None:
    with pytest.raises(Refusal):
        judge(Expected("air", ("air",), 60.0, 1e-6, 1e-6, 1e-6), measured)


def test_a_shut_pump_without_relief_is_refused_by_the_solver() -> None:
    with pytest.raises(Refusal) as caught:
        expected_outflow(_invented(Pump("P", 1.25e-5)), PORTS, 60.0, [()])
    assert caught.value.code == "pump-shut-in"
