"""The standing cast and the house they work in; the database of the test run.

`LUMENWARD_TEST_DATABASE` names a PostgreSQL (`postgresql://…`) to run the same tests on; SQLite otherwise.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from django.db import connections
from django.test import Client

from lumenward.equipment.library import Library
from lumenward.equipment.loader import as_document, digest, load_library, load_policy
from lumenward.equipment.policy import Policy
from lumenward.journey.acting import draft
from lumenward.journey.event import Event
from lumenward.journey.plan import Entry, Plan, PlannedStep, progress
from lumenward.journey.planner import make_plan
from lumenward.ledger.uuid7 import make_id
from lumenward.records import environment

DEMO = Path(str(files("lumenward.demo")))
ZONE = "Europe/London"
STATION = "sink-1"
ROLES = {
    "mira": ("Mira Okafor", "technician"),
    "jonas": ("Jonas Weir", "technician"),
    "lena": ("Lena Ruo", "lead"),
    "ines": ("Ines Holt", "infection prevention"),
    "egon": ("Egon Pale", "engineer"),
    "vera": ("Vera Lund", "viewer"),
}
CAST = {role: person for person, (_, role) in ROLES.items() if person != "jonas"} | {"stranger": None}
PIN = "4711"


def _choose_database() -> None:
    url = os.environ.get("LUMENWARD_TEST_DATABASE", "")
    folder = Path(tempfile.mkdtemp(prefix="lumenward-test-"))
    chosen = environment.described(url or f"sqlite:///{folder / 'house.sqlite3'}", "LUMENWARD_TEST_DATABASE")
    if not url:
        chosen["TEST"] = {"NAME": str(folder / "test.sqlite3")}
    connections.settings["default"].update(chosen)
    connections.configure_settings(connections.settings)
    with suppress(AttributeError):  # opened before the choice was made: forget it
        del connections["default"]


_choose_database()


@cache
def demo_documents() -> tuple[Library, Policy]:
    return load_library(DEMO / "library"), load_policy(DEMO / "policy.toml")


@dataclass
class House:
    """A furnished house in the database, with its own clock; acts go through the one way into the ledger."""

    now: datetime = field(default_factory=lambda: datetime.now(UTC) - timedelta(hours=8))
    made: int = 0

    def new_id(self, at: datetime | None = None) -> str:
        self.made += 1
        return str(make_id(int((at or self.now).timestamp() * 1000)))

    def event(
        self, kind: str, subject: str, body: dict[str, Any], *, cycle: str = "", person: str = "lena",
        at: datetime | None = None,
    ) -> Event:  # fmt: skip
        """Return an event one second later than the last."""
        self.now += timedelta(seconds=1)
        when = at or self.now
        event_id = self.new_id(when)
        return Event(
            id=event_id, kind=kind, subject=subject or event_id, cycle=cycle, person=person, station=STATION,
            happened_at=when, body=body,
        )  # fmt: skip

    def do(self, kind: str, subject: str, body: dict[str, Any], **more: Any) -> Event:
        """Record one event as its own person."""
        from lumenward.records.service import record_many

        event = self.event(kind, subject, body, **more)
        record_many([[(event, event.happened_at + timedelta(seconds=2))]])
        return event

    def plan(self, endoscope: str) -> Plan:
        from lumenward.records.world import StoredWorld

        return make_plan(StoredWorld(), endoscope, STATION, self.now, ZONE)

    def acts_until(self, endoscope: str, stop: str = "release", person: str = "mira") -> Iterator[Event]:
        """Yield the acts of the cycle one by one, as a careful technician would make them, until `stop` is next.

        The receiver records each before taking the next.
        """
        for _ in range(160):
            plan = self.plan(endoscope)
            step = next_step(plan, self.now)
            if step is None or step.key == stop:
                return
            yield from self._acts_of(endoscope, plan, step, person)
        raise AssertionError("the work never came to its end")

    def _acts_of(self, endoscope: str, plan: Plan, step: PlannedStep, person: str) -> Iterator[Event]:
        stands = _stands(plan, self.now)
        if step.timer and step.key not in stands.started:
            yield self.event("step_started", endoscope, {"step": step.key}, cycle=plan.cycle, person=person)
        if step.timer:
            self.now += timedelta(seconds=step.timer.floor_s)
            plan = self.plan(endoscope)
            stands = _stands(plan, self.now)
        given = careful_answers(step)
        if "happened_at" in given:
            self.now += timedelta(seconds=1)
            given["happened_at"] = self.now
        made = draft(step, given, _acts(plan), stands)
        if step.dosings:
            made = draft(
                step, given | {"dose_ml": label_dose(step, made.body, given["fill"])}, _acts(plan), stands
            )
        opens = step.kind in ("patient_use_ended", "reprocessing_required")
        cycle = "" if opens or step.kind == "mec_tested" else plan.cycle
        yield self.event(
            step.kind, made.subject or endoscope, made.body, cycle=cycle, person=person, at=made.happened_at
        )

    def work(self, endoscope: str, stop: str = "release", person: str = "mira") -> list[Event]:
        """Record the cycle until `stop` is next; return its acts. A new cycle is planned once, then done again."""
        from lumenward.records.service import record_many
        from lumenward.records.world import StoredWorld

        begun, key = self.now, (endoscope, stop, person)
        state = StoredWorld().endoscope(endoscope)
        if state is not None and state.cycle:
            key = (endoscope, stop, f"{person} goes on with {state.cycle}")
        if key not in _DONE_BEFORE:
            done = []
            for event in self.acts_until(endoscope, stop, person):
                record_many([[(event, event.happened_at + timedelta(seconds=2))]])
                done.append(event)
            _DONE_BEFORE[key] = _recipe(done, begun, self.now)
            return done
        done, lasted_s = _again(_DONE_BEFORE[key], self)
        record_many([[(event, event.happened_at + timedelta(seconds=2)) for event in done]])
        self.now = begun + timedelta(seconds=lasted_s)
        return done


Recipe = tuple[list[tuple[float, str]], float]
_DONE_BEFORE: dict[tuple[str, str, str], Recipe] = {}


def _charge_marks() -> dict[str, str]:
    from lumenward.records.world import StoredWorld

    return {charge.id: f"@{charge.basin}@" for charge in StoredWorld().charges()}


def _recipe(acts: list[Event], begun: datetime, ended: datetime) -> Recipe:
    """Return acts as (seconds from the beginning, JSON with marks instead of ids)."""
    marks = {act.id: f"@{place}@" for place, act in enumerate(acts)} | _charge_marks()
    lines = []
    for act in acts:
        text = act.model_dump_json()
        for found, mark in marks.items():
            text = text.replace(found, mark)
        lines.append(((act.happened_at - begun).total_seconds(), text))
    return lines, (ended - begun).total_seconds()


def _again(recipe: Recipe, house: House) -> tuple[list[Event], float]:
    """Return the same acts from the house's now on, with ids of their own."""
    lines, lasted_s = recipe
    instants = [house.now + timedelta(seconds=offset) for offset, _ in lines]
    ids = {f"@{place}@": house.new_id(at) for place, at in enumerate(instants)}
    ids |= {mark: charge for charge, mark in _charge_marks().items()}
    acts = []
    for (_, line), at in zip(lines, instants, strict=True):
        text = re.sub(r"@[a-z0-9-]+@", lambda found: ids[found[0]], line)
        acts.append(Event.model_validate_json(text).model_copy(update={"happened_at": at}))
    return acts, lasted_s


