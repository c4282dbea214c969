"""The steps of a cycle as documents speak of them, and the units a stated number may carry."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

STEPS = (
    "point-of-use", "receive", "leak-test", "detergent", "clean", "brush", "connect", "aspirate", "flush", "purge",
    "rinse", "inspect", "verify", "hld", "final-rinse", "alcohol", "dry", "store", "delay",
)  # fmt: skip

# Steps that can be done in more than one way, with numbers of their own for each.
METHODS_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"leak-test": ("wet", "dry", "machine"), "hld": ("manual", "machine")}
)

UNITS_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "duration": ("s", "min", "h", "d"),
        "pressure": ("kPa",),
        "volume": ("mL", "L"),
        "temperature": ("C",),
        "count": ("times",),
        "life": ("min", "h", "d"),
        "concentration": ("%", "ppm"),
    }
)

# One of each unit in the first unit of its row above, so that a floor and a ceiling can be compared.
IN_FIRST_UNIT: Mapping[str, float] = MappingProxyType(
    {
        "s": 1,
        "min": 60,
        "h": 3600,
        "d": 86400,
        "kPa": 1,
        "mL": 1,
        "L": 1000,
        "C": 1,
        "times": 1,
        "%": 1,
        "ppm": 1e-4,
    }
)
