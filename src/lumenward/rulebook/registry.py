"""The register of rules: what a rule is, how a function becomes one, and the words it answers in."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from types import ModuleType

from lumenward.journey.event import Event
from lumenward.journey.target import Basis, Target
from lumenward.rulebook.case import Case
from lumenward.rulebook.verdict import Answer, Finding


@dataclass(frozen=True)
class Opinion:
    """What a rule's function says; `target` names who stated the number that decided, if one did."""

    answer: Answer
    sentence: str
    evidence: tuple[str, ...] = ()
    fix: str = ""
    target: Target | None = None


@dataclass(frozen=True)
class Rule:
    """One rule: what it is called, who asks for it, and the function that judges."""

    id: str
    title: str
    group: str
    source: str
    authority: Basis
    check: Callable[[Case], Opinion]

    def judge(self, case: Case) -> Finding:
        """Return this rule's finding about a case."""
        opinion = self.check(case)
        target = opinion.target
        return Finding(
            rule=self.id,
            title=self.title,
            answer=opinion.answer,
            sentence=opinion.sentence,
            evidence=list(dict.fromkeys(opinion.evidence)),
            source=target.source if target else self.source,
            authority=target.basis if target else self.authority,
            fix=opinion.fix,
        )


_REGISTERED: dict[str, Rule] = {}


def rule(
    *, id: str, title: str, group: str, source: str, authority: Basis = "default"
) -> Callable[[Callable[[Case], Opinion]], Callable[[Case], Opinion]]:
    """Register a function as a rule. The id must be new; it is what records and screens call the rule."""

    def register(check: Callable[[Case], Opinion]) -> Callable[[Case], Opinion]:
        if id in _REGISTERED:
            raise ValueError(f"There is a rule {id!r} already.")
        _REGISTERED[id] = Rule(
            id=id, title=title, group=group, source=source, authority=authority, check=check
        )
        return check

    return register


def in_order_of(*subjects: ModuleType) -> dict[str, Rule]:
    """Return the rules by id, subject after subject, each subject's in the order of its file."""
    return {
        one.id: one
        for subject in subjects
        for one in _REGISTERED.values()
        if one.check.__module__ == subject.__name__
    }


def _ids(evidence: Iterable[Event | str | None]) -> tuple[str, ...]:
    return tuple(one.id if isinstance(one, Event) else one for one in evidence if one)


def met(sentence: str, *evidence: Event | str | None, target: Target | None = None) -> Opinion:
    """Say that the rule is met."""
    return Opinion("met", sentence, _ids(evidence), target=target)


def broken(sentence: str, *evidence: Event | str | None, fix: str, target: Target | None = None) -> Opinion:
    """Say that the rule is broken, and what would mend it."""
    return Opinion("broken", sentence, _ids(evidence), fix, target)


def unknown(sentence: str, *evidence: Event | str | None, fix: str, target: Target | None = None) -> Opinion:
    """Say that a fact is missing, and how to come by it."""
    return Opinion("unknown", sentence, _ids(evidence), fix, target)


def not_applicable(sentence: str) -> Opinion:
    """Say that the rule does not speak of this endoscope or this cycle."""
    return Opinion("not applicable", sentence)
