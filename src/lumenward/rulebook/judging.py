"""Judgements that several rules share: every channel done, and for long enough."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.journey.course import channels_of
from lumenward.journey.event import Event
from lumenward.journey.numbers import floor_for_channels
from lumenward.journey.target import Target
from lumenward.quantities import show_duration
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, unknown


def said(target: Target) -> str:
    """Return who states a number: "IFU: Document, edition, page"."""
    return f"{target.basis}: {target.source}"


def every_channel(case: Case, done: dict[str, Event], participle: str, fix: str) -> Opinion | None:
    """Return unknown for channels without a record, or None when each of the model's channels has one."""
    missing = [one for one in needs.channels(case.model) if one not in done]
    if not missing:
        return None
    return unknown(f"No record that these were {participle}: {case.names(missing)}.", *done.values(), fix=fix)


def channels_and_time(case: Case, done: dict[str, Event], step: str, participle: str, fix: str) -> Opinion:
    """Judge a step that serves every channel: each has a record, and each record lasted at least its floor."""
    if not case.model.channels:
        return not_applicable(f"The {case.model.name} has no channel.")
    return every_channel(case, done, participle, fix) or long_enough(
        case, _distinct(done), step, participle, fix
    )


def long_enough(case: Case, acts: list[Event], step: str, participle: str, fix: str) -> Opinion:
    """Judge acts of one kind against the floor of the channels that each of them served."""
    shortest: tuple[float, Target] | None = None
    for act in acts:
        floor = floor_for_channels(case.model, case.policy, step, channels_of(act))
        if floor is None:
            continue
        lasted = case.course.duration_s(act)
        if lasted is None:
            return unknown(
                f"Nobody knows how long it was {participle}: no start was recorded.",
                act,
                fix=fix,
                target=floor,
            )
        if lasted < floor.value:
            sentence = f"{participle.capitalize()} for {show_duration(lasted)}; at least {show_duration(floor.value)}."
            return broken(sentence, act, fix=fix, target=floor)
        if shortest is None or lasted - floor.value < shortest[0] - shortest[1].value:
            shortest = lasted, floor
    what = f"Every channel was {participle}" if case.model.channels else f"It was {participle}"
    if shortest is None:
        return met(f"{what}. Nobody states how long.", *acts)
    return met(
        f"{what}, for {show_duration(shortest[0])}; at least {show_duration(shortest[1].value)} is asked for.",
        *acts,
        target=shortest[1],
    )


def _distinct(done: dict[str, Event]) -> list[Event]:
    return list({act.id: act for act in done.values()}.values())
