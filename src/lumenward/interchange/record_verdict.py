"""Verdicts as a record shows them: the one that was signed, and the one that today's facts give."""

from __future__ import annotations

from datetime import datetime, tzinfo

from lumenward.interchange.record_parts import Instant, Judgement, RuleLine
from lumenward.journey import saying
from lumenward.journey.states import CycleState, World
from lumenward.rulebook.verdict import Finding, Verdict

ORDER = {"broken": 0, "unknown": 1, "met": 2, "not applicable": 3}


def judgement(verdict: Verdict, numbers: dict[str, int], zone: tzinfo) -> Judgement:
    """Return a verdict in words; `numbers` gives the acts of the record their numbers by event id."""
    return Judgement(
        at=Instant.of(datetime.fromisoformat(verdict.at), zone), policy=verdict.policy, ready=verdict.ready,
        sentence=_sentence(verdict), against=[_rule(one, numbers) for one in verdict.against],
        rules=[_rule(one, numbers) for one in verdict.findings],
    )  # fmt: skip


def now_judgement(
    world: World, cycle: CycleState, now: datetime, numbers: dict[str, int], zone: tzinfo
) -> Judgement:
    """Return what the rulebook says of the cycle now."""
    from lumenward.rulebook import assess

    return judgement(assess(world, cycle.endoscope, cycle.id, now), numbers, zone)


def _sentence(verdict: Verdict) -> str:
    told = [
        f"{sum(1 for one in verdict.findings if one.answer == answer)} {answer}"
        for answer in ORDER
        if any(one.answer == answer for one in verdict.findings)
    ]
    front = "Ready" if verdict.ready else "Not ready"
    return f"{front}: of {len(verdict.findings)} rules {saying.listed(told) or 'none was asked'}."


def _rule(finding: Finding, numbers: dict[str, int]) -> RuleLine:
    known = sorted({numbers[one] for one in finding.evidence if one in numbers})
    return RuleLine(
        title=finding.title, answer=finding.answer, sentence=finding.sentence,
        source=f"{finding.authority}: {finding.source}", rests_on=_acts(known),
    )  # fmt: skip


def _acts(known: list[int]) -> str:
    """Return numbers as a short list of stretches.

    >>> _acts([3, 4, 5, 9])
    '3–5, 9'
    """
    stretches: list[list[int]] = []
    for number in known:
        if stretches and number == stretches[-1][-1] + 1:
            stretches[-1].append(number)
        else:
            stretches.append([number])
    return ", ".join(str(s[0]) if len(s) == 1 else f"{s[0]}–{s[-1]}" for s in stretches)
