"""Verdict and release: the server judges, a competent person signs."""

from __future__ import annotations

from lumenward.journey import saying
from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the release; it needs the server, because it rests on every act of the cycle."""
    roles = saying.listed(bench.policy.release_roles)
    return [
        PlannedStep(
            key="release",
            group="Release",
            title="Is it ready for a patient?",
            say=[
                "Read the verdict: every rule, and why.",
                f"A person releases it, never the computer. May sign here: {roles}.",
            ],
            cautions=["Every rule met does not mean sterile. The IFU and local rules decide."],
            kind="released",
            confirm="I release it for a patient",
            troubles=[words.damaged("release")],
            online=True,
        )
    ]
