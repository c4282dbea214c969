"""The demo goes with one command; a real house never does."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.contrib.auth import get_user_model

from lumenward.quantities import Refusal
from lumenward.records import accounts
from lumenward.records.check import check_all
from lumenward.records.housekeeping import SHELL, decide, empty_demo, is_empty
from lumenward.records.models import Person, Projection, StoredEvent, Token, Touch


def test_a_real_house_is_never_emptied(house) -> None:
    count = StoredEvent.objects.count()
    with pytest.raises(Refusal, match="not invented"):
        empty_demo(datetime.now(UTC))
    assert StoredEvent.objects.count() == count > 0


def test_an_invented_house_goes_with_its_people_and_leaves_one_line(house) -> None:
    accounts.make_token("mira", "bridge", datetime.now(UTC))
    decide("demo_loaded", "house", {"seed": 1, "days": 1}, SHELL, datetime.now(UTC))
    before = StoredEvent.objects.count()
    assert accounts.is_demo() and not is_empty()
    assert empty_demo(datetime.now(UTC)) == before
    assert [row.kind for row in StoredEvent.objects.all()] == ["demo_removed"]
    for table in (Touch, Projection, Person, Token, get_user_model()):
        assert not table._base_manager.exists()
    assert is_empty() and not accounts.is_demo()
    assert check_all().findings == ()
