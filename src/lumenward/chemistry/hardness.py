"""Water hardness in words, because a label's dose may depend on it."""

from __future__ import annotations

from lumenward.quantities import require_between

_CLASSES = ((60.0, "soft"), (120.0, "moderately hard"), (180.0, "hard"))


def hardness_class(mg_l_caco3: float) -> str:
    """Return the class of a hardness as CaCO3: soft to 60 mg/L, moderately hard to 120, hard to 180, very hard.

    Source: US Geological Survey classes (recalled).

    >>> hardness_class(60), hardness_class(180.5)
    ('soft', 'very hard')
    """
    require_between(mg_l_caco3, 0, 5000, "hardness", "A hardness", "mg/L")
    return next((name for limit, name in _CLASSES if mg_l_caco3 <= limit), "very hard")
