"""A number with its basis: what the screen shows, what a rule checks, and who says so."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from pydantic import BaseModel, ConfigDict

Basis = Literal["law", "IFU", "label", "policy", "default", "computed"]
AUTHORITY: tuple[Basis, ...] = ("law", "IFU", "label", "policy", "default", "computed")

# Quantities that must be stated by somebody: a shipped default for them could hurt.
NEVER_DEFAULT = frozenset({"pressure", "volume", "temperature", "concentration", "life"})


class Target(BaseModel):
    """One planned number. `value` is in `unit`; `bound` says whether it is a floor, a ceiling or an aim.

    `source` names document, edition and page, or the calculation. `channel` narrows it to one channel.
    """

    model_config = ConfigDict(frozen=True)

    step: str
    quantity: str
    bound: Literal["floor", "ceiling", "aim"]
    value: float
    unit: str
    basis: Basis
    source: str
    channel: str | None = None

    @property
    def rank(self) -> int:
        """0 for law, rising as authority falls."""
        return AUTHORITY.index(self.basis)


def binding(targets: Iterable[Target]) -> Target | None:
    """Return the target that decides among targets of one step, quantity and bound (same unit).

    The strictest wins, so that a computed or local number may lengthen a step and never shortens it; of equals the
    higher authority is named. A default counts only where nobody with authority said anything.

    >>> ifu = Target(step="flush", quantity="duration", bound="floor", value=95, unit="s", basis="IFU", source="p. 41")
    >>> binding([ifu, ifu.model_copy(update={"value": 40, "basis": "computed"})]).basis
    'IFU'
    """
    stated = list(targets)
    said = [t for t in stated if t.basis != "default"]
    pool = said if any(t.basis != "computed" for t in said) else stated
    if not pool:
        return None
    bound = pool[0].bound
    if bound == "floor":
        return min(pool, key=lambda t: (-t.value, t.rank))
    if bound == "ceiling":
        return min(pool, key=lambda t: (t.value, t.rank))
    return min(pool, key=lambda t: t.rank)
