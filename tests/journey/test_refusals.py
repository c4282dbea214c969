"""What is refused and why: each limit at its value, just inside and just outside."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from asking import attempt, code
from every_act import TIMED
from one_cycle import Unit

from lumenward.journey.legality import refuse
from lumenward.journey.legality.times import FUTURE_S

REFUSED: list[tuple[str, str, str, dict[str, Any], str, str]] = [
    # before this step, of this model, this act, with this in its body: refused by this code, in this field
    ("leak_tested", "turnstone-42", "leak_tested", {"method": "dry"}, "wrong-method", "body.method"),
    ("dosed", "sanderling-28", "detergent_dosed", {"lot": "lot-nowhere"}, "unknown-lot", "body.lot"),
    ("dosed", "sanderling-28", "detergent_dosed", {"lot": "lot-x"}, "unknown-lot", "body.lot"),
    ("dosed", "sanderling-28", "detergent_dosed", {"detergent": "mereclean"}, "wrong-lot", "body.lot"),
    ("dosed", "sanderling-28", "detergent_dosed", {"detergent": "soap"}, "not-in-library", "body.detergent"),
    ("dosed", "sanderling-28", "detergent_dosed", {"vessel": "bucket"}, "not-in-library", "body.vessel"),
    ("cleaning_started", "dunlin-22", "cleaning_started", {"batches": ["nothing"]}, "unknown-batch", "body.batches"),
    (
        "cleaning_started", "sanderling-28", "cleaning_started", {"protective_equipment": False}, "no-protection",
        "body.protective_equipment",
    ),
    (
        "exterior_cleaned", "turnstone-42", "exterior_cleaned", {"elevator_both_positions": False}, "elevator",
        "body.elevator_both_positions",
    ),
    ("brushed", "sanderling-28", "channel_brushed", {"channel": "air"}, "not-brushable", "body.channel"),
    ("brushed", "sanderling-28", "channel_brushed", {"channel": "tail"}, "unknown-channel", "body.channel"),
    ("brushed", "sanderling-28", "channel_brushed", {"brush": "BR-18"}, "wrong-brush", "body.brush"),
    ("brushed", "sanderling-28", "channel_brushed", {"brush": "mop"}, "unknown-brush", "body.brush"),
    ("brushed", "sanderling-28", "channel_brushed", {"passes": 1}, "too-few-passes", "body.passes"),
    ("brushed", "sanderling-28", "channel_brushed", {"brush_lot": "lot-d"}, "unknown-lot", "body.brush_lot"),
    ("connected", "sanderling-28", "connected", {"connector_set": "set-1"}, "unknown-set", "body.connector_set"),
    ("connected", "sanderling-28", "connected", {"ports": ["suction"]}, "port-missing", "body.ports"),
    ("connected", "sanderling-28", "connected", {"clamped": ["tail"]}, "unknown-port", "body.clamped"),
    ("aspirated", "sanderling-28", "aspirated", {"channel": "air"}, "not-aspirated", "body.channel"),
    ("flushed", "sanderling-28", "flushed", {"channels": ["tail"]}, "unknown-channel", "body.channels"),
    ("flushed", "sanderling-28", "flushed", {"started": "nothing"}, "start-unknown", "body.started"),
    ("rinsed", "sanderling-28", "rinsed", {"water": "rain"}, "not-in-library", "body.water"),
    ("disconnected", "sanderling-28", "disconnected", {"connector_set": "set-1"}, "wrong-set", "body.connector_set"),
    ("inspected", "dunlin-22", "inspected", {"tools": ["magnifier"]}, "borescope", "body.tools"),
    ("verified", "dunlin-22", "cleaning_verified", {"kit": "nose"}, "not-in-library", "body.kit"),
    ("verified", "dunlin-22", "cleaning_verified", {"lot": "lot-d"}, "unknown-lot", "body.lot"),
    ("mec_tested", "dunlin-22", "mec_tested", {"subject": "nothing"}, "unknown-charge", "subject"),
    ("mec_tested", "dunlin-22", "mec_tested", {"strip_lot": "lot-d"}, "unknown-lot", "body.strip_lot"),
    ("hld_started", "dunlin-22", "hld_started", {"charge": "nothing"}, "unknown-charge", "body.charge"),
    ("hld_started", "dunlin-22", "hld_started", {"channels_filled": False}, "not-filled", "body.channels_filled"),
    ("hld_ended", "dunlin-22", "hld_ended", {"charge": "other"}, "wrong-charge", "body.charge"),
    ("final_rinsed", "dunlin-22", "final_rinsed", {"water": "utility"}, "wrong-water", "body.water"),
    ("final_rinsed", "dunlin-22", "final_rinsed", {"channels": ["suction"]}, "channel-missing", "body.channels"),
    ("dried", "dunlin-22", "dried", {"channels": ["suction"]}, "channel-missing", "body.channels"),
    ("dried", "dunlin-22", "dried", {"dryer": "towel"}, "not-in-library", "body.dryer"),
    ("dried", "dunlin-22", "dried", {"check": "no channel: outside wiped dry"}, "wrong-check", "body.check"),
    ("stored", "dunlin-22", "stored", {"cabinet": "shelf"}, "not-in-library", "body.cabinet"),
    ("stored", "dunlin-22", "stored", {"slot": 13}, "no-such-slot", "body.slot"),
    ("released", "dunlin-22", "released", {"ready_until": "tomorrow"}, "bad-time", "body.ready_until"),
    ("released", "dunlin-22", "released", {"verdict": {"findings": []}}, "not-ready", "body.verdict"),
    ("released", "dunlin-22", "released", {"person": "nurse"}, "unknown-person", "person"),
]  # fmt: skip


@pytest.mark.parametrize(("step", "model", "kind", "changes", "expected", "field"), REFUSED)
def test_one_wrong_thing_is_named_beside_its_field(
    step: str, model: str, kind: str, changes: dict[str, Any], expected: str, field: str
) -> None:
    unit = Unit(model).before(step)
    wait = 3700 if kind == "hld_ended" else 60
    refusal = attempt(unit, kind, wait, **changes)
    assert refusal is not None
    assert (refusal.code, refusal.field) == (expected, field), refusal.message
    assert refusal.message.endswith((".", ")")), refusal.message
    assert refusal.hint.endswith("."), refusal.hint


LIMITS: list[tuple[str, str, str, str, tuple[float, ...], tuple[float, ...], str]] = [
    # model, before step, act, key: accepted values, refused values, code
    (
        "dunlin-22",
        "leak_tested",
        "leak_tested",
        "pressure_kpa",
        (16, 16.01, 21.99, 22),
        (15.99,),
        "pressure-low",
    ),
    ("dunlin-22", "leak_tested", "leak_tested", "pressure_kpa", (22,), (22.01,), "pressure-high"),
    (
        "dunlin-22",
        "dosed",
        "detergent_dosed",
        "temperature_c",
        (20, 20.01, 39.99, 40),
        (19.99, 40.01),
        "temperature",
    ),
    # 15 L at 3.5 to 5 mL/L, and 1 mL by which the measure may be off
    ("dunlin-22", "dosed", "detergent_dosed", "dose_ml", (51.5, 51.51, 75.99, 76), (51.49, 76.01), "dose"),
    ("dunlin-22", "mec_tested", "mec_tested", "read_after_s", (75, 90), (74.9,), "read-early"),
    ("dunlin-22", "mec_tested", "mec_tested", "read_after_s", (75, 90), (90.1,), "read-late"),
    ("dunlin-22", "mec_tested", "mec_tested", "percent", (1.51, 2.0), (1.5, 1.49), "wrong-result"),
    ("dunlin-22", "verified", "cleaning_verified", "value", (0, 149.9), (150, 200), "wrong-result"),
    ("dunlin-22", "dried", "dried", "pressure_kpa", (1, 179.9, 180), (180.1,), "pressure-high"),
    ("dunlin-22", "stored", "stored", "slot", (1, 12), (13,), "no-such-slot"),
]


FLOORS = [
    ("dunlin-22", "leak_tested", 30), ("sanderling-28", "aspirated", 30), ("sanderling-28", "flushed", 95),
    ("sanderling-28", "purged", 30), ("sanderling-28", "rinsed", 95), ("sanderling-28", "dried", 600),
    ("dunlin-22", "final_rinsed", 60),
]  # fmt: skip


@pytest.mark.parametrize(("model", "kind", "floor"), FLOORS)
def test_a_timed_step_ends_at_its_floor_and_not_a_second_before(model: str, kind: str, floor: float) -> None:
    step = {"purged": "purged_flush"}.get(kind, kind)
    unit = Unit(model).before(step)
    started = unit.do("step_started", step=TIMED[kind][0]).id
    assert code(attempt(unit, kind, floor - 1, started=started)) == "too-short"
    assert code(attempt(unit, kind, 1, started=started)) == ""


def test_a_timed_step_without_a_start_is_not_believed() -> None:
    unit = Unit().before("flushed")
    assert code(attempt(unit, "flushed", started=None)) == "not-timed"


def test_an_interrupted_step_starts_again() -> None:
    unit = Unit().before("flushed")
    started = unit.do("step_started", step="flush").id
    unit.do("work_interrupted", step="flush", reason="a call")
    assert code(attempt(unit, "flushed", 500, started=started)) == "start-unknown"


def with_cleaning_floor(unit: Unit, seconds: float) -> None:
    """Let the IFU of the unit's model ask for so much manual cleaning."""
    model = unit.described
    states = [
        s.model_copy(update={"value": seconds, "unit": "s"}) if s.step == "clean" else s
        for s in model.ifu.states
    ]
    changed = model.model_copy(update={"ifu": model.ifu.model_copy(update={"states": states})})
    unit.library = unit.library.model_copy(update={"endoscopes": [changed]})
    unit.world._library = unit.library


