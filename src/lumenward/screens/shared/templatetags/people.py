"""Durations, quantities and times as people read them, and the standing parts of every page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import template
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from lumenward.quantities import show_clock, show_duration, show_in, show_number
from lumenward.records.roles import actor_of
from lumenward.screens.shared import house

register = template.Library()

CAUTION = (
    "The maker's instructions for use, local codes and licensed practice decide. "
    "Lumenward supports them, it does not replace them."
)
ROOMS = (
    ("now:page", "Now"),
    ("sink:stations", "Sink"),
    ("basins:page", "Basins"),
    ("shelf:page", "Shelf"),
    ("records:list", "Records"),
    ("channels:list", "Channels"),
    ("calculations:list", "Calculations"),
    ("setup:page", "Set-up"),
    ("manual:contents", "Manual"),
)


@register.filter
def duration(seconds: float) -> str:
    """Show seconds in words: `{{ 1080|duration }}` is "18 min"."""
    return show_duration(float(seconds))


@register.filter
def running(seconds: float) -> str:
    """Show seconds as a running clock: `{{ 21|running }}` is "0:21"."""
    return show_clock(float(seconds))


@register.filter
def quantity(value: float, unit: str) -> str:
    """Show a value that is in `unit` already: `{{ 95|quantity:"s" }}`."""
    return show_in(float(value), unit)


@register.filter
def figure(value: float, digits: int | None = None) -> str:
    """Show a bare number with its true minus and its groups of three."""
    return show_number(float(value), digits)


def _aware(moment: datetime | str) -> datetime:
    found = datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return timezone.localtime(found)


def day_words(moment: datetime, today: datetime) -> str:
    """Return the day of `moment` as said on `today`: nothing for today, "yesterday", "Mon", or the date.

    >>> from datetime import timezone as tz
    >>> noon = datetime(2031, 5, 7, 12, 0, tzinfo=tz.utc)
    >>> [day_words(noon.replace(day=d), noon) for d in (7, 6, 9)], day_words(noon.replace(month=4), noon)
    (['', 'yesterday', 'Fri'], '7 Apr')
    """
    days = (moment.date() - today.date()).days
    if days == 0:
        return ""
    if days in (-1, 1):
        return "yesterday" if days < 0 else "tomorrow"
    if abs(days) < 7:
        return moment.strftime("%a")
    text = f"{moment.day} {moment:%b}"
    return text if moment.year == today.year else f"{text} {moment.year}"


@register.filter
def moment(value: datetime | str) -> SafeString:
    """Show an instant in the house's zone inside a `<time>` element: "10:42", "yesterday 10:42", "7 Apr 10:42"."""
    local = _aware(value)
    day = day_words(local, timezone.localtime())
    text = f"{day} {local.hour}:{local:%M}".strip()
    return format_html('<time datetime="{}">{}</time>', local.isoformat(timespec="seconds"), text)


@register.filter
def moment_full(value: datetime | str) -> SafeString:
    """Show an instant with its whole date and its offset, for records that are read years later."""
    local = _aware(value)
    text = f"{local:%a} {local.day} {local:%b %Y, %H:%M:%S} {local:%z}"
    return format_html('<time datetime="{}">{}</time>', local.isoformat(timespec="seconds"), text)


@register.simple_tag
def clock() -> SafeString:
    """Show the time of the house; `frame.js` keeps it going."""
    now = timezone.localtime()
    return format_html(
        '<time data-clock="{}" datetime="{}">{}</time>',
        timezone.get_current_timezone_name(),
        now.isoformat(timespec="seconds"),
        f"{now.hour}:{now:%M}",
    )


@register.simple_tag(takes_context=True)
def who_acts(context: Any) -> str:
    """Name the person signed in at this screen."""
    request = context.get("request")
    return house.person_name(request) if request is not None else "Nobody signed in"


@register.simple_tag
def caution() -> str:
    """Say who decides: the footer of every page and record."""
    return CAUTION


@register.simple_tag
def demo_mark() -> SafeString | str:
    """Mark a demo house; nothing in a real one."""
    if not house.is_demo():
        return ""
    return format_html('<p class="demo-mark">{}</p>', "Demo: invented people, endoscopes and records")


@register.simple_tag
def demo_word() -> str:
    """Mark a demo house in one word, where there is no room for the sentence."""
    return " Demo: invented." if house.is_demo() else ""


def _address(name: str) -> str | None:
    try:
        return reverse(name)
    except NoReverseMatch:
        return None


@register.simple_tag(takes_context=True)
def rooms(context: Any) -> SafeString | str:
    """Show the way to every screen of this house, for people who are signed in."""
    request = context.get("request")
    if request is None or actor_of(request) is None:
        return ""
    found = [(address, label) for name, label in ROOMS if (address := _address(name))]
    if leave := _address("door:sign-out"):
        found.append((leave, "Change person"))
    links = format_html_join(
        "",
        '<a href="{}"{}>{}</a>',
        ((address, _current(request.path, address), label) for address, label in found),
    )
    return format_html('<nav class="rooms" aria-label="Screens">{}</nav>', links)


def _current(path: str, address: str) -> SafeString:
    here = path.startswith("/now/" if address == "/" else address) or path == address
    return format_html(' aria-current="{}"', "page") if here else SafeString("")
