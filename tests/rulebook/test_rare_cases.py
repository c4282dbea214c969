"""Rules where the house is otherwise: labels for single use, silent labels, strange libraries, late entries."""

from __future__ import annotations

from typing import Any

from one_cycle import Unit
from what_if import Edit, add, change, drop, finished, judged, model_with, move

from lumenward.equipment.library import Library
from lumenward.rulebook import Finding


def label_with(**changes: Any) -> Library:
    """Return the library with something otherwise on the label of the disinfectant in use."""
    unit = finished()
    labels = [
        one.model_copy(update=changes) if one.id == unit.disinfectant else one
        for one in unit.library.disinfectants
    ]
    return unit.library.model_copy(update={"disinfectants": labels})


def shelf_without(shelf: str) -> Library:
    return finished().library.model_copy(update={shelf: []})


def answer(finding: Finding) -> tuple[str, str]:
    return finding.answer, finding.sentence.replace("\u202f", " ")


def test_a_single_use_charge_may_have_served_nobody_else() -> None:
    single = label_with(single_use=True, reuse_d=None)
    assert judged("disinfection.reuse-life", library=single).answer == "met"
    other = add("hld_started", "lot_opened", 60, subject="e2", cycle="0" * 36, charge=finished().charge.id,
                temperature_c=21, channels_filled=True)  # fmt: skip
    assert judged("disinfection.reuse-life", other, library=single).answer == "broken"


def test_a_label_without_a_reuse_life_leaves_the_rule_not_knowing() -> None:
    found = judged("disinfection.reuse-life", library=label_with(reuse_d=None))
    assert answer(found)[0] == "unknown"
    assert "No label value entered" in found.sentence


def test_a_label_without_a_minimum_asks_for_no_test_and_no_strips() -> None:
    silent = label_with(mec_percent=None)
    assert judged("disinfection.concentration", library=silent).answer == "not applicable"
    assert judged("supplies.strips", library=silent).answer == "not applicable"


def test_an_earlier_round_of_detergent_is_not_fresh() -> None:
    unit = Unit().before("inspected")
    old = unit.batch
    unit.do("inspected", tools=["magnifier"], result="debris seen")
    unit._dosed()
    unit._cleaning_started()
    again = change("cleaning_started", {"batches": [unit.batch.id]}, batches=[old.id])
    found = judged("detergent.fresh", again, unit=unit)
    assert answer(found) == ("broken", "The detergent was mixed before it was sent back to cleaning.")


def test_what_the_library_does_not_hold_is_not_known() -> None:
    for shelf, rule in {
        "detergents": "detergent.dose",
        "connector_sets": "supplies.connector-set",
        "cabinets": "storage.place",
        "dryers": "drying.air",
        "strips": "supplies.strips",
        "disinfectants": "disinfection.contact",
        "waters": "rinsing.water",
    }.items():
        assert judged(rule, library=shelf_without(shelf)).answer == "unknown", shelf
    alone = finished("dunlin-22").library.model_copy(update={"kits": []})
    assert judged("verification.passed", model="dunlin-22", library=alone).answer == "unknown"


def test_unfiltered_air_and_a_channel_without_a_stated_pressure_stop_the_drying_rule() -> None:
    unit = finished()
    dryers = [one.model_copy(update={"filtered": False}) for one in unit.library.dryers]
    assert judged("drying.air", library=unit.library.model_copy(update={"dryers": dryers})).answer == "broken"
    channels = [one.model_copy(update={"max_pressure_kpa": None}) for one in unit.described.channels]
    silent = judged("drying.air", library=model_with(unit, channels=channels))
    assert silent.answer == "unknown"
    assert "No IFU value entered" in silent.sentence


def alcohol(channels: list[str]) -> Edit:
    return add("alcohol_flushed", "final_rinsed", strength_percent=70, channels=channels)


def test_alcohol_follows_policy_ifu_and_channels() -> None:
    unit = finished()
    wanted = unit.policy.model_copy(update={"alcohol": True})
    dry_only = model_with(unit, ifu=unit.described.ifu.model_copy(update={"alcohol_allowed": False}))
    assert judged("drying.alcohol", policy=wanted, library=dry_only).answer == "not applicable"
    assert (
        judged("drying.alcohol", alcohol(unit.channels), policy=wanted, library=dry_only).answer == "broken"
    )
    assert judged("drying.alcohol", alcohol(["suction"]), policy=wanted).answer == "unknown"


