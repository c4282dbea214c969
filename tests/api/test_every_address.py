"""Every address × every role: who may comes in, who may not is told so, a stranger is led to the door.

A new address fails `test_every_address_stands_in_this_table` until it says here what one must be allowed to do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver

from lumenward.records.roles import MAY, ROLES

OPEN = "open"  # answers strangers too, and shows nothing of the house
UNKNOWN = "01900000-0000-7000-8000-000000000000"
SAMPLES = {
    "station": "sink-1", "endoscope": "one-sanderling-28", "cycle": UNKNOWN, "act": UNKNOWN, "charge": UNKNOWN,
    "basin": "basin-1", "lot": "lot-reedwash", "which": "cs-set-gastro", "person": "jonas", "model": "sanderling-28",
    "name": "merkle", "kind": "svg", "rest": "nothing", "page": "index", "setup": "x",
}  # fmt: skip

ADDRESSES: dict[str, str] = {
    "api/": OPEN,
    "api/<path:rest>": OPEN,
    "api/v1/": OPEN,
    "api/v1/openapi.json": OPEN,
    "api/v1/acts": "record acts",
    "api/v1/scan": "see",
    "api/v1/release": "release",
    "api/v1/stations/<station>/plan": "see",
    "api/v1/endoscopes/<endoscope>/verdict": "see",
    "api/v1/now": "see",
    "api/v1/shelf": "see",
    "api/v1/records/<cycle>": "see",
    "api/v1/records/<cycle>/proof": "see",
    "api/v1/calc": "calculate",
    "api/v1/calc/<name>": "calculate",
    "api/v1/calc/<name>/schema": "calculate",
    "sign-in/": OPEN,
    "sign-out/": OPEN,
    "people-of-the-demo/": OPEN,
    "": "see",
    "now/": "see",
    "now/strip/": "see",
    "sink/": "see",
    "sink/bench-card/": "see",
    "sink/<slug:station>/": "reprocess",
    "sink/<slug:station>/<slug:endoscope>/": "reprocess",
    "basins/": "see",
    "basins/<str:basin>/pour/": "tend supplies",
    "basins/charges/<uuid:charge>/test/": "tend supplies",
    "basins/charges/<uuid:charge>/empty/": "tend supplies",
    "supplies/": "see",
    "supplies/lots/open/": "tend supplies",
    "supplies/lots/<str:lot>/strips/": "tend supplies",
    "supplies/lots/<str:lot>/withdraw/": "tend supplies",
    "supplies/sets/open/": "tend supplies",
    "supplies/sets/<str:which>/discard/": "tend supplies",
    "shelf/": "see",
    "shelf/<str:endoscope>/take/": "open and take",
    "shelf/<str:endoscope>/hold/": "hold",
    "shelf/<str:endoscope>/lift/": "lift a hold",
    "records/": "see",
    "records/all.csv": "see",
    "records/all.json": "see",
    "records/<uuid:cycle>/": "see",
    "records/<uuid:cycle>.pdf": "see",
    "records/<uuid:cycle>.json": "see",
    "records/<uuid:cycle>/acts/<uuid:act>/": "correct",
    "setup/": "see",
    "setup/people/": "see",
    "setup/people/add/": "manage people",
    "setup/people/<slug:person>/": "see",
    "setup/people/<slug:person>/competency/": "manage people",
    "setup/people/<slug:person>/role/": "manage people",
    "setup/people/<slug:person>/proofs/": "manage people",
    "setup/people/<slug:person>/leave/": "manage people",
    "setup/endoscopes/": "see",
    "setup/endoscopes/register/": "manage equipment",
    "setup/equipment/": "see",
    "setup/equipment/models/<slug:model>/": "see",
    "setup/equipment/adopt/": "manage equipment",
    "setup/equipment/adopt/confirmed/": "manage equipment",
    "setup/policy/": "see",
    "setup/policy/preview/": "adopt a policy",
    "setup/policy/adopt/": "adopt a policy",
    "manual/": "see",
    "manual/pictures/<str:name>": "see",
    "manual/<slug:name>/": "see",
    "channels/": "see",
    "channels/<slug:model>/": "see",
    "channels/<slug:model>/figures/": "see",
    "channels/<slug:model>/find/": "see",
    "calculations/": "calculate",
    "calculations/<slug:name>/": "calculate",
    "calculations/<slug:name>/from-json/": "calculate",
    "calculations/<slug:name>/picture.<slug:kind>": "calculate",
}


BODIES: dict[str, Any] = {
    "api/v1/acts": {"acts": [{"id": UNKNOWN}]},
    "api/v1/scan": {"code": "x"},
    "api/v1/release": {
        "endoscope": "x", "cycle": UNKNOWN, "station": "sink-1", "person": "mira", "pin": "4711", "act_id": UNKNOWN,
        "happened_at": "2026-03-01T10:00:00Z",
    },
}  # fmt: skip


def routes(resolver: Any = None, front: str = "") -> Iterator[str]:
    for one in (resolver or get_resolver()).url_patterns:
        route = front + str(one.pattern)
        if isinstance(one, URLPattern):
            yield route
        else:
            yield from routes(one, route)


def address(route: str) -> str:
    """Return a real address for a route."""
    for name, value in SAMPLES.items():
        for kind in ("", "slug:", "str:", "uuid:", "path:"):
            route = route.replace(f"<{kind}{name}>", value)
    assert "<" not in route, f"give a sample for {route}"
    return f"/{route}"


def ask(client: Any, method: str, route: str) -> Any:
    """Ask, and undo whatever the answer changed."""
    body = {"data": BODIES.get(route, {}), "content_type": "application/json"} if method == "post" else {}
    with transaction.atomic():
        response = getattr(client, method)(address(route), **body)
        transaction.set_rollback(True)
    return response


def test_every_address_stands_in_this_table() -> None:
    found = set(routes())
    assert found - set(ADDRESSES) == set(), "say here what one must be allowed to do"
    assert set(ADDRESSES) - found == set(), "these addresses are gone"
    assert set(ADDRESSES.values()) <= set(MAY) | {OPEN}


@pytest.mark.parametrize("role", ROLES)
def test_a_role_reaches_what_it_may_and_nothing_else(house, client_as, role) -> None:
    client = client_as(role)
    wrong = []
    for route, right in ADDRESSES.items():
        if right == OPEN:
            continue
        if role in MAY[right]:
            status = ask(client, "get", route).status_code
            if status in (401, 403) or status >= 500:
                wrong.append((route, "get", status))
            continue
        for method in ("get", "post"):
            status = ask(client, method, route).status_code
            if status != 403 and not (route.startswith("api/") and status in (405, 422)):
                wrong.append((route, method, status))
    assert wrong == []


def test_a_stranger_is_told_to_sign_in_everywhere(house, client_as) -> None:
    client = client_as("stranger")
    wrong = []
    for route, right in ADDRESSES.items():
        for method in ("get", "post") if right != OPEN else ():
            response = ask(client, method, route)
            led = response.status_code == 302 and response["Location"].startswith("/sign-in/?next=")
            if not (response.status_code in (401, 405) if route.startswith("api/") else led):
                wrong.append((route, method, response.status_code))
    assert wrong == []


def test_what_is_open_shows_nothing_of_the_house(house, client_as) -> None:
    client = client_as("stranger")
    for route, right in ADDRESSES.items():
        if right == OPEN:
            response = ask(client, "get", route)
            assert response.status_code < 500
            for secret in ("Mira Okafor", "Sanderling 28 01", "B-MIRA"):
                assert secret.encode() not in response.content, route


def test_a_badge_of_somebody_without_the_right_opens_nothing(house, client_as) -> None:
    import json

    event = house.event("patient_use_ended", "one-sanderling-28", {"case": "1"}, person="vera").model_dump(
        mode="json"
    )
    sent = json.dumps({"acts": [event | {"badge": "B-VERA"}]})
    response = client_as("technician").post("/api/v1/acts", sent, content_type="application/json")
    assert response.json()["answers"][0]["error"]["code"] == "not-allowed"
