"""Units at the edge, SI inside; and the one shape of a refusal."""

from __future__ import annotations

from lumenward.quantities.bounds import require_between, require_celsius
from lumenward.quantities.reading import echo, parse_in, parse_number, parse_quantity
from lumenward.quantities.refusal import Refusal
from lumenward.quantities.showing import THIN, show, show_clock, show_duration, show_in, show_number
from lumenward.quantities.units import UNITS, Unit, convert, find_unit, from_si, symbols, to_si

__all__ = [
    "THIN",
    "UNITS",
    "Refusal",
    "Unit",
    "convert",
    "echo",
    "find_unit",
    "from_si",
    "parse_in",
    "parse_number",
    "parse_quantity",
    "require_between",
    "require_celsius",
    "show",
    "show_clock",
    "show_duration",
    "show_in",
    "show_number",
    "symbols",
    "to_si",
]