def test_manual_cleaning_must_last_before_the_rinse_begins() -> None:
    unit = Unit()
    with_cleaning_floor(unit, 3600)
    unit.to("cleaning_started")
    begun = unit.now
    for name, step in list(unit.steps())[7:]:
        if name == "rinsed":
            break
        step()
    unit.now = begun + timedelta(seconds=3599)
    early = unit.do("step_started", after_s=0, step="rinse").id
    right = unit.do("step_started", after_s=1, step="rinse").id
    refusal = attempt(unit, "rinsed", started=early)
    assert code(refusal) == "too-short"
    assert refusal is not None and "IFU" in refusal.message
    assert attempt(unit, "rinsed", started=right) is None


@pytest.mark.parametrize("second", [0, 1])
def test_cleaning_without_channels_lasts_until_the_outside_is_done(second: int) -> None:
    unit = Unit("wagtail-34").to("cleaning_started")
    unit.wait(299 + second)
    refusal = unit.tries("exterior_cleaned")
    assert code(refusal) == ("too-short" if second == 0 else "")


def test_without_channels_the_outside_is_rinsed_once_before_the_inspection() -> None:
    unit = Unit("wagtail-34").to("cleaning_started")
    assert code(attempt(unit, "rinsed", channels=[])) == "out-of-order"
    unit.do("exterior_cleaned", after_s=330)
    early = attempt(unit, "inspected")
    assert early is not None and early.message == "The outside was not rinsed yet."
    assert code(attempt(unit, "rinsed", channels=["biopsy"])) == "unknown-channel"
    unit.timed("rinse", 95, "rinsed", channels=[], water="utility")
    assert code(attempt(unit, "rinsed", channels=[])) == "already-done"
    assert attempt(unit, "inspected") is None


