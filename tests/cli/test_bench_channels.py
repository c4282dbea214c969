"""The benchmark of the channels says what it measured, against whom, and what it could not measure."""

from __future__ import annotations

import json

import pytest

from lumenward.cli import bench_channels, bench_plans, shell


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (("MANY", 1500), ("PEER_NETWORKS", 30), ("FILE_RUNS", 1), ("ROUNDS", 1)):
        monkeypatch.setattr(bench_channels, name, value)


def test_both_engines_and_the_peer_agree_in_the_same_run(quick: None) -> None:
    report = bench_channels.channels_benchmark()
    rows = {row["name"]: row for row in report["measures"]}
    assert rows["compiled and numpy apart"]["met"]
    assert rows["ours and EPANET apart"]["met"]
    assert rows["numpy over EPANET in memory, bare library"]["value"] > 0
    assert rows["compiled"]["wanted"] == 100_000
    assert json.loads(json.dumps(report, allow_nan=False))["machine"]["processors"] >= 1


def test_a_missing_peer_is_named_and_the_rest_still_measured(
    quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def absent() -> list[dict[str, object]]:
        raise ModuleNotFoundError("wntr is not installed; EPANET comes with it.", name="wntr")

    own = [measure for measure in bench_channels.MEASURES if measure.__name__ == "_ours"]
    monkeypatch.setattr(bench_channels, "MEASURES", [*own, absent])
    report = bench_channels.channels_benchmark()
    assert any("wntr is not installed" in note for note in report["notes"])
    assert report["missing"] == ["wntr"]
    assert {"numpy", "compiled"} <= {row["name"] for row in report["measures"]}


def test_a_smaller_value_meets_a_limit_and_a_larger_one_a_goal() -> None:
    assert bench_channels.row("start", 0.4, "s", 1.0, low=True)["met"]
    assert not bench_channels.row("start", 1.4, "s", 1.0, low=True)["met"]
    assert bench_channels.row("speed", 2e5, "networks/s", 1e5)["met"]
    assert bench_channels.row("speed", 1.0, "networks/s")["met"] is None


def test_clamp_plan_and_diagnosis_are_timed_beside_highs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench_plans, "PLAN_ROUNDS", 1)
    rows = [row for measure in (bench_plans.clamp_plans, bench_plans.clamp_peer) for row in measure()]
    named = {row["name"]: row for row in rows}
    assert named["clamp plan"]["wanted"] == 0.03
    assert named["clamp plan, cost per change"]["wanted"] == 0.15
    assert named["our clamp plan and HiGHS apart"]["met"]
    assert named["clamp plan, cost per change, HiGHS alone"]["value"] > 0


@pytest.mark.parametrize(("value", "code"), [(9e4, 1), (2e5, 0)])
def test_the_command_exits_with_one_when_a_figure_is_missed(
    value: float, code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [bench_channels.row("compiled", value, "networks/s", 1e5), bench_channels.row("peer", 1.0, "s")]
    monkeypatch.setattr(bench_channels, "MEASURES", [lambda: rows])
    assert shell.run(["bench", "channels", "--json"]) == code
    said = json.loads(capsys.readouterr().out)
    assert said["missed"] == (["compiled"] if code else [])
    assert shell.run(["bench", "channels"]) == code
    assert f"1 figures judged, {code} missed." in capsys.readouterr().out


def test_the_command_names_what_is_not_installed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def absent() -> list[dict[str, object]]:
        raise ModuleNotFoundError("No module named 'wntr'", name="wntr")

    monkeypatch.setattr(bench_channels, "MEASURES", [absent, absent])
    monkeypatch.setattr(bench_channels, "has_compiler", lambda: False)
    assert shell.run(["bench", "channels"]) == 0
    assert "Not measured: numba, wntr." in capsys.readouterr().out
