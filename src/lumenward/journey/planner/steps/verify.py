"""The cleaning verification test: where the policy asks for it, or alcohol was used before cleaning.

The kit's own limits say what a value means.
"""

from __future__ import annotations

from lumenward.journey.plan import Choice, Entry, OnlyAfter, PlannedStep, Trouble
from lumenward.journey.planner import usable, words
from lumenward.journey.planner.bench import Bench

_ALCOHOL = "alcohol was used at the bedside; it fixes protein, so the cleaning is proved"
# Called for by what the bedside act says, never by time: it ends where it begins.
_AFTER_ALCOHOL = OnlyAfter(
    since="point_of_use_treated", until="point_of_use_treated", limit_s=0, or_if={"alcohol_used": True}
)


def build(bench: Bench) -> list[PlannedStep]:
    """Return the verification; where the policy does not ask for it, only called for by alcohol at the bedside."""
    asked = bench.verifies
    return [
        PlannedStep(
            key="verify",
            group="Verify",
            title="Test whether it is clean",
            say=bench.say(
                "verify",
                [f"Why: {bench.policy.verification_source if asked else _ALCOHOL}."],
                ["Sample after the rinse. Chemicals falsify the light."],
            ),
            cautions=[
                "A limit belongs to one meter, one kit and one way of sampling.",
                "A low value does not prove that nothing is alive.",
            ],
            targets=bench.targets("verify"),
            entries=_entries(bench),
            kind="cleaning_verified",
            confirm="The test passed",
            troubles=[_failed(bench), words.damaged("verify")],
            blocked=""
            if bench.library.kits
            else "The library holds no verification kit: its limits are missing.",
            only_after=None if asked else _AFTER_ALCOHOL,
        )
    ]


def _entries(bench: Bench) -> list[Entry]:
    return [
        Entry(key="kit", label="Test kit", kind="scan", scans="kit", choices=usable.kits(bench), remember=True),
        Entry(key="site", label="Where the sample is from", kind="choice", choices=_sites(bench)),
        Entry(key="value", label="Value", kind="number", low=0, hint="in the unit of the kit"),
        Entry(
            key="result", label="What the kit's limits say", kind="choice", graded=("value", "kit"),
            choices=[
                Choice(value="pass", label="Passes"),
                Choice(value="alert", label="Passes, but look again", note="Tell the lead: it comes close."),
                Choice(value="fail", label="Fails", note="It is cleaned again."),
            ],
        ),
    ]  # fmt: skip


def _sites(bench: Bench) -> list[Choice]:
    sites = ["elevator recess"] if bench.has_elevator else []
    sites += [bench.name_of(channel) for channel in bench.channels]
    sites.append("tip and outside")
    return [Choice(value=site, label=site[:1].upper() + site[1:]) for site in dict.fromkeys(sites)]


def _failed(bench: Bench) -> Trouble:
    attempts = bench.policy.cleaning_attempts
    return Trouble(
        key="verify-failed",
        label="The test fails",
        say=["Clean it again from the beginning, with fresh detergent.", "Then test again."],
        kind="cleaning_verified",
        body={"result": "fail"},
        entries=_entries(bench)[:3],
        back_to="dose-sink",
        attempts=attempts,
        holds="verification failed twice",
        say_stop=[
            f"It has now failed {attempts} times ({bench.policy.cleaning_attempts_source}).",
            "Put it aside, tagged. A lead decides; a borescope may show why.",
        ],
        confirm="Failed: it is cleaned again",
    )
