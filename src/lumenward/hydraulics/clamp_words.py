"""What limits a clamp plan, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from lumenward.hydraulics.clamps import ClampPlan

_WORTH_SAYING = 0.01
_WHAT = {"volume": "volume", "shear": "time of wall shear"}


def binding(plan: ClampPlan) -> list[str]:
    """Return what limits the plan, the strongest limit first."""
    said = [_floor(plan)] if plan.schedule.stretched_s > 0 else _shares(plan)
    total = plan.total_s * (1 - 1e-9)
    if plan.refused_by_cap and plan.without_cap_s < total:
        said.append(_cap(plan))
    if plan.schedule.switch_s > 0 and plan.without_switch_s < plan.schedule.running_s * (1 - 1e-9):
        said.append(
            f"Changes of clamps count {plan.schedule.switch_s:g} s each; were they free, more turns would bring the "
            f"running time from {seconds(plan.schedule.running_s)} to {seconds(plan.without_switch_s)}."
        )
    return said or ["Nothing is asked for, so nothing limits the plan."]


def seconds(value: float) -> str:
    """Return a time as a person reads it.

    >>> seconds(17.84), seconds(230.2)
    ('17.8 s', '230 s')
    """
    return f"{value:.1f} s" if value < 100 else f"{value:.0f} s"


def savings(plan: ClampPlan) -> str:
    """Return what the plan saves against all ports open and one port at a time."""
    return " ".join(
        [
            _against(plan.total_s, plan.all_open_s, "With all ports open"),
            _against(plan.total_s, plan.one_at_a_time_s, "With one port at a time"),
        ]
    )


def ports(names: Sequence[str]) -> str:
    """Return open ports as words."""
    return " + ".join(names)


def _against(total: float, other: float | None, way: str) -> str:
    if other is None:
        return f"{way} the demands cannot be met."
    saved = 100 * (1 - total / other) if other > 0 else 0.0
    if saved < 0.5:
        return f"{way} it takes no longer."
    return f"{way} it takes {seconds(other)}; the plan saves {saved:.0f} %."


def _shares(plan: ClampPlan) -> list[str]:
    return [
        f"{channel}: its {_WHAT[kind]} decides {100 * share:.0f} % of the running time."
        for channel, kind, share in plan.shares
        if share >= _WORTH_SAYING
    ]


def _floor(plan: ClampPlan) -> str:
    running, rest = plan.schedule.running_s, plan.schedule.stretched_s
    if running <= rest:
        return (
            f"The floor of {seconds(running)} decides the running time; the demands alone need next to none."
        )
    return (
        f"The floor of {seconds(running)} decides the running time; the demands alone need "
        f"{seconds(running - rest)} in these turns. The rest stretches all turns in proportion, so that every demand "
        f"is met {running / (running - rest):.3g} times."
    )


def _cap(plan: ClampPlan) -> str:
    caps = plan.settings.caps
    named = ", ".join(f"{p / 1e3:.4g} kPa {n}" for p, n in zip(caps.pascals, caps.names, strict=True))
    return (
        f"The pressure cap ({named}) shuts out {plan.refused_by_cap} of {len(plan.settings.open)} settings of the "
        f"clamps; without it {seconds(plan.without_cap_s)} would do."
    )
