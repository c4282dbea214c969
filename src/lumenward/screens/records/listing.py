"""The list of cycles as the page shows it: its first line, these fifty of how many, the way to the rest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo
from urllib.parse import urlencode

from django.http import QueryDict

from lumenward.interchange import cycles
from lumenward.interchange.cycles import Found, Wanted
from lumenward.interchange.record_parts import Instant
from lumenward.journey.course import OPENING
from lumenward.quantities import show_number
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld

PAGE = 50


@dataclass(frozen=True)
class Listing:
    """One page of the list."""

    headline: str
    these: str
    rows: list[Found]
    matching: int
    total: int
    newer: str
    older: str
    query: str


def listing(wanted: Wanted, asked: QueryDict, now: datetime, zone: tzinfo) -> Listing:
    """Return the page of the list that was asked for."""
    world = StoredWorld()
    found = cycles.find(wanted, zone, world)
    matching = found.count()
    total = _total() if wanted.narrowed else matching
    last = max(1, -(-matching // PAGE))
    page = min(max(1, _number(asked.get("page", ""))), last)
    rows = cycles.read(found[(page - 1) * PAGE : page * PAGE], world, now)
    query = {key: value for key, value in asked.items() if key != "page" and value}
    return Listing(
        headline=_headline(wanted, matching, total, rows if page == 1 else [], zone),
        these=_these(page, len(rows), matching), rows=rows, matching=matching, total=total,
        newer=urlencode(query | {"page": page - 1}) if page > 1 else "",
        older=urlencode(query | {"page": page + 1}) if page < last else "", query=urlencode(query),
    )  # fmt: skip


def _total() -> int:
    return StoredEvent.objects.filter(kind__in=OPENING).count()


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 1


def _headline(wanted: Wanted, matching: int, total: int, rows: list[Found], zone: tzinfo) -> str:
    if not total:
        return "No cycle is recorded yet."
    if not wanted.narrowed:
        noun = "cycle is" if total == 1 else "cycles are"
        return f"{_many(total)} {noun} recorded.{_newest(rows, zone)}"
    if not matching:
        return f"None of {_many(total)} cycles matches."
    return f"{_many(matching)} of {_many(total)} cycles {'matches' if matching == 1 else 'match'}."


def _newest(rows: list[Found], zone: tzinfo) -> str:
    if not rows or rows[0].cycle.opened_at is None:
        return ""
    at = Instant.of(rows[0].cycle.opened_at, zone)
    return f" The newest: {rows[0].endoscope.name}, {at.day}, {at.clock[:5]}, {rows[0].standing}."


def _these(page: int, shown: int, matching: int) -> str:
    if shown == matching:
        return f"All {_many(matching)} are shown, newest first."
    first = (page - 1) * PAGE + 1
    return f"These {shown} of {_many(matching)}, newest first: {_many(first)} to {_many(first + shown - 1)}."


def _many(number: int) -> str:
    return show_number(number, 0)
