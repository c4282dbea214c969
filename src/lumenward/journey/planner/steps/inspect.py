"""The inspection: by magnifier every time, by borescope where IFU or policy ask for it."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the inspection."""
    borescope = needs.borescope(bench.model, bench.policy)
    tools = ["magnifier", "borescope"] if borescope else ["magnifier"]
    return [
        PlannedStep(
            key="inspect",
            group="Inspect",
            title="Look closely: is it clean and whole?",
            say=_say(bench, borescope),
            cautions=["Clean by eye is not proof. It is the least there must be."],
            targets=bench.targets("inspect"),
            entries=[words.tick("looked", "Every part was looked at under the light")],
            kind="inspected",
            body={"tools": tools, "result": "clean and whole"},
            match=["result"],
            confirm="Clean and whole",
            troubles=[_debris(bench, tools), _damage(tools)],
        )
    ]


def _say(bench: Bench, borescope: bool) -> list[str]:
    lines = ["The elevator recess, raised and lowered."] if bench.has_elevator else []
    if borescope:
        lines.append("Borescope through every channel it fits: scratches, shreds, stains, droplets.")
    return bench.say("inspect", lines, ["Under the lit magnifier: tip, lens, nozzle, ports, valves, sheath."])


def _debris(bench: Bench, tools: list[str]) -> Trouble:
    attempts = bench.policy.cleaning_attempts
    return Trouble(
        key="inspect-debris",
        label="Something is still on it or in it",
        say=["Clean it again from the beginning, with fresh detergent.", "Brush the place you saw first."],
        kind="inspected",
        body={"tools": tools, "result": "debris seen"},
        match=["result"],
        entries=[Entry(key="note", label="What, and where", kind="words")],
        back_to="dose-sink",
        attempts=attempts,
        holds="debris twice",
        say_stop=[
            f"It has now failed {attempts} times ({bench.policy.cleaning_attempts_source}).",
            "Put it aside, tagged. A lead decides; more cleaning alone is not the answer.",
        ],
        confirm="Not clean: it is cleaned again",
    )


def _damage(tools: list[str]) -> Trouble:
    return Trouble(
        key="inspect-damage",
        label="Something is broken, torn or worn",
        say=["A torn channel cannot be cleaned.", "Put it aside, tagged, for repair."],
        kind="inspected",
        body={"tools": tools, "result": "damage seen"},
        match=["result"],
        entries=[Entry(key="note", label="What, and where", kind="words")],
        back_to="inspect",
        stops=True,
        confirm="It is put aside and tagged",
    )
