"""The delayed branch: only when the limit has passed, or when nobody knows when the use ended."""

from __future__ import annotations

from lumenward.journey.plan import Choice, Entry, OnlyAfter, PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench

_MAY_AGREE = ("lead", "infection prevention")


def build(bench: Bench) -> list[PlannedStep]:
    """Return the step that stands in the plan only when it is late."""
    limit = bench.deciding("delay", "duration", "ceiling")
    if limit is None:
        return []
    advice = bench.advice("delay")
    return [
        PlannedStep(
            key="delay",
            group="Delayed",
            title="Late: the delayed protocol comes first",
            say=_say(advice),
            cautions=["What has dried on is harder to take off. Late, or time unknown, is not yet lost."],
            targets=[target for target in bench.targets("delay") if target.bound == "ceiling"],
            entries=[*_instruction(bench, advice), _agreed_by(bench)],
            kind="delay_branch_taken",
            body={"instruction": f"{bench.ifu}: {' '.join(advice)}"[:500]} if advice else {},
            confirm="Agreed: it is cleaned by the delayed protocol",
            troubles=[words.damaged("delay")],
            only_after=OnlyAfter(
                since="patient_use_ended",
                until="cleaning_started",
                limit_s=limit.value,
                or_if={"time_known": False},
            ),
        )
    ]


def _say(advice: list[str]) -> list[str]:
    if advice:
        return advice
    return [
        "The IFU entered here says nothing about a late start.",
        "Call a lead or infection prevention. Agree what is done, and write it down here.",
    ]


def _instruction(bench: Bench, advice: list[str]) -> list[Entry]:
    if advice:
        return [words.tick("followed", "The delayed protocol is understood")]
    return [Entry(key="instruction", label="What was agreed", kind="words")]


def _agreed_by(bench: Bench) -> Entry:
    people = [p for p in bench.world.people() if p.role in _MAY_AGREE and not p.left]
    return Entry(
        key="agreed_by",
        label="Agreed by",
        kind="scan",
        scans="person",
        choices=[Choice(value=p.id, label=p.name, note=p.role) for p in sorted(people, key=lambda p: p.name)],
    )
