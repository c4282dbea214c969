"""One well-formed act of every kind, fit for the state a unit is in: only order and state can speak against it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from one_cycle import Unit

from lumenward.journey import needs
from lumenward.quantities import Refusal

How = dict[str, Any]
TIMED = {
    "leak_tested": ("leak-test", 60), "aspirated": ("aspirate", 60), "flushed": ("flush", 240),
    "purged": ("purge", 60), "rinsed": ("rinse", 240), "final_rinsed": ("final-rinse", 200), "dried": ("dry", 1300),
}  # fmt: skip


def _has(unit: Unit, kind: str) -> bool:
    return any(act.kind == kind for act in unit.world.acts(unit.cycle))


def _purged(unit: Unit) -> How:
    after = "final rinse" if _has(unit, "final_rinsed") else "rinse" if _has(unit, "rinsed") else "flush"
    return {"after": after, "channels": unit.channels}


def _cleaning_started(unit: Unit) -> How:
    return {"batches": [unit.batch.id if hasattr(unit, "batch") else unit.charge.id]}


def _corrected(unit: Unit) -> How:
    registered = next(event for event in unit.world.events() if event.kind == "endoscope_registered")
    acts = [act for act in unit.world.acts(unit.cycle) if act.kind not in ("corrected", "released")]
    named = acts[-1] if acts else registered
    return {"subject": named.id, "event": named.id, "reason": "a slip", "new_body": named.body}


def _in_hand(**body: Any) -> Callable[[Unit], How]:
    return lambda unit: {"cycle": unit.world.endoscope(unit.endoscope).cycle, "person": "lea", **body}


def _fixed(**how: Any) -> Callable[[Unit], How]:
    return lambda unit: dict(how)


MAKES: dict[str, Callable[[Unit], How]] = {
    "patient_use_ended": _fixed(case="C-9"),
    "reprocessing_required": _fixed(reason="policy"),
    "point_of_use_treated": _fixed(product="bedside detergent", kept_moist=True),
    "sent": _fixed(closed_labelled=True, sharps_removed=True),
    "received": _fixed(place="sink-1"),
    "delay_branch_taken": _fixed(instruction="Soak, then clean.", agreed_by="lea"),
    "step_started": _fixed(step="anything"),
    "leak_tested": _fixed(method="wet", result="tight", pressure_kpa=20),
    "detergent_dosed": _fixed(
        vessel="sink-1", detergent="reedwash", lot="lot-d", water_l=15, temperature_c=30, dose_ml=60
    ),
    "cleaning_started": _cleaning_started,
    "exterior_cleaned": _fixed(elevator_both_positions=True),
    "channel_brushed": _fixed(channel="suction", brush="BR-50", passes=5),
    "connected": lambda unit: {"connector_set": "set-9", "ports": needs.ports(unit.described)},
    "aspirated": _fixed(channel="biopsy"),
    "flushed": lambda unit: {"channels": unit.channels, "seen_leaving": True},
    "purged": _purged,
    "rinsed": lambda unit: {"channels": unit.channels, "water": "utility"},
    "disconnected": _fixed(connector_set="set-9"),
    "inspected": _fixed(tools=["magnifier", "borescope"], result="clean and whole"),
    "cleaning_verified": _fixed(kit="kit-atp-channel", lot="lot-k", site="tip", value=20, result="pass"),
    "hld_started": lambda unit: {"charge": unit.charge.id, "temperature_c": unit.warm, "channels_filled": True},
    "hld_ended": lambda unit: {"charge": unit.charge.id, "temperature_c": unit.warm, "result": "complete"},
    "machine_cycle_started": _fixed(washer="washer-1", program="standard", connected_all=True),
    "machine_cycle_ended": _fixed(washer="washer-1", program="standard", result="complete"),
    "final_rinsed": lambda unit: {"count": 3, "water": "critical", "channels": unit.channels},
    "alcohol_flushed": lambda unit: {"strength_percent": 70, "channels": unit.channels or ["suction"]},
    "dried": lambda unit: unit.drying(),
    "stored": _fixed(cabinet="cabinet-1", slot=3),
    "released": lambda unit: unit.signing(),
    "taken_for_use": _fixed(case="C-3"),
    "work_interrupted": _fixed(step="anything", reason="a call"),
    "handed_over": _fixed(person="tom", from_person="ana"),
    "held": _in_hand(reason="other"),
    "hold_lifted": _in_hand(reason="looked into"),
    "sent_for_repair": _fixed(reason="a scratch"),
    "returned_from_repair": _fixed(),
    "loan_ended": _fixed(),
    "retired": _fixed(reason="worn"),
    "endoscope_registered": _fixed(subject="e2", name="Gastro 8", model="sanderling-28", serial="9", code="E-0008"),
    "corrected": _corrected,
    "lot_opened": _fixed(subject="lot-2", product="reedwash", shelf="detergents", lot="L2", expires="2026-12-31"),
    "lot_withdrawn": _fixed(subject="lot-k", reason="recalled"),
    "strips_checked": _fixed(subject="lot-s", full_strength_passed=3, diluted_failed=3),
    "charge_poured": _fixed(basin="basin-2", disinfectant="improved-20", lot="lot-x", volume_l=12),
    "mec_tested": lambda unit: {
        "subject": unit.charge.id, "strip_lot": "lot-s", "read_after_s": 80, "result": "pass",
    },
    "charge_discarded": lambda unit: {"subject": unit.charge.id, "reason": "soiled"},
    "connector_set_opened": _fixed(subject="set-10", kind="set-gastro"),
    "connector_set_discarded": _fixed(subject="set-9", reason="cracked"),
    "batch_discarded": lambda unit: {"subject": getattr(unit, "batch", unit.charge).id, "reason": "used"},
    "person_added": _fixed(subject="new", name="New", role="technician"),
    "person_left": _fixed(subject="tom"),
    "role_given": _fixed(subject="tom", role="lead"),
    "competency_recorded": _fixed(subject="tom", model="*", valid_until="2027-06-30", assessed_by="lea"),
    "library_adopted": _fixed(subject="library", digest="0" * 64, document={}),
    "policy_adopted": _fixed(subject="policy", digest="0" * 64, document={}, reason="new edition"),
    "demo_loaded": _fixed(subject="demo", seed=1, days=90),
    "demo_removed": _fixed(subject="demo", reason="done"),
}  # fmt: skip


def try_every_way(unit: Unit, kind: str) -> Refusal | None:
    """Return the refusal of one well-formed act of a kind, timed acts with their start recorded and time passed."""
    how = MAKES[kind](unit)
    before = unit.now
    if kind in TIMED:
        step, seconds = TIMED[kind]
        if unit.tries("step_started", step=step) is None:
            how = {**how, "started": unit.do("step_started", step=step).id}
        unit.wait(seconds)
    else:
        unit.wait(3600 if kind == "hld_ended" else 60)
    refusal = unit.tries(kind, **how)
    unit.now = before if kind not in TIMED else unit.now
    return refusal
