"""The desk screens in a house that has adopted nothing yet: they teach or refuse in a sentence, never crash."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from lumenward.records import housekeeping


@pytest.fixture
def lead(db) -> Client:
    """Somebody who may do everything, in a house of one person."""
    housekeeping.add_person("lena", "Lena Ruo", "lead", housekeeping.SHELL, datetime.now(UTC))
    client = Client(raise_request_exception=False)
    user = get_user_model().objects.get(username="lena")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("/records/", "Here every cycle becomes one page"),
        ("/shelf/", "No endoscope is registered yet"),
        ("/basins/", "Here stands every basin"),
        ("/supplies/", "Here stands what is used up"),
    ],
)
def test_an_empty_page_teaches(lead: Client, address: str, sentence: str) -> None:
    response = lead.get(address)
    assert response.status_code == 200 and sentence in response.content.decode()


@pytest.mark.parametrize("address", ["/supplies/lots/open/", "/supplies/sets/open/", "/basins/basin-1/pour/"])
def test_what_needs_a_library_says_so(lead: Client, address: str) -> None:
    response = lead.get(address)
    assert (
        response.status_code == 422 and "No library has been adopted here yet." in response.content.decode()
    )


def test_an_export_of_nothing_is_an_empty_table(lead: Client) -> None:
    lines = b"".join(lead.get("/records/all.csv")).decode().splitlines()
    assert len(lines) == 1 and "endoscope" in lines[0]
