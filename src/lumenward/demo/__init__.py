"""The invented house: an endoscopy unit that does not exist, with ninety days behind it."""

from __future__ import annotations

from datetime import datetime

__all__ = ["load"]


def load(seed: int, days: int, now: datetime) -> int:
    """Write the invented house into an empty database and return how many acts that were: all of them, or nothing."""
    from django.db import transaction
    from django.utils import timezone

    from lumenward.demo.cast import PEOPLE
    from lumenward.demo.history import by_day, tell
    from lumenward.records import accounts
    from lumenward.records.service import record_many

    told = tell(seed, days, now, timezone.get_current_timezone())
    with transaction.atomic():
        count = record_many(by_day(told))
        for person in PEOPLE:
            accounts.open_account(person.id, badge=person.badge, pin=person.pin)
    return count
