"""Combining uncertainties the way the GUM does (JCGM 100:2008): shares, degrees of freedom, coverage."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from lumenward.quantities import Refusal, require_between


@dataclass(frozen=True)
class Component:
    """One standard uncertainty, already multiplied by its sensitivity; `dof` None means known for sure."""

    u: float
    dof: float | None = None


@dataclass(frozen=True)
class Combined:
    """`dof_effective` None means infinite; `k` is the coverage factor, `expanded` = k · u_c."""

    u_c: float
    dof_effective: float | None
    k: float
    expanded: float


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value that lies anywhere within ± `half_width` (GUM 4.3.7).

    >>> round(rectangular(3), 6)
    1.732051
    """
    return half_width / math.sqrt(3)


def combine(components: Sequence[Component], coverage: float = 0.95) -> Combined:
    """Return u_c = √Σu², the Welch–Satterthwaite degrees of freedom and the expanded uncertainty.

    k is the t quantile at the effective degrees of freedom cut down to a whole number (GUM G.4.1), the normal one
    where they are infinite. Components are independent. Raises Refusal `too-low`, `too-high` or `empty`.

    >>> gum = combine([Component(25, 18), Component(9.7, 25.6), Component(2.9, 50), Component(16.6, 2)], 0.99)
    >>> round(gum.u_c, 1), round(gum.dof_effective, 1), round(gum.k, 2), round(gum.expanded)
    (31.7, 16.8, 2.92, 93)
    """
    _require_sound(components, coverage)
    u_c = math.hypot(*(part.u for part in components))
    dof = _welch_satterthwaite(components, u_c)
    k = t_quantile(0.5 + coverage / 2, None if dof is None else max(1.0, math.floor(dof + 1e-9)))
    return Combined(u_c, dof, k, k * u_c)


def shares(parts: Mapping[str, float]) -> dict[str, float]:
    """Return the share of the variance of each named standard uncertainty (0 to 1; all 0 where all are 0).

    >>> {name: round(share, 2) for name, share in shares({"fill": 4.0, "dose": 3.0}).items()}
    {'fill': 0.64, 'dose': 0.36}
    """
    total = sum(u * u for u in parts.values())
    return {name: (u * u / total if total else 0.0) for name, u in parts.items()}


@lru_cache(maxsize=256)
def t_quantile(p: float, dof: float | None) -> float:
    """Return the quantile of Student's t at probability `p`; of the normal where `dof` is None.

    >>> round(t_quantile(0.975, None), 3), round(t_quantile(0.995, 16), 2)
    (1.96, 2.92)
    """
    from scipy.special import ndtri, stdtrit

    return float(ndtri(p) if dof is None else stdtrit(dof, p))


def _welch_satterthwaite(components: Sequence[Component], u_c: float) -> float | None:
    if u_c == 0:
        return None
    rest = sum((part.u / u_c) ** 4 / part.dof for part in components if part.dof is not None)
    return 1 / rest if rest > 0 else None


def _require_sound(components: Sequence[Component], coverage: float) -> None:
    if not components:
        raise Refusal("empty", "There is no component to combine.", "components", "Give at least one u.")
    require_between(coverage, 0.5, 0.9999, "coverage", "A coverage")
    for index, part in enumerate(components):
        require_between(part.u, 0, 1e30, f"components[{index}].u", "A standard uncertainty")
        if part.dof is not None:
            require_between(part.dof, 0.5, 1e12, f"components[{index}].dof", "Degrees of freedom")