def _acts(plan: Plan) -> list[Event]:
    return [Event.model_validate(act) for act in plan.acts]


def _stands(plan: Plan, now: datetime) -> Any:
    return progress(plan.steps, _acts(plan), now, plan.lifted)


def next_step(plan: Plan, now: datetime) -> PlannedStep | None:
    """Return what comes next on the way by hand, after a patient."""
    key = _stands(plan, now).next
    step = next((one for one in plan.steps if one.key == key), None)
    if step and step.instead:
        fork, way = step.route.split(":")
        if {"opening": "patient", "disinfect": "manual"}[fork] != way:
            step = next(one for one in plan.steps if one.key == step.instead)
    return step


def label_dose(step: PlannedStep, body: dict[str, Any], fill_m: float) -> float:
    """Return the dose the step's table gives for a fill."""
    wanted = (body["vessel"], body["detergent"])
    rows = next(table.rows for table in step.dosings if (table.vessel, table.detergent) == wanted)
    return min(rows, key=lambda row: abs(row[0] - fill_m))[2]


def careful_answers(step: PlannedStep) -> dict[str, Any]:
    """Return what a careful person would answer, each answer agreeing with those before."""
    given: dict[str, Any] = {}
    bounds: dict[str, tuple[float, float]] = {}
    for entry in step.entries:
        given[entry.key] = _careful_answer(entry, given, bounds)
        picked = next((one for one in entry.choices if one.value == given[entry.key]), None)
        bounds |= picked.bounds if picked else {}
    return given


def _careful_answer(entry: Entry, given: dict[str, Any], bounds: dict[str, tuple[float, float]]) -> Any:
    fixed = {"dose_ml": 40.0, "happened_at": None, "case": "case-4471", "alcohol_used": False, "slot": None}
    if entry.key in fixed or entry.graded:
        return fixed.get(entry.key)
    if entry.kind in ("tick", "fill"):
        return True if entry.kind == "tick" else 0.1
    fits = [
        one for one in entry.choices if all(given.get(key) in allowed for key, allowed in one.only.items())
    ]
    free = [one for one in fits if not one.why_not]
    if entry.choices and not free:
        raise AssertionError(f"nothing can be picked for {entry.label}: {[one.why_not for one in fits]}")
    if entry.kind in ("choice", "scan") and free:
        return free[0].value
    if entry.kind == "number":
        low = max(entry.low if entry.low is not None else 1, *bounds.get(entry.key, (0, 0))[:1])
        return low if entry.high is None else min(low, entry.high)
    return "seen and noted"


