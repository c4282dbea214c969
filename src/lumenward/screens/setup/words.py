"""Library and policy in words: facts of a thing, a stated number, what one policy changes against another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from lumenward.equipment.common import Stated
from lumenward.equipment.loader import as_document
from lumenward.equipment.policy import Policy
from lumenward.quantities import THIN, show_number
from lumenward.screens.calculations.wording import split

_SHOWN_APART = frozenset({"id", "name", "code"})
_BOUND = {"floor": "at least", "ceiling": "at most", "aim": "aim at"}
_UNITS = {"C": "°C", "times": "times"}


def facts_of(thing: BaseModel) -> list[tuple[str, str]]:
    """Return what a thing of the library is, key by key in words."""
    document = as_document(thing)
    return [(_label(key), _value(key, value)) for key, value in document.items() if key not in _SHOWN_APART]


def _label(key: str) -> str:
    return split(key)[0]


def _value(key: str, value: Any) -> str:
    unit = split(key)[1]
    said = _said(value)
    return f"{said}{THIN}{unit}" if unit and isinstance(value, int | float) else said


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return show_number(value)
    if isinstance(value, Mapping):
        return ", ".join(f"{_label(str(k)).lower()} {_value(str(k), v)}" for k, v in value.items())
    if isinstance(value, list):
        apart = "; " if any(isinstance(one, Mapping) for one in value) else ", "
        return apart.join(_said(one) for one in value)
    return str(value)


def number_words(one: Stated) -> str:
    """Return a stated number as a person reads it.

    >>> one = Stated(step="dry", quantity="duration", bound="floor", value=600, unit="s", page="p. 52")
    >>> number_words(one).replace(THIN, " ")
    'at least 600 s'
    """
    return f"{_BOUND[one.bound]} {show_number(one.value)}{THIN}{_UNITS.get(one.unit, one.unit)}"


@dataclass(frozen=True)
class Decision:
    """One decision of a policy, what is in force in its place, and where it comes from."""

    what: str
    now: str
    then: str
    source: str

    @property
    def changes(self) -> bool:
        """Return whether it differs from what is in force."""
        return self.now != self.then


def decisions(policy: Policy, in_force: Policy | None = None) -> list[Decision]:
    """Return every decision of a policy beside the one in force."""
    then, now = _decided(policy), _decided(in_force) if in_force else {}
    order = [*then, *(what for what in now if what not in then)]
    return [
        Decision(
            what, now.get(what, ("", ""))[0], then.get(what, ("not said", ""))[0], then.get(what, ("", ""))[1]
        )
        for what in order
    ]


def _decided(policy: Policy) -> dict[str, tuple[str, str]]:
    delay = f"at most {_minutes(policy.delay.limit_min)}, loud from {_minutes(policy.delay.soon_min)}"
    hangs = {
        _hang(one.cabinet, one.high_risk): (f"{show_number(one.hours)}{THIN}h", one.source)
        for one in policy.hang_times
    }
    found = {
        "Time from end of use to cleaning": (delay, policy.delay.source), **hangs,
        "Cleaning verification": (policy.verification, policy.verification_source),
        "Borescope": (policy.borescope, policy.borescope_source),
        "Alcohol flush": (_said(policy.alcohol), policy.alcohol_source),
        "Concentration test": (policy.mec_test, policy.mec_source),
        "Second clean container": (_said(policy.second_container), ""),
        "Competency needed": (_said(policy.competency_required), policy.competency_source),
        "Cleaning attempts": (str(policy.cleaning_attempts), policy.cleaning_attempts_source),
        "Who may release": (", ".join(policy.release_roles), ""),
        "Entered late after": (_minutes(policy.late_entry_min), ""),
    }  # fmt: skip
    if policy.connector_set_life_h is not None:
        life = f"{show_number(policy.connector_set_life_h)}{THIN}h"
        found["Life of a connector set"] = (life, policy.connector_set_source or "")
    for one in policy.states:
        about = " ".join(part for part in (one.step, one.method, one.channel) if part).replace("-", " ")
        found[f"{about.capitalize()}, {one.quantity} {one.bound}"] = (number_words(one), one.page)
    return found


def _minutes(value: float) -> str:
    return f"{show_number(value)}{THIN}min"


def _hang(cabinet: str, high_risk: bool) -> str:
    return f"Hang time, {cabinet}, {'high-risk models' if high_risk else 'other models'}"
