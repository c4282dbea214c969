"""Rules and the verdict: may this endoscope be called ready, and if not, why not?

To add a rule: write one function in the file of its subject, mark it with `@rule(...)`, and let it return `met`,
`broken`, `unknown` or `not_applicable` with one sentence that holds the numbers found and the numbers asked for. A
missing fact is `unknown`, never `met`. Then add its cases to `tests/rulebook/`: a test asks every rule for a met, a
broken and an unknown one. Nothing else has to know: `assess`, screens, records and the manual read `RULES`.

>>> sorted({one.group for one in RULES.values()})[:3]
['Cleaning', 'Delay', 'Detergent']
"""

from __future__ import annotations

from datetime import datetime

from lumenward.equipment.policy import Policy
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.course import Course
from lumenward.journey.states import World
from lumenward.quantities import Refusal
from lumenward.rulebook import (
    cleaning,
    delay,
    detergent,
    disinfection,
    drying,
    holds,
    inspection,
    leak,
    people,
    rinsing,
    sequence,
    storage,
    supplies,
    verification,
)
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Rule, in_order_of, rule
from lumenward.rulebook.verdict import Finding, Verdict

RULES: dict[str, Rule] = in_order_of(
    sequence, holds, delay, leak, detergent, cleaning, inspection, verification, disinfection, rinsing, drying,
    storage, supplies, people,
)  # fmt: skip


def assess(
    world: World, endoscope_id: str, cycle_id: str, now: datetime, policy: Policy | None = None
) -> Verdict:
    """Return the judgement of every rule on one cycle at one instant.

    Acts later than `now` are not looked at. `policy` judges by another policy than the one in force: so a change
    is tried on the past before it is adopted. Raises Refusal for an endoscope that is not registered.
    """
    case = gather(world, endoscope_id, cycle_id, now, policy)
    findings = [one.judge(case) for one in RULES.values()]
    until = case.hang.limit_at.isoformat() if case.hang else None
    name = f"{case.policy.name}, edition {case.policy.edition}"
    return Verdict(
        endoscope=endoscope_id,
        cycle=cycle_id,
        at=now.isoformat(),
        policy=name,
        findings=findings,
        ready_until=until,
    )


def gather(
    world: World, endoscope_id: str, cycle_id: str, now: datetime, policy: Policy | None = None
) -> Case:
    """Return the case on which the rules judge."""
    endoscope = world.endoscope(endoscope_id)
    if endoscope is None:
        raise Refusal("unknown-endoscope", f"No endoscope {endoscope_id} is registered here.", "endoscope")
    library = world.library(now)
    acts = [act for act in world.acts(cycle_id) if elapsed_s(act.happened_at, now) >= 0]
    return Case(
        world=world, endoscope=endoscope, cycle=cycle_id, course=Course(acts), model=library.model(endoscope.model),
        library=library, policy=policy or world.policy(now), now=now,
    )  # fmt: skip


__all__ = ["RULES", "Case", "Finding", "Rule", "Verdict", "assess", "gather", "rule"]
