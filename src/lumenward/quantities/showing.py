"""Numbers as people read them across a room: leading zero, a thin space, the unit always."""

from __future__ import annotations

import math

from lumenward.quantities.units import find_unit, from_si

THIN = "\u202f"  # narrow and unbreakable, so that number and unit never part at a line's end
_MINUTE, _HOUR, _DAY = 60, 3600, 86400


def show(value_si: float, unit: str, digits: int | None = None) -> str:
    """Return an SI value in `unit` as text; `digits` counts decimals, None means three that matter.

    >>> show(0.0055, "%", 2).replace(THIN, " "), show(21331.6, "mmHg", 0).replace(THIN, " ")
    ('0.55 %', '160 mmHg')
    """
    return show_in(from_si(value_si, unit), unit, digits)


def show_in(value: float, unit: str, digits: int | None = None) -> str:
    """Return a value that is already in `unit` as text; see `show`.

    >>> show_in(38.0, "°C", 1).replace(THIN, " "), show_in(95, "s").replace(THIN, " ")
    ('38.0 °C', '95 s')
    """
    return f"{show_number(value, digits)}{THIN}{find_unit(unit).symbol}"


def show_number(value: float, digits: int | None = None) -> str:
    """Return a bare number: `digits` decimals, or at least three figures that matter without trailing zeros.

    Groups of three from five figures before the point on; a true minus sign; "unknown" for NaN.

    >>> show_number(0.5), show_number(1234.5), show_number(12500, 0).replace(THIN, " "), show_number(-3, 0)
    ('0.5', '1234', '12 500', '−3')
    """
    if not math.isfinite(value):
        return "unknown" if math.isnan(value) else ("∞" if value > 0 else "−∞")
    text = f"{abs(value):.{digits}f}" if digits is not None else _three_figures(abs(value))
    whole, point, rest = text.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    negative = value < 0 and any(c in "123456789" for c in text)
    return ("−" if negative else "") + whole + point + rest


def _three_figures(value: float) -> str:
    if value == 0:
        return "0"
    decimals = max(0, 2 - math.floor(math.log10(value)))
    text = f"{value:.{min(decimals, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def show_duration(seconds: float) -> str:
    """Return a duration in words, cut (never rounded up) to what can be said across a room.

    Under two minutes in seconds, under ten minutes with seconds, under two days in hours and minutes, then in
    days.

    >>> [show_duration(s).replace(THIN, " ") for s in (95, 150, 1080, 3900, 8 * 86400)]
    ['95 s', '2 min 30 s', '18 min', '1 h 05 min', '8 days']
    """
    if not math.isfinite(seconds):
        return "unknown"
    if seconds < 0:
        return "−" + show_duration(-seconds) if seconds <= -1 else show_duration(0)
    whole = int(seconds)
    if whole < 2 * _MINUTE:
        return f"{whole}{THIN}s"
    if whole < _HOUR:
        return _minutes(whole)
    if whole < 2 * _DAY:
        return _hours(whole)
    return _days(whole)


def _minutes(whole: int) -> str:
    minutes, rest = divmod(whole, _MINUTE)
    return f"{minutes}{THIN}min" + (f" {rest}{THIN}s" if rest and minutes < 10 else "")


def _hours(whole: int) -> str:
    hours, rest = divmod(whole, _HOUR)
    minutes = rest // _MINUTE
    return f"{hours}{THIN}h" + (f" {minutes:02d}{THIN}min" if minutes else "")


def _days(whole: int) -> str:
    days, rest = divmod(whole, _DAY)
    hours = rest // _HOUR
    return f"{days}{THIN}days" + (f" {hours}{THIN}h" if hours and days < 7 else "")


def show_clock(seconds: float) -> str:
    """Return a duration as a running clock shows it, cut to the second.

    >>> show_clock(21), show_clock(725), show_clock(3905)
    ('0:21', '12:05', '1:05:05')
    """
    whole = int(abs(seconds))
    hours, rest = divmod(whole, _HOUR)
    minutes, left = divmod(rest, _MINUTE)
    sign = "−" if seconds <= -1 else ""
    return sign + (f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}")
