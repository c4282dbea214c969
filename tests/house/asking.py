"""Asking for an act: well-formed but for what a test changes, and what the answer was."""

from __future__ import annotations

from typing import Any

from every_act import MAKES, TIMED
from one_cycle import Unit

from lumenward.quantities import Refusal


def attempt(unit: Unit, kind: str, /, wait_s: float = 60, **changes: Any) -> Refusal | None:
    """Return the refusal of a well-formed act with some of its body changed."""
    how = {**MAKES[kind](unit), **changes}
    if kind in TIMED and "started" not in changes:
        how["started"] = unit.do("step_started", step=TIMED[kind][0]).id
        wait_s = TIMED[kind][1]
    unit.wait(wait_s)
    return unit.tries(kind, **{key: value for key, value in how.items() if value is not None})


def code(refusal: Refusal | None) -> str:
    return refusal.code if refusal else ""
