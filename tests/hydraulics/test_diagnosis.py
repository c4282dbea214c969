from __future__ import annotations

import math
import time
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lumenward.calculations import find, run
from lumenward.calculations.case import parse
from lumenward.demo.geometry import load_family, port_ids
from lumenward.hydraulics.diagnosis import Diagnosis, Reading, diagnose
from lumenward.hydraulics.diagnosis_words import advice, summary
from lumenward.hydraulics.fault_store import kept
from lumenward.hydraulics.fault_table import Table, digest, prepare, usual_settings
from lumenward.hydraulics.faults import Hypothesis, name_of, rig
from lumenward.hydraulics.next_reading import entropy_bits, worth_taking
from lumenward.hydraulics.solver import solve
from lumenward.quantities import Refusal

FAMILY = "gastroscope"
PORTS = port_ids(FAMILY)
ALL_OPEN, *ALONE = usual_settings(PORTS)


@cache
def _table() -> Table:
    return prepare(load_family(FAMILY), PORTS)


def _position(name: str) -> int:
    return [name_of(h) for h in _table().rig.hypotheses].index(name)


def _hypothesis(name: str) -> Hypothesis:
    return _table().rig.hypotheses[_position(name)]


def _expected(name: str, setting: tuple[str, ...], what: str = "fp") -> Reading:
    """Return what the fault reads on average: f total flow, p pressure, o outlets."""
    sheet = _table().sheets[frozenset(setting)]
    cases = [c for c, (h, _) in enumerate(_table().rig.cases) if h == _position(name)]
    values = sheet.mean[sheet.row[cases[len(cases) // 2]]]
    outlets = dict(zip(_table().rig.outlets, map(float, values[2:]), strict=True))
    return Reading(
        setting,
        float(values[0]) if "f" in what else None,
        float(values[1]) if "p" in what else None,
        outlets if "o" in what else {},
    )


def _port_by_port(name: str) -> Diagnosis:
    return diagnose(_table(), [_expected(name, setting) for setting in (ALL_OPEN, *ALONE)])


def _case(**changes: Any) -> dict[str, Any]:
    return {**deepcopy(find("diagnose").EXAMPLE), **changes}


def test_the_prediction_without_faults_is_what_the_solver_gives() -> None:
    network = load_family(FAMILY)
    for setting in (ALL_OPEN, ALONE[2]):
        flow, reading = solve(network.with_ports(PORTS, setting)), _expected("ok", setting, "fpo")
        assert reading.flow_m3_s == pytest.approx(flow.delivered, rel=0.01)
        assert reading.pressure_pa == pytest.approx(flow.at("M"), rel=0.02)
        assert reading.outflow_m3_s["nozzle"] == pytest.approx(flow.of("nozzle"), rel=0.01, abs=1e-12)


def test_faults_are_named_as_published() -> None:
    names = {name_of(h) for h in _table().rig.hypotheses}
    singles = {"ok", "block:air", "partial:aux-water", "disconnected:port-suction", "block:biopsy-distal"}
    assert singles | {"block:air+block:water", "block:air+disconnected:port-suction"} <= names
    assert not any("hose" in name or "block:port" in name for name in names)
    assert not any(name.count("air") == 2 and "port-air" not in name for name in names)


def test_priors_sum_to_one_and_half_of_it_says_nothing_is_wrong() -> None:
    prior = _table().rig.prior
    assert prior.sum() == pytest.approx(1.0, abs=1e-12)
    assert prior[0] == 0.5
    assert (prior > 0).all()


@pytest.mark.parametrize("name", ["ok", "block:air", "partial:water", "disconnected:port-biopsy"])
def test_the_posterior_sums_to_one(name: str) -> None:
    for readings in (
        [_expected(name, ALL_OPEN)],
        [_expected(name, ALL_OPEN, "o"), _expected(name, ALONE[0])],
    ):
        found = diagnose(_table(), readings)
        assert abs(math.fsum(p for _, p in found.classes) - 1) < 1e-12
        assert abs(sum(p for _, p in found.classes) - 1) < 1e-12
        assert abs(found.probability.sum() - 1) < 1e-12
        members = sorted(h for group, _ in found.classes for h in group)
        assert members == list(range(len(_table().rig.hypotheses)))


def test_port_by_port_a_blocked_nozzle_and_blocked_pairs_before_it_are_one_class() -> None:
    alike = {"block:nozzle", "block:air+block:water", "block:air+block:nozzle", "block:water+block:nozzle"}
    for name in sorted(alike):
        found = _port_by_port(name)
        members, probability = found.classes[0]
        assert alike <= set(found.names(members))
        assert probability > 0.95
        assert not any("suction" in member for member in found.names(members))


def test_what_lies_behind_a_blocked_stretch_cannot_be_told() -> None:
    found = _port_by_port("block:biopsy-distal")
    named = found.names(found.classes[0][0])
    assert "block:suction-cord+block:biopsy-distal" in named
    assert named[0] == "block:biopsy-distal"


@pytest.mark.parametrize("name", ["block:air", "block:water", "block:aux-water"])
def test_with_all_ports_open_a_blocked_narrow_channel_is_not_called_in_order_nor_found(name: str) -> None:
    found = diagnose(_table(), [_expected(name, ALL_OPEN)])
    members, _ = found.classes[0]
    assert {"ok", name} <= set(found.names(members))
    assert not found.can_tell
    assert "cannot tell whether anything is wrong" in summary(found)


@pytest.mark.parametrize("name", ["block:air", "block:water", "block:aux-water", "block:suction-cord"])
def test_port_by_port_a_blocked_channel_is_found_for_sure(name: str) -> None:
    found = _port_by_port(name)
    members, probability = found.classes[0]
    assert found.names(members)[0] == name
    assert "ok" not in found.names(members)
    assert probability > 0.99 and found.can_tell and found.explained


def test_nothing_wrong_is_called_so_when_every_port_was_read() -> None:
    found = _port_by_port("ok")
    assert found.names(found.classes[0][0]) == ["ok"]
    assert found.classes[0][1] > 0.9


def test_the_order_of_readings_does_not_matter() -> None:
    readings = [_expected("partial:air", setting) for setting in (ALL_OPEN, *ALONE)]
    forth, back = diagnose(_table(), readings), diagnose(_table(), readings[::-1])
    assert forth.probability == pytest.approx(back.probability, rel=1e-6, abs=1e-12)


def test_the_same_readings_give_the_same_answer_every_time() -> None:
    readings = [_expected("block:air", ALL_OPEN)]
    first, again = diagnose(_table(), readings), diagnose(_table(), readings)
    assert (first.probability == again.probability).all()
    assert worth_taking(first) == worth_taking(again)


def test_the_next_reading_opens_the_port_that_the_readings_left_in_doubt() -> None:
    readings = [_expected("ok", setting) for setting in (ALL_OPEN, *ALONE) if setting != ("port-aux-water",)]
    found = diagnose(_table(), readings)
    best = worth_taking(found)[0]
    assert best.open == ("port-aux-water",) or best.what == ("aux-water",)
    assert best.bits > 0.3
    assert "aux-water" in advice(found, worth_taking(found), entropy_bits(found.probability))


def test_no_reading_is_expected_to_settle_more_than_is_open() -> None:
    found = diagnose(_table(), [_expected("block:air", ALL_OPEN)])
    still_open = entropy_bits(found.probability)
    candidates = worth_taking(found)
    assert all(0 <= one.bits <= still_open for one in candidates)
    assert [one.bits for one in candidates] == sorted((one.bits for one in candidates), reverse=True)


def test_readings_already_taken_are_not_asked_for_again() -> None:
    found = diagnose(
        _table(), [_expected("ok", s, "fpo" if s == ALL_OPEN else "fp") for s in (ALL_OPEN, *ALONE)]
    )
    assert worth_taking(found) == ()
    assert "Every reading in reach has been taken" in advice(found, (), 0.0)


def test_expected_drops_come_true_on_average() -> None:
    found = diagnose(_table(), [_expected("ok", ALL_OPEN)])
    promised = next(one.bits for one in worth_taking(found) if one.open == ("port-air",))
    sheet, rng = found.table.sheets[frozenset(["port-air"])], np.random.default_rng(11)
    drops = []
    for case in rng.choice(len(found.weight), size=60, p=found.weight):
        mean, slope = sheet.mean[sheet.row[case], :2], sheet.slope[sheet.row[case], :2]
        shown = mean + slope @ rng.standard_normal(found.table.unknowns)
        shown = shown + np.hypot(0.03 * shown, [0.7e-6 / 60, 700.0]) * rng.standard_normal(2)
        more = Reading(("port-air",), max(float(shown[0]), 0.0), float(shown[1]))
        after = diagnose(_table(), [_expected("ok", ALL_OPEN), more])
        drops.append(entropy_bits(found.probability) - entropy_bits(after.probability))
    assert np.mean(drops) == pytest.approx(promised, abs=4 * np.std(drops) / math.sqrt(60))


def test_its_own_baseline_makes_an_endoscope_easier_to_judge() -> None:
    readings, before = [_expected("block:suction-cord", ALL_OPEN)], [_expected("ok", ALL_OPEN)]
    plain = diagnose(_table(), readings).probability[_position("block:suction-cord")]
    own = diagnose(_table(), readings, before).probability[_position("block:suction-cord")]
    assert own > 1.5 * plain


def test_a_baseline_of_wider_bores_explains_what_would_else_be_a_fault() -> None:
    off = [
        Reading(r.open, 1.02 * (r.flow_m3_s or 0), 1.15 * (r.pressure_pa or 0))
        for r in [_expected("ok", ALL_OPEN)]
    ]
    plain, own = diagnose(_table(), off), diagnose(_table(), off, off)
    assert own.probability[0] > plain.probability[0]


def test_readings_that_no_fault_explains_are_called_so() -> None:
    found = diagnose(_table(), [Reading(ALL_OPEN, 1e-4, 20.0)])
    assert not found.explained and not found.can_tell
    assert summary(found).startswith("None of the faults considered explains these readings")
    assert advice(found, worth_taking(found), 1.0).startswith("Take the same readings again")


def test_a_setting_beside_the_usual_ones_is_worked_out_when_it_is_read() -> None:
    pair = ("port-air", "port-aux-water")
    flow = solve(load_family(FAMILY).with_ports(PORTS, pair))
    found = diagnose(_table(), [Reading(pair, flow.delivered, flow.at("M"))])
    assert frozenset(pair) in found.table.sheets
    assert frozenset(pair) not in _table().sheets
    assert "ok" in found.names(found.classes[0][0])


def test_diagnosis_with_double_faults_is_quick_once_the_table_is_there() -> None:
    readings = [_expected("block:air", setting) for setting in (ALL_OPEN, *ALONE)]
    diagnose(_table(), readings)
    start = time.process_time()
    worth_taking(diagnose(_table(), readings))
    assert time.process_time() - start < 1.0


def test_a_table_is_kept_on_disk_and_read_back_the_same(tmp_path: Path) -> None:
    network, ports = load_family("bronchoscope"), port_ids("bronchoscope")
    made = kept(tmp_path, network, ports)
    (path,) = tmp_path.iterdir()
    again = kept(tmp_path, network, ports)
    for setting, sheet in made.sheets.items():
        for part in ("row", "mean", "slope", "left"):
            assert (getattr(sheet, part) == getattr(again.sheets[setting], part)).all()
    assert path.stem == f"faults-{digest(rig(network, ports))}"


def test_a_damaged_table_is_made_anew_and_another_model_gets_its_own(tmp_path: Path) -> None:
    ports = port_ids("bronchoscope")
    kept(tmp_path, load_family("bronchoscope"), ports)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[:100])
    assert kept(tmp_path, load_family("bronchoscope"), ports).sheets
    kept(tmp_path, load_family("bronchoscope", temperature_c=20.0), ports)
    assert len(list(tmp_path.iterdir())) == 2


def test_a_folder_that_cannot_be_written_costs_time_but_no_answer(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    assert kept(tmp_path / "file" / "tables", load_family("bronchoscope"), port_ids("bronchoscope")).sheets


def test_the_calculation_keeps_its_tables_where_it_is_told(tmp_path: Path) -> None:
    module = find("diagnose")
    fresh = run("diagnose", _case())
    module.keep_tables_in(tmp_path)
    try:
        first = run("diagnose", _case())
        assert [path.suffix for path in tmp_path.iterdir()] == [".npz"]
        module.keep_tables_in(tmp_path)
        assert run("diagnose", _case()) == first == fresh
    finally:
        module.keep_tables_in(None)


def test_a_channel_that_is_its_own_port_can_be_blocked() -> None:
    nodes = [{"id": "in", "pressure_pa": 1e5}, {"id": "out", "pressure_pa": 0}]
    tubes = [
        {"id": "a", "from": "in", "to": "out", "length_m": 3, "bore_m": 0.001},
        {"id": "b", "from": "in", "to": "out", "length_m": 3, "bore_m": 0.0012},
    ]
    network = {"fluid": {"temperature_c": 20}, "nodes": nodes, "tubes": tubes}
    readings = [{"open": ["a"], "flow_m3_s": 0.0}, {"open": ["b"], "flow_m3_s": 1.6e-6}]
    result = run("diagnose", {"network": network, "ports": ["a", "b"], "readings": readings})
    assert result["classes"][0]["members"] == ["block:a"]


def test_the_calculation_gives_the_keys_of_its_contract() -> None:
    result = run("diagnose", _case())
    assert {"classes", "advice"} <= result.keys()
    assert sum(one["probability"] for one in result["classes"]) == pytest.approx(1.0, abs=1e-12)
    assert {"ok", "block:narrow"} <= set(result["classes"][0]["members"])
    assert "port-narrow" in result["advice"]
    assert result["next_reading"]["open"] == ["port-narrow"]


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"readings": []}, "missing", "readings"),
        ({"readings": [{"open": ["port-wide"]}]}, "missing", "readings[0]"),
        ({"readings": [{"open": [], "flow_m3_s": 1e-5}]}, "missing", "readings[0].open"),
        ({"readings": [{"open": ["x"], "flow_m3_s": 1e-5}]}, "unknown-port", "readings[0].open"),
        (
            {"readings": [{"open": ["port-wide"], "flow_m3_s": -1e-5}]},
            "out-of-range",
            "readings[0].flow_m3_s",
        ),
        ({"readings": [{"open": ["port-wide"], "flow_m3_s": 750}]}, "out-of-range", "readings[0].flow_m3_s"),
        (
            {"readings": [{"open": ["port-wide"], "outflow_m3_s": {"hose": 1e-5}}]},
            "unknown-outlet",
            "readings[0].outflow_m3_s",
        ),
        ({"baseline": [{"open": ["port-wide"]}]}, "missing", "baseline[0]"),
        ({"ports": ["x"]}, "unknown-tube", "ports[0]"),
        ({"pressure_at": "x"}, "unknown-node", "pressure_at"),
        ({"places": ["x"]}, "unknown-tube", "places[0]"),
        ({"extra": 1}, "unknown-key", "extra"),
    ],
)
def test_readings_that_cannot_be_are_refused_with_their_field(
    changes: dict[str, Any], code: str, field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        run("diagnose", _case(**changes))
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.message


def test_a_cup_may_be_named_by_the_opening_it_stood_under() -> None:
    case = _case()
    case["network"]["nodes"].append({"id": "side", "pressure_pa": 0})
    case["network"]["tubes"][-1]["to"] = "side"
    answers = []
    for name in ("narrow", "side"):
        reading = {"open": ["port-wide", "port-narrow"], "outflow_m3_s": {"wide": 1.1e-5, name: 0.0}}
        answers.append(run("diagnose", {**case, "readings": [reading]})["classes"])
    assert answers[0] == answers[1]
    assert "block:narrow" in answers[0][0]["members"]


def test_a_pump_without_slip_and_relief_is_refused_because_its_pressure_has_no_bounds() -> None:
    case = _case()
    case["network"]["pump"] = {"node": "pump", "flow_m3_s": 1.25e-5}
    with pytest.raises(Refusal, match="neither slip nor relief"):
        run("diagnose", case)


def test_the_picture_shows_the_likeliest_classes() -> None:
    module = find("diagnose")
    case = parse(module.Input, module.EXAMPLE)
    chart = module.picture(case, module.run(case))
    assert chart.series[0].kind == "bars"
    assert 0.95 < sum(y or 0 for y in chart.series[0].y) <= 1 + 1e-12
