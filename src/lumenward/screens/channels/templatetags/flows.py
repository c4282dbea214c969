"""Flows, cups and places as the channel map writes them."""

from __future__ import annotations

import math

from django import template

from lumenward.quantities import THIN, show_duration, show_in, show_number
from lumenward.screens.channels.drawing import cup_words, flow_words
from lumenward.screens.channels.figures import Cup

register = template.Library()


@register.filter
def flow(ml_min: float) -> str:
    """Show a flow in mL/min."""
    return flow_words(float(ml_min))


@register.filter
def ml(value: float) -> str:
    """Show a volume in mL with as many decimals as a cup has marks."""
    digits = 0 if value >= 20 else 1 if value >= 1 else 2
    return f"{show_number(float(value), digits)}{THIN}mL"


@register.filter
def cup_text(cup: Cup) -> str:
    """Show what a cup should catch."""
    return cup_words(cup)


@register.filter
def percent(share: float) -> str:
    """Show a share in whole per cent; what is small but there is not called zero."""
    return f"below 1{THIN}%" if 0 < share < 0.005 else f"{100 * share:.0f}{THIN}%"


@register.filter
def quantity_0(value: float, unit: str) -> str:
    """Show a quantity without decimals."""
    return show_in(float(value), unit, 0)


@register.filter
def time_or_never(seconds: float) -> str:
    """Show a duration; "never" where nothing flows."""
    return show_duration(round(seconds)) if math.isfinite(seconds) else "never"


@register.filter
def add_px(value: float, by: float) -> str:
    """Show a place in the drawing moved by some pixels."""
    return f"{float(value) + float(by):g}"
