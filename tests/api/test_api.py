"""The API as a machine meets it: acts in, answers out, one shape for every no."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from lumenward.records import accounts
from lumenward.records.models import RefusedAct, StoredEvent

SCOPE = "one-sanderling-28"
KEYS = {"code", "message", "field", "hint"}


def post(client: Client, path: str, body: Any, **more: Any) -> Any:
    data = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(f"/api/v1/{path}", data, content_type="application/json", **more)


def error_of(response: Any, status: int, code: str = "") -> dict[str, str]:
    assert response.status_code == status, response.content
    assert response["Content-Type"].startswith("application/json")
    assert "no-store" in response["Cache-Control"]
    found = response.json()
    assert set(found) == {"error"} and set(found["error"]) == KEYS
    assert found["error"]["message"]
    if code:
        assert found["error"]["code"] == code
    return found["error"]


def opening(house: Any, **changed: Any) -> dict[str, Any]:
    event = house.event("patient_use_ended", SCOPE, {"case": "case-1"}, person="mira")
    return event.model_dump(mode="json") | changed


def test_a_batch_of_acts_is_answered_act_by_act(house, client_as) -> None:
    client = client_as("technician")
    good, bad = opening(house), opening(house, kind="nonsense")
    response = post(client, "acts", {"acts": [good, bad, good]})
    assert response.status_code == 200
    answers = response.json()["answers"]
    assert [answer["answer"] for answer in answers] == ["recorded", "refused", "already recorded"]
    assert answers[0] == {"id": good["id"], "answer": "recorded"}
    assert set(answers[1]["error"]) == KEYS


def test_a_whole_cycle_through_the_api_ends_in_a_plan_with_nothing_but_the_release(house, client_as) -> None:
    client = client_as("technician")
    for act in house.acts_until(SCOPE):
        (answer,) = post(client, "acts", {"acts": [act.model_dump(mode="json")]}).json()["answers"]
        assert answer["answer"] == "recorded", answer
    plan = client.get("/api/v1/stations/sink-1/plan", {"endoscope": SCOPE}).json()
    assert plan["endoscope"] == SCOPE and plan["acts"][-1]["kind"] == "stored"
    record = client.get(f"/api/v1/records/{plan['cycle']}").json()
    assert record["acts"][0]["kind"] == "patient_use_ended"
    assert all(act["late_entry"] for act in record["acts"])


def test_a_badge_lets_another_person_act_and_is_not_kept(house, client_as) -> None:
    client = client_as("technician")
    act = opening(house, person="jonas")
    assert post(client, "acts", {"acts": [act]}).json()["answers"][0]["error"]["code"] == "not-you"
    assert (
        post(client, "acts", {"acts": [act | {"badge": "B-JONAS"}]}).json()["answers"][0]["answer"]
        == "recorded"
    )
    assert StoredEvent.objects.get(pk=act["id"]).person == "jonas"


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"null", b"\xff\xfe", b'{"acts": []}', b'{"acts": "x"}', b'{"acts": [1]}',
     b'{"acts": [{}], "x": 1}',
     b'{"acts": [{}], "acts": [{}]}', b'{"acts": [{"body": NaN}]}', b'{"acts": [{"body": {"x": Infinity}}]}',
     b'{"acts": [{"x": 1,5}]}', b"[" * 5000, b'{"acts": ' + b"[" * 5000],
)  # fmt: skip
def test_what_is_not_a_batch_is_refused_in_one_shape(house, client_as, body) -> None:
    response = post(client_as("technician"), "acts", body)
    error_of(response, response.status_code)
    assert response.status_code in (400, 422)
    assert StoredEvent.objects.filter(kind="patient_use_ended").count() == 0


@pytest.mark.parametrize(
    "value", ["1,5", "", " ", "🫧", "\u202e5", "1e999", -1, 1e308, 10**40, True, None, [], {}, "1 L", "=1+1"]
)
def test_a_number_that_is_none_is_refused_beside_its_field(house, client_as, value) -> None:
    client = client_as("technician")
    cycle = house.work(SCOPE, stop="dose-sink")[0].id
    body = {
        "vessel": "sink-1", "detergent": "mereclean", "lot": "lot-mereclean", "water_l": 20, "temperature_c": 25,
        "dose_ml": value,
    }  # fmt: skip
    act = house.event("detergent_dosed", SCOPE, body, cycle=cycle, person="mira").model_dump(mode="json")
    response = post(client, "acts", {"acts": [act]})
    answer = response.json()["answers"][0] if response.status_code == 200 else response.json()
    assert response.status_code in (200, 422)
    assert answer.get("answer", "refused") == "refused"
    assert answer["error"]["message"] and (
        response.status_code == 422 or "dose_ml" in answer["error"]["field"]
    )
    assert not StoredEvent.objects.filter(pk=act["id"]).exists()


def test_ten_megabytes_are_refused_before_they_are_read(house, client_as) -> None:
    response = post(client_as("technician"), "acts", b'{"acts": ["' + b"x" * 10_000_000 + b'"]}')
    found = error_of(response, 413, "too-large")
    assert "at most 2000000" in found["message"]


def test_a_long_offline_day_fits_into_one_batch(house, client_as) -> None:
    acts = [opening(house, kind="nonsense") for _ in range(500)]
    response = post(client_as("technician"), "acts", {"acts": acts})
    assert response.status_code == 200 and len(response.json()["answers"]) == 500
    assert RefusedAct.objects.count() == 500


def test_every_other_no_has_the_same_shape(house, client_as) -> None:
    client = client_as("lead")
    error_of(client.get("/api/v1/nothing"), 404, "not-found")
    error_of(client.get("/api/"), 404, "not-found")
    error_of(client.get("/api/v1/acts"), 405, "wrong-method")
    error_of(client.get("/api/v1/records/unknown"), 404, "not-found")
    error_of(client.get("/api/v1/stations/sink-1/plan"), 422, "missing")
    error_of(client.get("/api/v1/stations/sink-9/plan", {"endoscope": SCOPE}), 422)
    error_of(client.get("/api/v1/endoscopes/nobody/verdict"), 404, "not-found")
    error_of(client.get("/api/v1/calc/nonsense/schema"), 404, "unknown-calculation")
    error_of(post(client, "calc/merkle", {"leaves_hex": "x"}), 422)
    error_of(post(client, "scan", {"code": 5}), 422)
    error_of(post(client_as("viewer"), "acts", {"acts": [{}]}), 403, "not-allowed")
    error_of(client_as("stranger").get("/api/v1/now"), 401, "not-signed-in")


def test_a_fault_of_ours_is_one_sentence_without_insides(house, client_as, monkeypatch) -> None:
    from lumenward.api import reading

    def broken(*args: Any) -> None:
        raise ZeroDivisionError("inner words")

    monkeypatch.setattr(reading.looking, "now", broken)
    response = client_as("lead").get("/api/v1/now")
    error_of(response, 500, "our-fault")
    assert b"inner words" not in response.content and b"Traceback" not in response.content


def test_a_page_of_another_site_cannot_send_acts(house, client_as) -> None:
    client = Client(enforce_csrf_checks=True)
    client.cookies = client_as("technician").cookies
    error_of(post(client, "acts", {"acts": [opening(house)]}), 403, "bad-csrf")
    assert client.get("/api/v1/now").status_code == 200


def test_a_machine_acts_with_its_key_and_needs_no_page(house) -> None:
    key = accounts.make_token("mira", "bridge", datetime.now(UTC))
    client = Client(enforce_csrf_checks=True)
    headers = {"authorization": f"Bearer {key}"}
    (answer,) = post(client, "acts", {"acts": [opening(house)]}, headers=headers).json()["answers"]
    assert answer["answer"] == "recorded"
    error_of(post(client, "acts", {"acts": [opening(house)]}, headers={"authorization": "Bearer wrong"}), 401)


def test_every_answer_carries_the_headers_that_keep_it_safe(house, client_as) -> None:
    response = client_as("lead").get("/api/v1/now")
    policy = response["Content-Security-Policy"]
    assert "default-src 'self'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Cache-Control"] == "no-store"
    assert response["Referrer-Policy"] == "same-origin"


def test_the_description_of_the_api_is_valid_and_names_every_error(client, db) -> None:
    found = client.get("/api/v1/openapi.json").json()
    assert found["openapi"].startswith("3.")
    for path, methods in found["paths"].items():
        assert path.startswith("/api/v1/")
        for method, operation in methods.items():
            assert "401" in {str(status) for status in operation["responses"]}, (method, path)
            assert operation.get("description") and operation["operationId"]
    _resolve_all(found, found)
    act = found["components"]["schemas"]["Acts"]["properties"]["acts"]["items"]
    assert {"id", "kind", "subject", "person", "happened_at", "badge"} <= set(act["properties"])


def _resolve_all(node: Any, whole: dict[str, Any]) -> None:
    if isinstance(node, dict):
        if "$ref" in node:
            place: Any = whole
            for part in node["$ref"].removeprefix("#/").split("/"):
                place = place[part]
        for one in node.values():
            _resolve_all(one, whole)
    elif isinstance(node, list):
        for one in node:
            _resolve_all(one, whole)


def test_now_says_where_each_endoscope_is_and_what_is_running_out(house, client_as) -> None:
    house.now = datetime.now(UTC) - timedelta(minutes=50)
    house.do("patient_use_ended", SCOPE, {"case": "case-1"}, person="mira")
    rows = client_as("viewer").get("/api/v1/now").json()["endoscopes"]
    assert rows[0]["id"] == SCOPE and rows[0]["stage"] == "waiting"
    (clock,) = rows[0]["clocks"]
    assert clock["word"] == "soon" and 0 < clock["left_s"] < 900 and clock["source"]


def test_a_scan_is_answered_in_words(house, client_as) -> None:
    client = client_as("technician")
    found = post(
        client,
        "scan",
        {"code": f"E-{SCOPE.removeprefix('one-')}\r", "station": "sink-1", "expects": "endoscope"},
    )
    assert found.status_code == 200
    assert (found.json()["kind"], found.json()["id"], found.json()["usable"]) == ("endoscope", SCOPE, True)
    wrong = error_of(post(client, "scan", {"code": "B-MIRA", "expects": "endoscope"}), 422, "wrong-kind")
    assert wrong["message"] == "This is Mira Okafor, a badge; an endoscope is asked for here."


def test_a_calculation_gives_the_same_through_the_api_and_the_library(house, client_as) -> None:
    from lumenward import calculations

    case = {"leaves_hex": ["", "00", "10"], "inclusion": [2, 3]}
    response = post(client_as("viewer"), "calc/merkle", case)
    assert response.status_code == 200
    assert response.json() == calculations.run("merkle", case)
    assert client_as("viewer").get("/api/v1/calc/merkle/schema").json() == calculations.schema("merkle")
    assert client_as("viewer").get("/api/v1/calc").json() == {"calculations": list(calculations.NAMES)}