def test_with_channels_a_rinse_names_them() -> None:
    assert code(attempt(Unit().before("rinsed"), "rinsed", channels=[])) == "no-channels-named"


def test_a_time_to_come_is_refused_beyond_a_minute_of_clock_error() -> None:
    unit = Unit().to("used")
    act = unit.make("received", place="sink-1")
    ahead = act.model_copy(update={"happened_at": unit.now + timedelta(seconds=FUTURE_S)})
    assert refuse(unit.world, ahead, unit.now) is None
    beyond = act.model_copy(update={"happened_at": unit.now + timedelta(seconds=FUTURE_S + 1)})
    assert code(refuse(unit.world, beyond, unit.now)) == "in-the-future"


def test_a_step_cannot_have_happened_before_the_case_or_what_it_builds_on() -> None:
    unit = Unit().to("dosed")
    dosed = unit.world.acts(unit.cycle)[-1]

    def at(moment: Any) -> str:
        unit.count += 1
        act = unit.make("cleaning_started", batches=[dosed.id]).model_copy(update={"happened_at": moment})
        return code(refuse(unit.world, act, unit.now))

    assert at(dosed.happened_at) == ""
    assert at(dosed.happened_at - timedelta(seconds=1)) == "before-its-basis"
    early = unit.make("received", place="sink-1")
    before_case = unit.world.event(unit.cycle)
    assert before_case is not None
    early = early.model_copy(update={"happened_at": before_case.happened_at - timedelta(seconds=1)})
    unit = Unit().to("used")
    assert (
        code(refuse(unit.world, early.model_copy(update={"cycle": unit.cycle}), unit.now))
        == "before-its-basis"
    )


def test_an_unknown_end_of_use_is_treated_as_late() -> None:
    unit = Unit(use={"time_known": False}).to("dosed")
    assert code(unit.tries("cleaning_started", batches=[unit.batch.id])) == "delay-unknown"
    unit.do("delay_branch_taken", instruction="Soak.", agreed_by="ivo")
    unit._cleaning_started()


def test_an_end_of_use_before_the_endoscope_was_taken_is_refused() -> None:
    unit = Unit().to("taken")
    act = unit.make("patient_use_ended", case="C-2")
    act = act.model_copy(update={"happened_at": unit.now - timedelta(seconds=1)})
    assert code(refuse(unit.world, act, unit.now)) == "before-the-last-cycle"


@pytest.mark.parametrize(("model", "step", "kind", "key", "inside", "outside", "expected"), LIMITS)
def test_limits_hold_at_just_inside_and_just_outside(
    model: str,
    step: str,
    kind: str,
    key: str,
    inside: tuple[float, ...],
    outside: tuple[float, ...],
    expected: str,
) -> None:
    unit = Unit(model).before(step)
    for value in inside:
        refusal = attempt(unit, kind, **{key: value})
        assert refusal is None, (value, refusal and refusal.message)
    for value in outside:
        assert code(attempt(unit, kind, **{key: value})) == expected, value
