"""Under the detergent: the delay clock ends here."""

from __future__ import annotations

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the immersion, or the wetting of an endoscope that may not be immersed."""
    immersed = bench.model.immersible
    return [
        PlannedStep(
            key="immerse",
            group="Clean",
            title="Put it under the detergent" if immersed else "Clean it without immersing it",
            say=bench.say("clean", otherwise=_say(immersed)) if immersed else _say(immersed),
            cautions=[words.SPLASH, words.SHARPS],
            targets=[t for t in bench.targets("delay") if t.bound == "ceiling"],
            entries=[
                words.tick("protective_equipment", "Gloves, gown, eye and face cover are on", record=True),
                words.tick("covers_off", "Valves, caps and every removable part are off"),
            ],
            kind="cleaning_started",
            carry={"batches": "detergent_dosed.id[]"},
            confirm="It is under the surface" if immersed else "Cleaning has begun",
            troubles=[words.damaged("immerse")],
        )
    ]


def _say(immersed: bool) -> list[str]:
    if immersed:
        return [
            "Lay it in, all of it, in large loops.",
            "Keep it under the surface until it is clean: that stops the spray.",
        ]
    return [
        "The IFU does not allow immersion.",
        "Wipe with a cloth wet with detergent; keep the contacts dry.",
    ]
