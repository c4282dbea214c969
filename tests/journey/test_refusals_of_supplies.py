"""Detergent, sets, charges, lots and strips: used while good, by one endoscope, and not a second longer."""

from __future__ import annotations

from datetime import timedelta

from asking import attempt, code
from one_cycle import Unit, policy


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


def test_what_is_used_up_is_withdrawn_or_discarded_once() -> None:
    unit = Unit().to("dosed")
    assert code(attempt(unit, "lot_withdrawn", subject="lot-9")) == "unknown-lot"
    unit.do("lot_withdrawn", subject="lot-k", reason="recalled")
    assert code(attempt(unit, "lot_withdrawn")) == "lot-withdrawn"
    assert code(attempt(unit, "strips_checked", subject="lot-d")) == "unknown-lot"
    assert code(attempt(unit, "connector_set_discarded", subject="set-1")) == "unknown-set"
    unit.do("connector_set_discarded", subject="set-9", reason="cracked")
    assert code(attempt(unit, "connector_set_discarded")) == "set-discarded"
    assert code(attempt(unit, "batch_discarded", subject="nothing")) == "unknown-batch"
    unit.do("batch_discarded", subject=unit.batch.id, reason="spilt")
    assert code(attempt(unit, "batch_discarded")) == "batch-drained"
    assert code(attempt(unit, "charge_poured", subject="my-own-name")) == "wrong-subject"


def test_a_single_use_charge_serves_once() -> None:
    unit = Unit()
    labels = [d.model_copy(update={"single_use": True}) for d in unit.library.disinfectants]
    unit.library = unit.library.model_copy(update={"disinfectants": labels})
    unit.world._library = unit.library
    unit.to("hld_started")
    unit.do("hld_ended", charge=unit.charge.id, temperature_c=21, result="cut short")
    unit._mec_tested()
    assert code(attempt(unit, "hld_started")) == "charge-used"
