"""The act that opens the cycle: a patient's use ended, or something else made processing necessary."""

from __future__ import annotations

from typing import get_args

from lumenward.journey.kinds.bedside import ReprocessingRequired
from lumenward.journey.plan import Choice, Entry, PlannedStep, Trouble
from lumenward.journey.planner import standing, words
from lumenward.journey.planner.bench import Bench

PATIENT = "opening:patient"
NO_PATIENT = "opening:no-patient"

_REASONS = {
    "hang time over": "It waited too long on the shelf",
    "loan in": "It is on loan and has just come",
    "back from repair": "It is back from repair",
    "new": "It is new",
    "dropped or touched": "It was dropped or touched",
    "storage failed": "Its cabinet or tray failed",
    "policy": "Our own rules ask for it",
    "culture": "A culture was taken or came back",
    "recalled": "It was called back",
}


def build(bench: Bench) -> list[PlannedStep]:
    """Return the two ways into a cycle."""
    return [_after_patient(bench), _without_patient(bench)]


def _after_patient(bench: Bench) -> PlannedStep:
    return PlannedStep(
        key="used",
        group="Used",
        title="When did the case end?",
        say=[
            *_before(bench),
            "Scan or type the case reference. Never a name.",
            f"The clock runs from the end of use: cleaning begins within {bench.policy.delay.limit_min:g} min.",
        ],
        targets=bench.targets("delay"),
        entries=[
            *_case(bench),
            words.tick("no_prion", "Nobody suspects CJD or another prion disease"),
        ],
        kind="patient_use_ended",
        body={"prion_risk": False},
        confirm="It was used, and this is when it ended",
        troubles=[_prion(bench)],
        route=PATIENT,
        instead="not-used",
        instead_label="No patient this time",
    )


def _before(bench: Bench) -> list[str]:
    before = "" if bench.cycle else standing.said(bench)
    return [before] if before else []


def _case(bench: Bench) -> list[Entry]:
    found = [
        Entry(key="case", label="Case reference", kind="scan", scans="case", hint="from the case list or label"),
        Entry(key="happened_at", label="End of use", kind="time", hint="about, if the exact minute is not known"),
        words.fact(
            "time_known", "Is this time known?", "Yes, it was written down or told", "Nobody knows when it ended",
            no_note="It is treated as late: the delayed protocol follows.",
        ),
        Entry(key="room", label="Room", kind="words", required=False, remember=True),
    ]  # fmt: skip
    return found + ([_bladder()] if bench.model.urological else [])


def _bladder() -> Entry:
    return Entry(
        key="bladder_cancer_history",
        label="Has this patient, or the next one, had bladder cancer?",
        kind="choice",
        choices=[
            Choice(value="no", label="No: asked and answered"),
            Choice(value="yes", label="Yes", note="OPA must not be used."),
            Choice(value="not asked", label="Not asked", note="OPA is not used until somebody knows."),
        ],
        hint="OPA has caused severe reactions after bladder examinations",
    )


def _prion(bench: Bench) -> Trouble:
    return Trouble(
        key="prion",
        label="Prion disease is suspected or known",
        say=[
            "Touch nothing more. Close the container.",
            "Label it and keep it apart from all others.",
            "Call infection prevention now. Disinfection does not remove prions; some products fix them.",
        ],
        kind="patient_use_ended",
        body={"prion_risk": True},
        entries=_case(bench),
        stops=True,
        holds="prion risk",
        confirm="It is closed away and infection prevention is called",
    )


def _without_patient(bench: Bench) -> PlannedStep:
    known = get_args(ReprocessingRequired.model_fields["reason"].annotation)
    return PlannedStep(
        key="not-used",
        group="Used",
        title="Why is it processed?",
        say=[*_before(bench), "Nobody used it. It counts as not processed all the same."],
        cautions=["New, loaned, repaired or long on the shelf: dirty until processed here."],
        entries=[
            Entry(
                key="reason",
                label="The reason",
                kind="choice",
                choices=[Choice(value=reason, label=_REASONS[reason]) for reason in known],
            ),
            Entry(key="note", label="Anything to add", kind="words", required=False),
        ],
        kind="reprocessing_required",
        confirm="This is why it is processed",
        route=NO_PATIENT,
        instead="used",
        instead_label="A patient was examined with it",
    )