_FURNISHED: list[tuple[Any, list[Any]]] = []
_AFTERWARDS: list[House] = []


def furnish() -> House:
    """Return a furnished house: made through the ledger once a test run, its rows put back every time after."""
    from django.contrib.auth import get_user_model

    from lumenward.records.models import Person, Projection, StoredEvent, Touch, TreeHead

    if not _FURNISHED:
        _AFTERWARDS.append(_furnish(House()))
        tables = (get_user_model(), Person, StoredEvent, Touch, Projection, TreeHead)
        _FURNISHED.extend((table, list(table._base_manager.all())) for table in tables)
        return replace(_AFTERWARDS[0])
    for table, rows in _FURNISHED:
        table._base_manager.bulk_create(copy(row) for row in rows)
    return replace(_AFTERWARDS[0])


def _furnish(house: House) -> House:
    """Adopt the demo's documents, add the cast, open a lot of everything, register one endoscope of each model."""
    from lumenward.records import accounts
    from lumenward.records.roles import SET_UP
    from lumenward.records.service import record_many

    library, policy = demo_documents()
    made: list[Event] = []

    def add(kind: str, subject: str, body: dict[str, Any], person: str = "lena") -> str:
        made.append(house.event(kind, subject, body, person=person))
        return made[-1].id

    add("library_adopted", "house", {"digest": digest(library), "document": as_document(library)}, SET_UP)
    document = {"digest": digest(policy), "document": as_document(policy), "reason": "a test"}
    add("policy_adopted", "house", document, SET_UP)
    for person, (name, role) in ROLES.items():
        add("person_added", person, {"name": name, "role": role}, SET_UP)
    _show_competent(add)
    _open_supplies(house, library, add)
    for model in library.endoscopes:
        body = {"name": f"{model.name} 01", "model": model.id, "serial": "S1", "code": f"E-{model.id}"}
        add("endoscope_registered", f"one-{model.id}", body)
    record_many([[(event, event.happened_at + timedelta(seconds=2)) for event in made]])
    for person in ROLES:
        accounts.open_account(person, badge=f"B-{person.upper()}")
    return house


def _show_competent(add: Callable[..., str]) -> None:
    until = (datetime.now(UTC) + timedelta(days=300)).date().isoformat()
    for person in ("mira", "jonas", "lena"):
        assessor = "ines" if person == "lena" else "lena"
        add("competency_recorded", person, {"model": "*", "valid_until": until, "assessed_by": assessor})


def _open_supplies(house: House, library: Library, add: Callable[..., str]) -> None:
    expires = (datetime.now(UTC) + timedelta(days=300)).date().isoformat()
    for shelf in ("detergents", "disinfectants", "strips", "brushes", "kits"):
        for product in getattr(library, shelf):
            lot = f"lot-{product.id}"
            body = {
                "product": product.id,
                "shelf": shelf,
                "lot": "A1",
                "expires": expires,
                "code": f"L-{product.id}",
            }
            add("lot_opened", lot, body)
            if shelf == "strips":
                add("strips_checked", lot, {"full_strength_passed": 3, "diluted_failed": 3})
    for basin, product in zip(library.basins, ("improved-20", "glut-24", "opa-055"), strict=False):
        body = {
            "basin": basin.id,
            "disinfectant": product,
            "lot": f"lot-{product}",
            "volume_l": basin.volume_l,
        }
        add("charge_poured", "", body)
    for kind in library.connector_sets:
        add("connector_set_opened", f"cs-{kind.id}", {"kind": kind.id, "code": f"CS-{kind.id}"})


@pytest.fixture
def house(db: None) -> House:
    """A furnished house: the demo's library and policy, the cast, supplies, one endoscope of each model."""
    return furnish()


@pytest.fixture
def shared_house(transactional_db: None) -> House:
    """The same house, committed: other threads and servers see it."""
    return furnish()


@pytest.fixture
def world(house: House) -> Any:
    """The stored world of the furnished house."""
    from lumenward.records.world import StoredWorld

    return StoredWorld()


@pytest.fixture
def client_as(house: House) -> Callable[[str], Client]:
    """Return a browser in which the person of a role is signed in; `stranger` is nobody."""

    def sign_in(role: str) -> Client:
        client = Client(raise_request_exception=False)
        person = CAST.get(role, role)
        if person is not None:
            from django.contrib.auth import get_user_model

            user = get_user_model().objects.get(username=person)
            client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in
