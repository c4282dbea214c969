"""What is refused and why: each limit at its value, just inside and just outside."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from every_act import MAKES, TIMED
from one_cycle import MODELS, Unit, policy

from lumenward.journey.event import Event
from lumenward.journey.legality import refuse
from lumenward.journey.legality.times import FUTURE_S
from lumenward.quantities import Refusal


def attempt(unit: Unit, kind: str, /, wait_s: float = 60, **changes: Any) -> Refusal | None:
    """Return the refusal of a well-formed act with some of its body changed."""
    how = {**MAKES[kind](unit), **changes}
    if kind in TIMED and "started" not in changes:
        how["started"] = unit.do("step_started", step=TIMED[kind][0]).id
        wait_s = TIMED[kind][1]
    unit.wait(wait_s)
    return unit.tries(kind, **{key: value for key, value in how.items() if value is not None})


def code(refusal: Refusal | None) -> str:
    return refusal.code if refusal else ""


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


def warm(unit: Unit, celsius: float) -> str:
    return code(attempt(unit, "hld_started", temperature_c=celsius))


def test_the_bath_must_be_inside_a_listed_pair_of_its_label() -> None:
    unit = Unit().before("hld_started")
    pair = next(p for d in unit.library.disinfectants if d.id == "improved-20" for p in d.pairs)
    low, high = pair.temperature_low_c, pair.temperature_high_c
    assert [warm(unit, value) for value in (low, low + 0.01, high - 0.01, high)] == ["", "", "", ""]
    assert warm(unit, low - 0.01) == "too-cold"
    assert warm(unit, high + 0.01) == "temperature"


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


def test_the_contact_time_ends_at_the_label_s_time_and_not_a_second_before() -> None:
    unit = Unit().to("hld_started")
    seconds = next(p for d in unit.library.disinfectants if d.id == "improved-20" for p in d.pairs).time_s
    refusal = attempt(unit, "hld_ended", seconds - 1)
    assert code(refusal) == "too-short"
    assert refusal is not None and "Wait 1" in refusal.hint
    assert attempt(unit, "hld_ended", 1) is None


def test_a_disinfection_may_be_cut_short_at_any_time() -> None:
    unit = Unit().to("hld_started")
    assert attempt(unit, "hld_ended", 1, result="cut short") is None


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


def test_the_delay_limit_holds_to_the_second_and_the_delayed_protocol_opens_the_way() -> None:
    unit = Unit().to("dosed")
    end_of_use = unit.world.event(unit.cycle)
    assert end_of_use is not None
    unit.now = end_of_use.happened_at + timedelta(minutes=60)
    assert unit.tries("cleaning_started", batches=[unit.batch.id]) is None
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="lea")) == "not-late"
    unit.wait(1)
    late = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert code(late) == "late"
    assert late is not None and "IFU" in late.message
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="tom")) == "wrong-role"
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="nobody")) == "unknown-person"
    unit.do("delay_branch_taken", after_s=0, instruction="Soak.", agreed_by="lea")
    unit._cleaning_started()


def test_an_unknown_end_of_use_is_treated_as_late() -> None:
    unit = Unit(use={"time_known": False}).to("dosed")
    assert code(unit.tries("cleaning_started", batches=[unit.batch.id])) == "delay-unknown"
    unit.do("delay_branch_taken", instruction="Soak.", agreed_by="ivo")
    unit._cleaning_started()


def test_after_a_leak_only_holding_repair_or_lifting_go_on() -> None:
    unit = Unit().to("received")
    unit.do("leak_tested", method="wet", result="leak")
    for kind in ("detergent_dosed", "received", "step_started", "handed_over"):
        assert code(attempt(unit, kind)) == "held"
    assert code(unit.tries("leak_tested", method="wet", result="tight")) == "held"
    unit.do("hold_lifted", cycle=unit.cycle, person="lea", reason="the cap was off")
    unit._dosed()
    refusal = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert code(refusal) == "leak"
    unit._leak_tested()
    unit._cleaning_started()


def test_a_hold_is_lifted_by_a_lead_or_infection_prevention_only() -> None:
    unit = Unit()
    unit.do("held", reason="recall", person="ana")
    assert code(unit.tries("hold_lifted", reason="fine")) == "wrong-role"
    assert unit.tries("hold_lifted", reason="fine", person="ivo") is None


def test_a_suspected_prion_disease_stops_everything_until_a_hold_on_it_is_lifted() -> None:
    unit = Unit(use={"prion_risk": True}).to("used")
    assert code(attempt(unit, "received")) == "prion-risk"
    unit.do("held", cycle=unit.cycle, reason="prion risk")
    unit.do("hold_lifted", cycle=unit.cycle, person="ivo", reason="diagnosis excluded")
    assert attempt(unit, "received") is None


def test_a_second_person_takes_over_before_going_on() -> None:
    unit = Unit().to("cleaning_started")
    refusal = unit.tries("exterior_cleaned", person="tom")
    assert code(refusal) == "somebody-else-works"
    assert refusal is not None and "take over" in refusal.hint
    assert code(unit.tries("handed_over", person="tom", from_person="lea")) == "not-the-worker"
    assert code(unit.tries("handed_over", person="tom", from_person="tom")) == "same-person"
    unit.do("handed_over", person="tom", from_person="ana")
    unit.do("exterior_cleaned", person="tom", after_s=300)
    assert (
        code(unit.tries("channel_brushed", channel="suction", brush="BR-50", passes=3))
        == "somebody-else-works"
    )


def test_two_tablets_the_second_hears_who_did_it_and_when() -> None:
    unit = Unit().to("inspected")
    refusal = unit.tries("inspected", person="tom", tools=["magnifier"], result="clean and whole")
    assert code(refusal) == "already-done"
    assert refusal is not None
    assert f"{unit.now:%H:%M} by Ana" in refusal.message


def test_the_same_id_twice_is_named_as_recorded_already() -> None:
    unit = Unit().to("received")
    act = unit.world.acts(unit.cycle)[-1]
    assert code(refuse(unit.world, act, unit.now)) == "already-recorded"


def test_people_who_left_or_are_not_competent_are_refused() -> None:
    unit = Unit()
    unit.do("person_added", subject="new", name="New", role="technician")
    unit.to("received")
    assert code(attempt(unit, "leak_tested", person="new")) == "not-competent"
    unit.do(
        "competency_recorded", subject="new", model="dunlin-22", valid_until="2027-01-31", assessed_by="lea"
    )
    assert code(attempt(unit, "leak_tested", person="new")) == "not-competent"
    unit.do(
        "competency_recorded",
        subject="new",
        model="sanderling-28",
        valid_until="2026-03-02",
        assessed_by="lea",
    )
    assert attempt(unit, "leak_tested", person="new") is None
    unit.do("person_left", subject="new", person="lea")
    assert code(attempt(unit, "leak_tested", person="new")) == "person-left"


def test_competency_ends_with_its_last_day() -> None:
    unit = Unit()
    unit.do("competency_recorded", subject="ana", model="*", valid_until="2026-03-02", assessed_by="lea")
    assert code(
        unit.tries(
            "competency_recorded", subject="ana", model="*", valid_until="2026-03-01", assessed_by="lea"
        )
    )
    unit.to("received")
    assert attempt(unit, "leak_tested") is None
    unit.wait(86400)
    assert code(unit.tries("leak_tested", method="wet", result="tight", pressure_kpa=20)) == "not-competent"


def test_a_house_that_asks_for_no_competency_takes_anybody_known() -> None:
    unit = Unit(policy=policy().model_copy(update={"competency_required": False}))
    unit.do("person_added", subject="new", name="New", role="technician")
    unit.to("received")
    assert attempt(unit, "leak_tested", person="new") is None


def test_detergent_mixed_for_another_endoscope_or_cycle_is_refused() -> None:
    unit = Unit().to("dosed")
    other = unit.batch.id
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Gastro 8",
        model="sanderling-28",
        serial="9",
        code="E-0008",
    )
    first, unit.endoscope = unit.cycle, "e2"
    unit.to("dosed")
    refusal = unit.tries("cleaning_started", batches=[other])
    assert code(refusal) == "used-batch"
    assert refusal is not None and "Gastro 7" in refusal.message
    assert unit.cycle != first


def test_detergent_that_served_before_a_setback_is_not_used_again() -> None:
    unit = Unit().before("inspected")
    old = unit.batch.id
    unit.do("inspected", tools=["magnifier"], result="debris seen")
    assert code(unit.tries("cleaning_started", batches=[old])) == "used-batch"
    unit._dosed()
    assert code(unit.tries("inspected", tools=["magnifier"], result="clean and whole")) == "out-of-order"
    unit._cleaning_started()


def test_drained_detergent_is_refused() -> None:
    unit = Unit().to("dosed")
    unit.do("batch_discarded", subject=unit.batch.id, reason="spilt")
    assert code(unit.tries("cleaning_started", batches=[unit.batch.id])) == "batch-drained"


def test_an_expired_or_withdrawn_lot_is_refused_after_its_last_day() -> None:
    unit = Unit().to("leak_tested")
    unit.do(
        "lot_opened", subject="old", product="reedwash", shelf="detergents", lot="OLD", expires="2026-03-02"
    )
    assert attempt(unit, "detergent_dosed", lot="old") is None
    assert code(attempt(unit, "detergent_dosed", 86400, lot="old")) == "lot-expired"
    unit.do("lot_withdrawn", subject="old", reason="recalled")
    assert code(attempt(unit, "detergent_dosed", lot="old")) == "lot-withdrawn"


def test_a_connector_set_is_refused_a_second_after_24_hours() -> None:
    unit = Unit().before("connected")
    unit._connected()
    used = unit.now
    unit.do("disconnected", connector_set="set-9")
    unit.now = used + timedelta(hours=24)
    assert attempt(unit, "connected", 0) is None
    assert code(attempt(unit, "connected", 1)) == "set-too-old"


def test_a_set_of_another_kind_discarded_or_on_another_endoscope_is_refused() -> None:
    unit = Unit().to("connected")
    unit.do("connector_set_opened", subject="colon", kind="set-colon")
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Gastro 8",
        model="sanderling-28",
        serial="9",
        code="E-0008",
    )
    unit.endoscope = "e2"
    unit.before("connected")
    refusal = attempt(unit, "connected")
    assert code(refusal) == "set-in-use"
    assert refusal is not None and "Gastro 7" in refusal.message
    assert code(attempt(unit, "connected", connector_set="colon")) == "wrong-set"
    unit.do("connector_set_discarded", subject="set-9", reason="cracked")
    assert code(attempt(unit, "connected")) == "set-discarded"


def test_a_single_use_set_serves_once() -> None:
    unit = Unit("redshank-23").to("connected")
    unit.do("disconnected", connector_set="set-9")
    assert code(attempt(unit, "connected")) == "set-used"


def test_a_charge_without_a_passing_test_for_this_load_is_refused() -> None:
    unit = Unit().before("mec_tested")
    assert code(attempt(unit, "hld_started")) == "mec-not-tested"
    unit._mec_tested()
    assert attempt(unit, "hld_started") is None


def test_a_test_before_the_load_before_does_not_cover_this_load() -> None:
    unit = Unit().to("hld_ended")
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Gastro 8",
        model="sanderling-28",
        serial="9",
        code="E-0008",
    )
    unit.endoscope = "e2"
    unit.do("connector_set_opened", subject="set-8", kind="set-gastro")
    unit.before("mec_tested")
    assert code(attempt(unit, "hld_started")) == "mec-not-tested"
    unit.do("mec_tested", subject=unit.charge.id, strip_lot="lot-s", read_after_s=80, result="pass")
    assert attempt(unit, "hld_started") is None


def test_a_daily_test_covers_its_own_day_only() -> None:
    unit = Unit(policy=policy().model_copy(update={"mec_test": "each day"}))
    unit.do("mec_tested", subject=unit.charge.id, strip_lot="lot-s", read_after_s=80, result="pass")
    unit.before("mec_tested")
    assert attempt(unit, "hld_started") is None
    assert code(attempt(unit, "hld_started", 86400)) == "mec-not-tested"


def test_a_failed_charge_is_neither_used_nor_tested_again() -> None:
    unit = Unit().before("mec_tested")
    unit.do("mec_tested", subject=unit.charge.id, strip_lot="lot-s", read_after_s=80, result="fail")
    assert code(attempt(unit, "hld_started")) == "mec-failed"
    assert code(attempt(unit, "mec_tested")) == "mec-failed"
    unit.do("charge_discarded", subject=unit.charge.id, reason="MEC failed")
    assert code(attempt(unit, "hld_started")) == "charge-discarded"
    assert code(attempt(unit, "charge_discarded")) == "charge-discarded"
    unit.charge = unit.pour()
    unit._mec_tested()
    assert attempt(unit, "hld_started") is None


def test_a_charge_is_refused_a_second_after_its_reuse_life() -> None:
    unit = Unit().before("mec_tested")
    days = next(d.reuse_d for d in unit.library.disinfectants if d.id == "improved-20")
    assert days is not None
    unit.now = unit.charge.happened_at + timedelta(days=days) - timedelta(seconds=90)
    unit.do("mec_tested", subject=unit.charge.id, strip_lot="lot-s", read_after_s=80, result="pass")
    assert attempt(unit, "hld_started", 60) is None
    assert code(attempt(unit, "hld_started", 1)) == "charge-too-old"


def test_strips_must_be_proved_fresh_and_of_the_right_chemistry() -> None:
    unit = Unit().before("mec_tested")
    unit.do("lot_opened", subject="s2", product="strip-ihp", shelf="strips", lot="S2", expires="2026-12-31")
    assert code(attempt(unit, "mec_tested", strip_lot="s2")) == "strips-not-checked"
    unit.do("strips_checked", subject="s2", full_strength_passed=3, diluted_failed=2)
    assert code(attempt(unit, "mec_tested", strip_lot="s2")) == "strips-not-checked"
    unit.do("strips_checked", subject="s2", full_strength_passed=3, diluted_failed=3)
    assert attempt(unit, "mec_tested", strip_lot="s2") is None
    unit.do("lot_opened", subject="s3", product="strip-opa", shelf="strips", lot="S3", expires="2026-12-31")
    assert code(attempt(unit, "mec_tested", strip_lot="s3")) == "wrong-strip"


def test_strips_are_refused_a_second_after_their_life_once_opened() -> None:
    unit = Unit().before("mec_tested")
    opened = next(event for event in unit.world.events() if event.subject == "lot-s")
    unit.now = opened.happened_at + timedelta(days=90)
    assert attempt(unit, "mec_tested", 0) is None
    assert code(attempt(unit, "mec_tested", 1)) == "strips-too-old"


def test_a_basin_is_emptied_before_it_is_filled_and_never_over_its_rim() -> None:
    unit = Unit()
    assert code(attempt(unit, "charge_poured", basin="basin-1")) == "basin-full"
    assert attempt(unit, "charge_poured", volume_l=15) is None
    assert code(attempt(unit, "charge_poured", volume_l=15.1)) == "too-much"
    assert code(attempt(unit, "charge_poured", basin="pond")) == "not-in-library"
    assert code(attempt(unit, "charge_poured", disinfectant="opa-055")) == "wrong-lot"


def test_nobody_empties_a_basin_with_an_endoscope_in_it() -> None:
    unit = Unit().to("hld_started")
    refusal = attempt(unit, "charge_discarded")
    assert code(refusal) == "still-inside"
    assert refusal is not None and "Gastro 7" in refusal.message


@pytest.mark.parametrize(
    ("answer", "expected"), [("no", ""), ("yes", "bladder-history"), ("not asked", "bladder-history")]
)
def test_opa_and_urology_depends_on_the_bladder_history(answer: str, expected: str) -> None:
    unit = Unit(
        "redshank-23", use={"bladder_cancer_history": answer}, disinfectant="opa-055", strip="strip-opa"
    )
    model = unit.described
    ifu = model.ifu.model_copy(update={"chemistries": [*model.ifu.chemistries, "opa"]})
    unit.library = unit.library.model_copy(update={"endoscopes": [model.model_copy(update={"ifu": ifu})]})
    unit.world._library = unit.library
    unit.before("hld_started")
    assert code(attempt(unit, "hld_started")) == expected


def test_a_chemistry_or_route_the_ifu_does_not_name_is_refused() -> None:
    unit = Unit("redshank-23", disinfectant="opa-055", strip="strip-opa").before("hld_started")
    assert code(attempt(unit, "hld_started")) == "wrong-chemistry"
    unit = Unit("plover-12").before("mec_tested")
    assert code(attempt(unit, "machine_cycle_started")) == "wrong-route"
    unit = Unit("dunlin-22").before("mec_tested")
    assert code(attempt(unit, "machine_cycle_started", washer="washer-2")) == "wrong-washer"
    assert code(attempt(unit, "machine_cycle_started", program="spin")) == "unknown-program"
    assert code(attempt(unit, "machine_cycle_started", connected_all=False)) == "not-connected"


def test_the_machine_that_ends_is_the_one_that_was_started() -> None:
    unit = Unit(route="machine").to("machine_started")
    assert code(attempt(unit, "machine_cycle_ended", washer="washer-2")) == "wrong-washer"
    assert code(attempt(unit, "machine_cycle_ended", program="standard-with-leak-test")) == "wrong-program"
    unit.do("machine_cycle_ended", washer="washer-1", program="standard", result="aborted")
    assert code(attempt(unit, "dried")) == "out-of-order"
    assert attempt(unit, "machine_cycle_started") is None


@pytest.mark.parametrize("model", [m for m in MODELS if m != "sanderling-28"])
def test_disinfection_waits_for_verification_where_the_class_demands_it(model: str) -> None:
    unit = Unit(model)
    if "verified" not in unit.step_names():
        assert not unit.described.high_risk
        return
    unit.before("verified")
    unit._mec_tested()
    refusal = attempt(unit, "hld_started")
    assert code(refusal) == "out-of-order"
    assert refusal is not None and "verification" in refusal.message


def test_a_place_taken_or_full_is_refused() -> None:
    unit = Unit().to("stored")
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Gastro 8",
        model="sanderling-28",
        serial="9",
        code="E-0008",
    )
    unit.do("connector_set_opened", subject="set-8", kind="set-gastro")
    unit.endoscope = "e2"
    unit.before("stored")
    refusal = attempt(unit, "stored")
    assert code(refusal) == "slot-taken"
    assert refusal is not None and "Gastro 7" in refusal.message
    assert attempt(unit, "stored", slot=4) is None
    full = [c.model_copy(update={"slots": 1}) if c.id == "cabinet-1" else c for c in unit.library.cabinets]
    unit.world._library = unit.library.model_copy(update={"cabinets": full})
    assert code(attempt(unit, "stored", slot=1)) == "cabinet-full"


def test_a_wet_endoscope_is_never_stored() -> None:
    unit = Unit().before("dried")
    unit.timed("dry", 700, "dried", **{**unit.drying(), "result": "moisture seen"})
    assert code(attempt(unit, "stored")) == "wet"


def test_a_release_needs_a_role_a_verdict_and_a_hang_time_that_holds() -> None:
    unit = Unit(policy=policy().model_copy(update={"release_roles": ["lead"]})).to("stored")
    assert code(attempt(unit, "released")) == "wrong-role"
    assert attempt(unit, "released", person="lea") is None
    bad = {"findings": [{"answer": "unknown", "sentence": "No leak test is recorded."}]}
    refusal = attempt(unit, "released", person="lea", verdict=bad)
    assert code(refusal) == "not-ready"
    assert refusal is not None and "No leak test is recorded." in refusal.message
    late = (unit.now + timedelta(days=8)).isoformat()
    assert code(attempt(unit, "released", person="lea", ready_until=late)) == "hang-time"
    over = (unit.now - timedelta(minutes=1)).isoformat()
    assert code(attempt(unit, "released", person="lea", ready_until=over)) == "hang-time-over"


def test_an_endoscope_is_taken_to_the_last_second_of_its_hang_time() -> None:
    unit = Unit().to("released")
    until = unit.world.endoscope("e1").ready_until
    unit.now = until
    assert attempt(unit, "taken_for_use", 0) is None
    assert code(attempt(unit, "taken_for_use", 1)) == "hang-time-over"


def test_alcohol_only_where_policy_and_ifu_allow_it() -> None:
    unit = Unit().before("dried")
    assert code(attempt(unit, "alcohol_flushed")) == "no-alcohol"
    unit = Unit(policy=policy().model_copy(update={"alcohol": True})).before("dried")
    assert unit.described.ifu.alcohol_allowed
    assert attempt(unit, "alcohol_flushed") is None
    assert code(attempt(unit, "alcohol_flushed", channels=["tail"])) == "unknown-channel"


def test_too_few_rinses_after_opa_are_refused() -> None:
    unit = Unit(disinfectant="opa-055", strip="strip-opa").before("final_rinsed")
    assert code(attempt(unit, "final_rinsed", count=2)) == "too-few-rinses"
    assert attempt(unit, "final_rinsed", count=3) is None


def test_acts_on_a_cycle_that_is_over_or_never_was_are_refused() -> None:
    unit = Unit().to("taken")
    old = unit.cycle
    unit.to("used")
    assert code(unit.tries("received", cycle=old, place="sink-1")) == "cycle-closed"
    assert code(unit.tries("received", cycle=unit.charge.id, place="sink-1")) == "no-cycle"
    assert code(unit.tries("received", subject="e9", place="sink-1")) == "unknown-endoscope"
    assert code(unit.tries("held", cycle=old, reason="other")) == "wrong-cycle"


def test_a_cycle_opened_twice_says_when_it_was_opened() -> None:
    unit = Unit().to("used")
    refusal = unit.tries("patient_use_ended", case="C-2", person="tom")
    assert code(refusal) == "cycle-open"
    assert refusal is not None and "by Ana" in refusal.message


def test_an_end_of_use_before_the_endoscope_was_taken_is_refused() -> None:
    unit = Unit().to("taken")
    act = unit.make("patient_use_ended", case="C-2")
    act = act.model_copy(update={"happened_at": unit.now - timedelta(seconds=1)})
    assert code(refuse(unit.world, act, unit.now)) == "before-the-last-cycle"


def test_corrections_name_an_act_that_counts_and_a_body_that_its_kind_allows() -> None:
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]

    def correct(named: Event, **how: Any) -> str:
        body = {"subject": named.id, "event": named.id, "reason": "a slip", **how}
        return code(unit.tries("corrected", **body))

    assert correct(arrival, new_body={"place": "sink-2"}) == ""
    assert correct(arrival, new_body={"plaice": "sink-2"}) == "bad-body"
    assert correct(arrival, event="nothing") == "unknown-event"
    assert correct(arrival, subject="e1") == "wrong-subject"
    opening = unit.world.event(unit.cycle)
    assert opening is not None
    assert correct(opening) == "rests-on-it"
    withdrawal = unit.do("corrected", subject=arrival.id, event=arrival.id, reason="a slip")
    assert correct(arrival) == "withdrawn"
    assert correct(withdrawal) == "not-correctable"
    assert attempt(unit, "received") is None


def test_endoscopes_people_and_sets_join_once_under_a_code_of_their_own() -> None:
    unit = Unit()
    assert code(attempt(unit, "endoscope_registered", subject="e1")) == "already-registered"
    assert code(attempt(unit, "endoscope_registered", code="E-0007")) == "code-taken"
    assert code(attempt(unit, "endoscope_registered", model="walrus")) == "not-in-library"
    assert code(attempt(unit, "person_added", subject="ana")) == "already-added"
    assert code(attempt(unit, "role_given", subject="nobody")) == "unknown-person"
    assert code(attempt(unit, "competency_recorded", subject="lea")) == "own-assessor"
    assert code(attempt(unit, "connector_set_opened", subject="set-9")) == "already-open"
    assert code(attempt(unit, "connector_set_opened", kind="set-walrus")) == "not-in-library"
    assert code(attempt(unit, "lot_opened", subject="lot-d")) == "already-open"
    assert code(attempt(unit, "lot_opened", product="soap")) == "not-in-library"
    assert code(attempt(unit, "lot_opened", expires="2026-03-01")) == "lot-expired"
    assert attempt(unit, "lot_opened", expires="2026-03-02") is None
    unit.do("person_left", subject="tom")
    assert attempt(unit, "person_added", subject="tom") is None
    assert code(attempt(unit, "role_given", subject="tom")) == "person-left"


def test_only_a_loaner_goes_back() -> None:
    unit = Unit()
    assert code(attempt(unit, "loan_ended")) == "not-a-loan"
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Lent",
        model="sanderling-28",
        serial="9",
        code="E-8",
        owner="loan",
    )
    assert attempt(unit, "loan_ended", subject="e2") is None


def test_an_unknown_kind_or_a_body_with_a_stray_key_is_refused_by_name() -> None:
    unit = Unit().to("used")
    act = unit.make("received", place="sink-1")
    assert code(refuse(unit.world, act.model_copy(update={"kind": "beamed_up"}), unit.now)) == "unknown-kind"
    stray = refuse(unit.world, act.model_copy(update={"body": {"place": "x", "wish": 1}}), unit.now)
    assert stray is not None
    assert (stray.code, stray.field) == ("bad-body", "body.wish")


def test_cleaning_waits_until_somebody_said_how_it_was_treated_at_the_bedside() -> None:
    unit = Unit().to("used")
    unit._received()
    unit._leak_tested()
    unit._dosed()
    refusal = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert refusal is not None
    assert "bedside" in refusal.message
    unit.do("point_of_use_treated", product="not treated", kept_moist=False)
    unit._cleaning_started()
    assert code(unit.tries("sent", closed_labelled=True, sharps_removed=True)) == "out-of-order"


def test_alcohol_before_cleaning_asks_for_a_proof_before_disinfection() -> None:
    unit = Unit().to("used")
    unit.do("point_of_use_treated", product="wipe", kept_moist=False, alcohol_used=True)
    for name, step in list(unit.steps())[3:]:
        if name == "hld_started":
            break
        step()
    refusal = attempt(unit, "hld_started")
    assert code(refusal) == "out-of-order"
    assert refusal is not None and "alcohol" in refusal.message
    unit._verified()
    assert attempt(unit, "hld_started") is None


def test_a_leak_seen_after_cleaning_is_proved_tight_before_disinfection() -> None:
    unit = Unit().before("hld_started")
    unit.do("leak_tested", method="wet", result="leak")
    unit.do("hold_lifted", cycle=unit.cycle, person="lea", reason="a loose cap")
    assert code(attempt(unit, "hld_started")) == "leak"
    unit._leak_tested()
    assert attempt(unit, "hld_started") is None
