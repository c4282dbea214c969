"""The invented house is there as a whole, or not at all, and the same seed makes the same ledger."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import transaction

from lumenward import demo
from lumenward.demo.cast import PEOPLE
from lumenward.records import accounts
from lumenward.records.check import check_all
from lumenward.records.housekeeping import is_empty
from lumenward.records.models import Person

NOW = datetime(2026, 11, 10, 10, 40, tzinfo=UTC)


@pytest.mark.django_db
def test_a_load_that_breaks_off_leaves_an_empty_house(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(accounts, "open_account", broken)
    with pytest.raises(KeyboardInterrupt):
        demo.load(1, 1, NOW)
    assert is_empty() and not accounts.is_demo()


@pytest.mark.django_db
def test_the_same_seed_and_instant_make_the_same_sound_ledger() -> None:
    with transaction.atomic():
        count = demo.load(5, 1, NOW)
        first = check_all()
        transaction.set_rollback(True)
    assert is_empty()
    assert demo.load(5, 1, NOW) == count == first.events
    second = check_all()
    assert first.sound and second.sound and first.root == second.root
    assert Person.objects.count() == len(PEOPLE)
