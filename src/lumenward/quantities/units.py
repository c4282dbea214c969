"""The units of the trade, each by its symbol: what it measures and what one of it is in SI.

SI inside means: s, m, m³, Pa, K, m³/s, kg/m³ (hardness as CaCO₃), S/m, kg, and plain fractions for
concentrations (1 % = 0.01, volume in volume or mass in mass as the label says; the unit alone cannot tell).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from lumenward.quantities.refusal import Refusal

_INCH = 0.0254
_US_GALLON = 231 * _INCH**3
_IMPERIAL_GALLON = 4.54609e-3
_MMHG = 133.322387415
_PSI = 0.45359237 * 9.80665 / _INCH**2
_CACO3_KG_MOL = 0.1000869
_CAO_KG_MOL = 0.0560774
_GRAIN = 64.79891e-6
ABSOLUTE_ZERO_C = -273.15


@dataclass(frozen=True)
class Unit:
    """One unit: SI value = number · `scale` + `offset`."""

    symbol: str
    dimension: str
    scale: float
    offset: float = 0.0
    aliases: tuple[str, ...] = ()


_TABLE = (
    Unit("s", "time", 1.0, aliases=("sec", "second", "seconds")),
    Unit("min", "time", 60.0, aliases=("mins", "minute", "minutes")),
    Unit("h", "time", 3600.0, aliases=("hr", "hrs", "hour", "hours")),
    Unit("d", "time", 86400.0, aliases=("day", "days")),
    Unit("mL", "volume", 1e-6, aliases=("ml", "ML", "cc", "cm3", "cm³")),
    Unit("L", "volume", 1e-3, aliases=("l", "liter", "litre", "liters", "litres")),
    Unit("m3", "volume", 1.0, aliases=("m³",)),
    Unit("US fl oz", "volume", _US_GALLON / 128, aliases=("us fl oz", "US oz", "us oz")),
    Unit("imp fl oz", "volume", _IMPERIAL_GALLON / 160, aliases=("imp oz",)),
    Unit("US gal", "volume", _US_GALLON, aliases=("us gal",)),
    Unit("imp gal", "volume", _IMPERIAL_GALLON),
    Unit("mm", "length", 1e-3),
    Unit("cm", "length", 1e-2),
    Unit("m", "length", 1.0),
    Unit("µm", "length", 1e-6, aliases=("um", "μm")),
    Unit("Fr", "length", 1e-3 / 3, aliases=("fr", "F.", "Ch")),
    Unit("in", "length", _INCH, aliases=("inch", '"')),
    Unit("Pa", "pressure", 1.0),
    Unit("kPa", "pressure", 1e3, aliases=("kpa", "KPA", "KPa")),
    Unit("MPa", "pressure", 1e6),
    Unit("mbar", "pressure", 1e2, aliases=("hPa",)),
    Unit("bar", "pressure", 1e5),
    Unit("mmHg", "pressure", _MMHG, aliases=("mmhg", "MMHG", "mm Hg", "mm[Hg]")),
    Unit("psi", "pressure", _PSI, aliases=("PSI", "lbf/in²")),
    Unit("°C", "temperature", 1.0, 273.15, ("C", "c", "degC", "Cel", "ºC", "℃", "° C")),
    Unit("°F", "temperature", 5 / 9, 459.67 * 5 / 9, ("F", "degF", "ºF", "℉")),
    Unit("K", "temperature", 1.0),
    Unit("ppm", "concentration", 1e-6, aliases=("PPM", "[ppm]")),
    Unit("%", "concentration", 1e-2, aliases=("percent", "per cent")),
    Unit("mL/L", "concentration", 1e-3, aliases=("ml/l", "ml/L", "mL per L", "ml per l")),
    Unit("US fl oz/US gal", "concentration", 1 / 128),
    Unit("imp fl oz/imp gal", "concentration", 1 / 160),
    Unit("mL/min", "flow", 1e-6 / 60, aliases=("ml/min",)),
    Unit("L/min", "flow", 1e-3 / 60, aliases=("l/min", "lpm")),
    Unit("mL/s", "flow", 1e-6, aliases=("ml/s",)),
    Unit("m3/s", "flow", 1.0, aliases=("m³/s",)),
    Unit("mg/L CaCO3", "hardness", 1e-3, aliases=("ppm CaCO3", "mg/L")),
    Unit("mmol/L", "hardness", _CACO3_KG_MOL, aliases=("mmol/l",)),
    Unit("gpg", "hardness", _GRAIN / _US_GALLON),
    Unit("°dH", "hardness", 1e-2 * _CACO3_KG_MOL / _CAO_KG_MOL, aliases=("dH", "°d", "dGH")),
    Unit("°fH", "hardness", 1e-2, aliases=("fH", "°f")),
    Unit("°Clark", "hardness", _GRAIN / _IMPERIAL_GALLON, aliases=("Clark", "°e", "°eH")),
    Unit("µS/cm", "conductivity", 1e-4, aliases=("uS/cm", "μS/cm")),
    Unit("mS/cm", "conductivity", 1e-1),
    Unit("g", "mass", 1e-3),
    Unit("mg", "mass", 1e-6),
    Unit("kg", "mass", 1.0),
)

UNITS: Mapping[str, Unit] = MappingProxyType({unit.symbol: unit for unit in _TABLE})
_BY_NAME = {name: unit for unit in _TABLE for name in (unit.symbol, *unit.aliases)}

# A word that two units share is refused, never resolved by a guess about the country.
_AMBIGUOUS = {
    "oz": ("US fl oz", "imp fl oz"),
    "fl oz": ("US fl oz", "imp fl oz"),
    "gal": ("US gal", "imp gal"),
    "gallon": ("US gal", "imp gal"),
    "oz/gal": ("US fl oz/US gal", "imp fl oz/imp gal"),
    "fl oz/gal": ("US fl oz/US gal", "imp fl oz/imp gal"),
}


def find_unit(name: str, field: str = "") -> Unit:
    """Return the unit called `name` (symbol or common spelling).

    Raises Refusal `unknown-unit`, or `ambiguous-unit` for words such as "oz" and "gal" that differ between
    countries.

    >>> find_unit("ml").symbol
    'mL'
    """
    wanted = " ".join(name.split())
    if wanted in _BY_NAME:
        return _BY_NAME[wanted]
    if wanted.casefold() in _AMBIGUOUS:
        choices = " or ".join(_AMBIGUOUS[wanted.casefold()])
        raise Refusal("ambiguous-unit", f"{wanted!r} differs between countries.", field, f"Write {choices}.")
    raise Refusal(
        "unknown-unit", f"There is no unit {wanted[:20]!r} here.", field, "One of: " + ", ".join(UNITS) + "."
    )


def symbols(dimension: str) -> tuple[str, ...]:
    """Return the symbols of every unit that measures `dimension`.

    >>> symbols("time")
    ('s', 'min', 'h', 'd')
    """
    return tuple(unit.symbol for unit in _TABLE if unit.dimension == dimension)


def to_si(value: float, unit: str) -> float:
    """Return `value` of `unit` in SI (see the module for which SI unit that is).

    Raises Refusal for an unknown unit. Source: definitions of the units (NIST SP 811, appendix B, recalled).

    >>> round(to_si(160, "mmHg"))
    21332
    """
    found = find_unit(unit)
    return value * found.scale + found.offset


def from_si(value_si: float, unit: str) -> float:
    """Return an SI value in `unit`; the inverse of `to_si`.

    >>> round(from_si(24500, "psi"), 2)
    3.55
    """
    found = find_unit(unit)
    return (value_si - found.offset) / found.scale


def convert(value: float, unit: str, wanted: str) -> float:
    """Return `value` of `unit` in `wanted`; unchanged to the last digit where both are the same unit.

    Raises Refusal `wrong-unit` when the two measure different things.

    >>> convert(12, "Fr", "mm")
    4.0
    """
    source, target = find_unit(unit), find_unit(wanted)
    if source is target:
        return value
    if source.dimension != target.dimension:
        raise Refusal(
            "wrong-unit",
            f"{source.symbol} measures {source.dimension}, {target.symbol} measures {target.dimension}.",
            hint="Allowed: " + ", ".join(symbols(target.dimension)) + ".",
        )
    return (value * source.scale + source.offset - target.offset) / target.scale
