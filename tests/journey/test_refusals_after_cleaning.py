"""From disinfection to release: chemistry, temperature, machine, place and signature."""

from __future__ import annotations

import pytest
from asking import attempt, code
from one_cycle import MODELS, Unit, policy


def warm(unit: Unit, celsius: float) -> str:
    return code(attempt(unit, "hld_started", temperature_c=celsius))


def test_the_bath_must_be_inside_a_listed_pair_of_its_label() -> None:
    unit = Unit().before("hld_started")
    pair = next(p for d in unit.library.disinfectants if d.id == "improved-20" for p in d.pairs)
    low, high = pair.temperature_low_c, pair.temperature_high_c
    assert [warm(unit, value) for value in (low, low + 0.01, high - 0.01, high)] == ["", "", "", ""]
    assert warm(unit, low - 0.01) == "too-cold"
    assert warm(unit, high + 0.01) == "temperature"


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


@pytest.mark.parametrize(
    ("key", "least", "expected"), [("contact_s", 720, "too-short"), ("temperature_c", 50, "too-cold")]
)
def test_a_machine_that_reports_less_than_its_program_is_not_complete(
    key: str, least: float, expected: str
) -> None:
    unit = Unit(route="machine").to("machine_started")
    assert code(attempt(unit, "machine_cycle_ended", **{key: least})) == ""
    less = attempt(unit, "machine_cycle_ended", **{key: least - 0.5})
    assert less is not None and less.code == expected and "record it as aborted" in less.hint
    assert code(attempt(unit, "machine_cycle_ended", **{key: least - 0.5}, result="aborted")) == ""


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


def test_air_that_is_not_filtered_dries_nothing() -> None:
    unit = Unit().before("dried")
    dryers = [one.model_copy(update={"filtered": False}) for one in unit.library.dryers]
    unit.world._library = unit.library.model_copy(update={"dryers": dryers})
    assert code(attempt(unit, "dried")) == "unfiltered"
