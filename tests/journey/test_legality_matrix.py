"""Every kind of act in every stage of a cycle: the legal ones are accepted, all others get a sentence."""

from __future__ import annotations

import pytest
from every_act import MAKES, try_every_way
from one_cycle import Unit

from lumenward.journey.kinds import KINDS
from lumenward.journey.legality import CHECKS

ALWAYS = frozenset(
    {"endoscope_registered", "corrected", "lot_opened", "lot_withdrawn", "strips_checked", "charge_poured",
     "mec_tested", "charge_discarded", "connector_set_opened", "connector_set_discarded", "person_added",
     "person_left", "role_given", "competency_recorded", "library_adopted", "policy_adopted", "demo_loaded",
     "demo_removed"}
)  # fmt: skip
AT_WORK = frozenset({"step_started", "work_interrupted", "handed_over", "held", "sent_for_repair", "retired"})
DOSE = {"detergent_dosed"}
DRAIN = {"batch_discarded"}
AGAIN = {"reprocessing_required"}

# What is legal after each step of a gastroscope's cycle by hand, beside ALWAYS and AT_WORK.
LEGAL: dict[str, set[str]] = {
    "used": {"point_of_use_treated", "sent", "received", "leak_tested"} | DOSE,
    "treated": {"sent", "received", "leak_tested"} | DOSE,
    "sent": {"received", "leak_tested"} | DOSE,
    "received": {"leak_tested"} | DOSE,
    "leak_tested": DOSE,
    "dosed": {"cleaning_started"} | DOSE | DRAIN,
    "cleaning_started": {"exterior_cleaned", "channel_brushed"} | DOSE | DRAIN,
    "exterior_cleaned": {"channel_brushed"} | DOSE | DRAIN,
    "brushed": {"connected"} | DOSE | DRAIN,
    "connected": {"aspirated", "disconnected"} | DOSE | DRAIN,
    "aspirated": {"flushed", "disconnected"} | DOSE | DRAIN,
    "flushed": {"purged", "disconnected"} | DOSE | DRAIN,
    "purged_flush": {"rinsed", "disconnected"} | DOSE | DRAIN,
    "rinsed": {"purged", "disconnected"} | DRAIN,
    "purged_rinse": {"disconnected", "inspected", "cleaning_verified"} | DRAIN,
    "disconnected": {"connected", "inspected", "cleaning_verified"} | DRAIN,
    "inspected": {"cleaning_verified", "machine_cycle_started"} | DRAIN,
    "mec_tested": {"cleaning_verified", "machine_cycle_started", "hld_started"} | DRAIN,
    "hld_started": {"hld_ended"} | DRAIN,
    "hld_ended": {"final_rinsed"} | DRAIN | AGAIN,
    "final_rinsed": {"purged", "dried"} | DRAIN | AGAIN,
    "dried": {"stored"} | DRAIN | AGAIN,
    "stored": {"released", "patient_use_ended"} | DRAIN | AGAIN,
    "released": {"taken_for_use", "patient_use_ended"} | DRAIN | AGAIN,
}
EXCEPT: dict[str, set[str]] = {
    "hld_started": {"charge_discarded"},  # an endoscope lies in it
    "released": {"corrected"},  # what was judged stands
}


def expected(stage: str) -> set[str]:
    return (LEGAL[stage] | ALWAYS | AT_WORK) - EXCEPT.get(stage, set())


@pytest.mark.parametrize("stage", LEGAL)
def test_each_kind_is_accepted_or_refused_with_a_sentence_in_each_stage(stage: str) -> None:
    unit = Unit().to(stage)
    accepted = set()
    for kind in MAKES:
        refusal = try_every_way(unit, kind)
        if refusal is None:
            accepted.add(kind)
        else:
            assert_sentence(refusal.message, refusal.hint, refusal.field, kind)
    assert accepted == expected(stage)


def test_an_act_of_every_kind_is_made_and_checked() -> None:
    assert set(MAKES) == set(KINDS) == set(CHECKS)


SIDE: dict[str, tuple[list[tuple[str, dict[str, object]]], set[str]]] = {
    "registered": ([], {"patient_use_ended", "reprocessing_required", "held", "sent_for_repair", "retired"}),
    "held": (
        [("held", {"reason": "recall", "person": "lea"})],
        {"held", "hold_lifted", "sent_for_repair", "retired"},  # held: for another reason as well
    ),
    "away": ([("sent_for_repair", {"reason": "a scratch"})], {"returned_from_repair", "retired"}),
    "back from repair": (
        [("sent_for_repair", {"reason": "a scratch"}), ("returned_from_repair", {})],
        {"patient_use_ended", "reprocessing_required", "held", "sent_for_repair", "retired"},
    ),
    "retired": ([("retired", {"reason": "worn"})], set()),
}


@pytest.mark.parametrize("state", SIDE)
def test_each_kind_beside_the_cycle(state: str) -> None:
    acts, legal = SIDE[state]
    unit = Unit()
    for kind, how in acts:
        unit.do(kind, **how)
    accepted = {kind for kind in MAKES if try_every_way(unit, kind) is None}
    assert accepted == legal | ALWAYS


def test_in_use_only_the_end_of_use_opens_the_next_cycle() -> None:
    unit = Unit().to("taken")
    accepted = {kind for kind in MAKES if try_every_way(unit, kind) is None}
    assert accepted == (ALWAYS - {"corrected"}) | {"patient_use_ended", "held", "retired", "batch_discarded"}


def assert_sentence(message: str, hint: str, field: str, kind: str) -> None:
    assert message[0].isupper() or message[0].isdigit(), (kind, message)
    assert message.rstrip().endswith((".", ")")), (kind, message)
    assert len(message) < 300, (kind, message)
    assert hint, (kind, message)
    assert hint.endswith("."), (kind, hint)
    assert field, (kind, message)