def test_a_place_without_a_stated_hang_time_is_not_known_to_be_in_time() -> None:
    silent = finished().policy.model_copy(update={"hang_times": finished().policy.hang_times[-1:]})
    cabinets = [one.model_copy(update={"validated_h": None}) for one in finished().library.cabinets]
    library = finished().library.model_copy(update={"cabinets": cabinets})
    assert judged("storage.hang-time", policy=silent, library=library).answer == "unknown"


def test_a_set_whose_life_nobody_states_is_not_known_to_be_good() -> None:
    silent = finished().policy.model_copy(update={"connector_set_life_h": None})
    sets = [one.model_copy(update={"life_h": None}) for one in finished().library.connector_sets]
    library = finished().library.model_copy(update={"connector_sets": sets})
    assert judged("supplies.connector-set", policy=silent, library=library).answer == "unknown"


def test_a_single_use_set_that_served_before_breaks_the_rule() -> None:
    unit = finished("redshank-23")
    assert judged("supplies.connector-set", unit=unit).answer == "met"
    earlier = add(
        "connected", "lot_opened", 60, subject="e2", cycle="0" * 36, connector_set="set-9", ports=["x"]
    )
    assert judged("supplies.connector-set", earlier, unit=unit).answer == "broken"


def test_a_cycle_without_a_patient_asks_nothing_of_bedside_delay_or_prions() -> None:
    unit = Unit()
    unit.cycle = unit.do("reprocessing_required", reason="loan in").id
    for name, step in unit.steps():
        if name not in ("used", "treated", "sent"):
            step()
        if name == "stored":
            break
    for rule in ("holds.prions", "delay.in-time", "cleaning.alcohol-first"):
        assert judged(rule, unit=unit).answer == "not applicable"
    came = judged("holds.came-in", unit=unit)
    assert came.answer == "met"


def test_a_prion_suspicion_that_somebody_lifted_is_named_with_its_reason() -> None:
    lifted = add("hold_lifted", "patient_use_ended", person="ivo", reason="diagnosis excluded")
    held = add("held", "patient_use_ended", 0.5, reason="prion risk")
    unit = finished()
    in_cycle = [lambda events: [e.model_copy(update={"cycle": unit.cycle}) if e.kind in ("held", "hold_lifted") else e
                                for e in events]]  # fmt: skip
    found = judged("holds.prions", change("patient_use_ended", prion_risk=True), held, lifted, *in_cycle)
    assert answer(found) == ("met", "Suspected; Ivo lifted it: diagnosis excluded.")


def test_too_many_failures_are_settled_by_somebody_who_lifted_the_hold() -> None:
    unit = Unit().before("inspected")
    for _ in range(2):
        unit.do("inspected", tools=["magnifier"], result="debris seen")
        for name, step in list(unit.steps())[5:]:
            if name == "inspected":
                break
            step()
    assert judged("verification.attempts", unit=unit).answer == "broken"
    unit.do("held", cycle=unit.cycle, reason="debris twice")
    unit.do("hold_lifted", cycle=unit.cycle, person="lea", reason="brush was too small")
    assert judged("verification.attempts", unit=unit).answer == "met"


def test_paper_entered_late_but_in_order_is_named_and_not_held_against_anybody() -> None:
    hour_ago = [
        move(act.kind, -3600) for act in {a.kind: a for a in finished().world.acts(finished().cycle)}.values()
    ]
    found = judged("people.late-entry", *hour_ago)
    assert found.answer == "met"
    assert "entered late, in their order" in found.sentence


def test_a_house_that_asks_for_no_competency_is_not_asked_for_any() -> None:
    free = finished().policy.model_copy(update={"competency_required": False})
    assert judged("people.competent", drop("competency_recorded"), policy=free).answer == "not applicable"


def test_a_final_rinse_that_left_a_channel_out_is_not_known_to_have_reached_it() -> None:
    found = judged("rinsing.final", change("final_rinsed", channels=["suction"]))
    assert found.answer == "unknown"
    assert "Biopsy" in found.sentence


def test_an_inspection_by_eye_alone_is_not_enough_to_know() -> None:
    assert judged("inspection.clean", change("inspected", tools=[])).answer == "unknown"
