"""What-if kinetics of disinfection. No instructions for use give these constants: never a reason to go shorter.

Hom with a decaying agent, C = C0 e^(−k' t): ln S = −k C0ⁿ m (n k')^(−m) γ(m, n k' t); without decay −k C0ⁿ t^m; m = 1
is Chick–Watson.
"""

from __future__ import annotations

import math

from lumenward.quantities import require_between


def ln_survival(rate: float, n: float, m: float, start: float, decay_per_time: float, time: float) -> float:
    """Return ln S of Hom's law; units are the caller's, as long as they agree.

    Valid for rate, n, start, decay, time ≥ 0 and m > 0; raises Refusal outside plausible bounds.

    >>> round(ln_survival(0.2, 0.9, 1.2, 3, 0.08, 6), 5), round(ln_survival(0.2, 0.9, 1.2, 3, 0, 6), 4)
    (-3.67316, -4.6155)
    """
    _require_sound(rate, n, m, start, decay_per_time, time)
    return -rate * _power(start, n) * _age(m, n * decay_per_time, time)


def _age(m: float, decay: float, time: float) -> float:
    """Return m ∫ t^(m−1) e^(−decay t) dt from 0 to `time`."""
    x = decay * time
    if x < 1e-7:
        return float(time**m * (1 - x * m / (m + 1)))
    from scipy.special import gammainc

    return float(math.gamma(m + 1) * gammainc(m, x) / decay**m)


def _power(base: float, exponent: float) -> float:
    return 1.0 if exponent == 0 else float(base**exponent)


def rate_at(rate: float, theta: float, from_c: float, to_c: float) -> float:
    """Return k2 = k1 θ^(T2 − T1); θ belongs to one agent and one organism and must come from data.

    >>> round(rate_at(1.0, 1.1, 20, 30), 4)
    2.5937
    """
    require_between(theta, 0.5, 3, "theta", "A temperature factor")
    return float(rate * theta ** (to_c - from_c))


def giardia_ct(log_removal: float, ph: float, chlorine_mg_l: float, temperature_c: float) -> float:
    """Return CT (mg·min/L) of free chlorine for Giardia cysts: 0.2828 pH^2.69 C^0.15 0.933^(T−5) L.

    A published fit (recalled; fit and table differ by up to about 7 %), here as a check of the power laws only.

    >>> round(giardia_ct(3, 7, 1, 10), 1)
    112.5
    """
    factor = 0.2828 * ph**2.69 * chlorine_mg_l**0.15 * 0.933 ** (temperature_c - 5)
    return float(factor * log_removal)


def _require_sound(rate: float, n: float, m: float, start: float, decay: float, time: float) -> None:
    require_between(rate, 0, 1e9, "rate", "A rate")
    require_between(n, 0, 10, "n", "The exponent of concentration")
    require_between(m, 0.01, 20, "m", "The exponent of time")
    require_between(start, 0, 1e7, "start", "A concentration")
    require_between(decay, 0, 1e6, "decay_per_time", "A decay")
    require_between(time, 0, 1e7, "time", "A time")
