"""At the bedside and on the way: what was done before the endoscope came here."""

from __future__ import annotations

from lumenward.journey.plan import Choice, Entry, PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.steps.used import PATIENT

_PRODUCTS = (
    Choice(value="bedside detergent", label="Bedside detergent"),
    Choice(value="moisture-holding product", label="Product that keeps it moist"),
    Choice(value="water", label="Water only"),
    Choice(
        value="not treated", label="Nothing was done", note="Say so. Clean without delay and tell the room."
    ),
)


def build(bench: Bench) -> list[PlannedStep]:
    """Return the bedside treatment and the journey in its container."""
    return [_treated(), _sent()]


def _treated() -> PlannedStep:
    return PlannedStep(
        key="bedside",
        group="Bedside",
        title="What was done at the bedside?",
        say=["Read the tag, or ask the room.", "Record what was done, not what should have been."],
        cautions=["Alcohol fixes protein: never before cleaning."],
        entries=[
            Entry(
                key="product",
                label="Treated with",
                kind="choice",
                choices=list(_PRODUCTS),
                remember=True,
            ),
            words.fact("kept_moist", "Kept moist on the way?", "Moist", "It has begun to dry"),
            words.fact(
                "alcohol_used", "Was alcohol used on it?", "Alcohol was used", "No alcohol",
                yes_note="Protein may be fixed: look twice at the inspection, and tell the room.",
            ),
        ],
        kind="point_of_use_treated",
        confirm="This is what was done",
        route=PATIENT,
    )  # fmt: skip


def _sent() -> PlannedStep:
    return PlannedStep(
        key="sent",
        group="Bedside",
        title="How did it travel?",
        say=["One endoscope in one closed, labelled container. Loops large and loose."],
        cautions=[words.SHARPS],
        entries=[
            Entry(
                key="container", label="Container", kind="scan", scans="container", required=False,
                hint="scan it, or leave it empty",
            ),
            words.fact(
                "closed_labelled", "Closed and labelled?", "Closed and labelled", "Open, or without a label",
                no_note="Tell the room: a leaking container carries germs through the house.",
            ),
            words.fact(
                "sharps_removed", "Needles and single-use parts taken off?", "All taken off in the room",
                "Something came along", no_note="Take it off with forceps, into the sharps box. Tell the room.",
            ),
        ],
        kind="sent",
        confirm="This is how it came",
        route=PATIENT,
    )  # fmt: skip
