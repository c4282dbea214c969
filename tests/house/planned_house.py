"""An invented unit worked by the plan alone: what the page at the sink would do, with a careful person's answers.

Every act is asked of `refuse` before it is recorded, so that the plan and the legality check cannot drift apart.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from lumenward.equipment.library import Library
from lumenward.equipment.loader import load_library, load_policy
from lumenward.equipment.policy import Policy
from lumenward.journey.acting import draft
from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS, check_body
from lumenward.journey.legality import refuse
from lumenward.journey.memory import MemoryWorld
from lumenward.journey.plan import Entry, Plan, PlannedStep, Progress, Trouble, floor_of, low_of, progress
from lumenward.journey.planner import make_plan
from lumenward.ledger.uuid7 import make_id

ZONE = "Europe/London"
MORNING = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)
DEMO = Path(str(files("lumenward.demo")))
POLICIES = Path(str(files("lumenward.equipment"))) / "policies"
STATION = "sink-1"


@lru_cache
def library() -> Library:
    return load_library(DEMO / "library")


@lru_cache
def policies() -> dict[str, Policy]:
    found = [load_policy(path) for path in (*sorted(POLICIES.glob("*.toml")), DEMO / "policy.toml")]
    return {policy.id: policy for policy in found}


def house_policy() -> Policy:
    return load_policy(DEMO / "policy.toml")


def routes() -> list[tuple[str, str]]:
    """Return every model with every way of disinfection that its IFU allows and the house can take."""
    fits = {name for washer in library().washers for name in washer.fits}
    return [
        (model.id, route)
        for model in library().endoscopes
        for route in model.ifu.routes
        if route == "manual" or model.id in fits
    ]


@dataclass
class House:
    """A world in memory with its own clock."""

    policy: Policy = field(default_factory=lambda: house_policy())
    library: Library = field(default_factory=library)
    now: datetime = MORNING
    pouring: tuple[str, ...] = ("improved-20", "glut-24", "opa-055")
    made: int = 0

    def __post_init__(self) -> None:
        self.world = MemoryWorld(library=self.library, policy=self.policy)
        self._furnish()

    def new_id(self) -> str:
        self.made += 1
        return str(make_id(int(self.now.timestamp() * 1000), self.made.to_bytes(10, "big")))

    def event(
        self,
        kind: str,
        subject: str,
        body: dict[str, Any],
        *,
        cycle: str = "",
        at: datetime | None = None,
    ) -> Event:
        """Record one event, a second later than the last; fail with the sentence if it is refused."""
        self.now += timedelta(seconds=1)
        act_id = self.new_id()
        if KINDS[kind].opens_cycle:
            cycle = act_id
        event = Event(
            id=act_id, kind=kind, subject=subject or act_id, cycle=cycle, person="ana", station=STATION,
            happened_at=at or self.now, body=body,
        )  # fmt: skip
        event = event.model_copy(update={"body": check_body(event)})
        no = refuse(self.world, event, self.now)
        assert no is None, f"{kind} was refused: {no and no.message} ({no and no.code}, {no and no.field})"
        self.world.append(event)
        return event

    def wait(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)

    def plan(self, endoscope: str) -> Plan:
        return make_plan(self.world, endoscope, STATION, self.now, ZONE)

    def tablet(self, endoscope: str) -> Tablet:
        """Return a page that has just been loaded."""
        return Tablet(self, self.plan(endoscope))

    def stands(self, endoscope: str) -> Progress:
        return self.tablet(endoscope).stands()

    def step(self, endoscope: str, key: str) -> PlannedStep:
        return self.tablet(endoscope).step(key)

    def trouble(self, endoscope: str, step: str, key: str) -> Trouble:
        return next(trouble for trouble in self.step(endoscope, step).troubles if trouble.key == key)

    def work(self, endoscope: str, until: str = "", route: str = "manual", patient: bool = True) -> list[str]:
        """Do step after step, loading the page anew before each; return the keys of what was done."""
        done: list[str] = []
        while len(done) < 80:
            found = self.tablet(endoscope).work(until, route, patient, most=1)
            if not found:
                return done
            done += found
        raise AssertionError(f"never came to {until!r}: {done[-5:]}")

    def answers(self, entries: list[Entry], carried: dict[str, Any]) -> dict[str, Any]:
        """Return what a careful person answers to all entries of a step, within what the choices made narrow down."""
        found: dict[str, Any] = {}
        bounds: dict[str, tuple[float, float]] = {}
        for entry in entries:
            low, high = bounds.get(entry.key, (low_of(entry, carried), entry.high))
            fitting = [
                choice
                for choice in entry.choices
                if all(found.get(key) in allowed for key, allowed in choice.only.items())
            ]
            narrowed = entry.model_copy(update={"low": low, "high": high, "choices": fitting})
            found[entry.key] = self.answer(narrowed)
            for choice in entry.choices:
                if choice.value == found[entry.key]:
                    bounds |= choice.bounds
        return found

    def answer(self, entry: Entry) -> Any:
        """Return what a careful person answers."""
        if entry.graded or entry.key in ("dose_ml", "slot"):
            return None
        if entry.kind == "tick":
            return True
        if entry.kind in ("choice", "scan") and entry.choices:
            free = [choice for choice in entry.choices if not choice.why_not]
            assert free, f"nothing can be picked for {entry.label}: {entry.choices[0].why_not}"
            return free[0].value
        if entry.key == "happened_at":
            return self.now - timedelta(minutes=10)
        return {"fill": 0.06, "number": number(entry)}.get(entry.kind, "as found")

    def release_body(self) -> dict[str, Any]:
        until = (self.now + timedelta(hours=1)).isoformat()
        verdict = {"findings": [{"answer": "met", "sentence": "All is well."}]}
        return {"verdict": verdict, "verdict_digest": "0" * 64, "ready_until": until}

    def pour(self, basin: str, product: str) -> Event:
        body = {"basin": basin, "disinfectant": product, "lot": f"lot-{product}", "volume_l": 8}
        return self.event("charge_poured", "", body)

    def open_set(self, kind: str, set_id: str) -> Event:
        return self.event("connector_set_opened", set_id, {"kind": kind, "code": f"CS-{set_id}"})

    def _furnish(self) -> None:
        for person, role in {"ana": "lead", "tom": "technician"}.items():
            self.event("person_added", person, {"name": person.title(), "role": role})
            competency = {"model": "*", "valid_until": "2027-01-31", "assessed_by": "chief"}
            self.event("competency_recorded", person, competency)
        for shelf in ("detergents", "disinfectants", "strips", "brushes", "kits"):
            for product in getattr(self.library, shelf):
                self._open_lot(shelf, product.id)
        for basin, product in zip(self.library.basins, self.pouring, strict=False):
            self.pour(basin.id, product)
        for kind in self.library.connector_sets:
            self.open_set(kind.id, f"one-{kind.id}")
        for model in self.library.endoscopes:
            body = {
                "name": f"{model.name} 01",
                "model": model.id,
                "serial": model.id,
                "code": f"E-{model.id}",
            }
            self.event("endoscope_registered", model.id, body)
        self.wait(3600)

    def _open_lot(self, shelf: str, product: str) -> None:
        body = {
            "product": product,
            "shelf": shelf,
            "lot": "A1",
            "expires": "2027-01-31",
            "code": f"L-{product}",
        }
        lot = self.event("lot_opened", f"lot-{product}", body)
        if shelf == "strips":
            self.event("strips_checked", lot.subject, {"full_strength_passed": 3, "diluted_failed": 3})


@dataclass
class Tablet:
    """A page at the sink: the plan it loaded once, and the acts since, its own among them."""

    house: House
    plan: Plan
    acts: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.acts = acts_of(self.plan)

    @property
    def cycle(self) -> str:
        opened = [act.id for act in self.acts if KINDS[act.kind].opens_cycle]
        return opened[0] if opened else ""

    def stands(self) -> Progress:
        return progress(self.plan.steps, self.acts, self.house.now, self.plan.lifted)

    def step(self, key: str) -> PlannedStep:
        return next(step for step in self.plan.steps if step.key == key)

    def begin(self, key: str) -> Event:
        """Begin the timed step `key`."""
        return self._act("step_started", self.plan.endoscope, {"step": key}, self.cycle)

    def perform(self, step: PlannedStep, **given: Any) -> Event:
        """Do a step: begin it, wait its time out, answer its entries, record its act."""
        if step.timer and not step.timer.since and step.key not in self.stands().started:
            self.begin(step.key)
        if step.timer:
            started = next((act for act in self.acts if act.id == self.stands().started.get(step.key)), None)
            floor = floor_of(step.timer, started.body if started else {})
            assert floor is not None, step.timer.no_row
            self.house.wait(floor)
        return self.record(step, **given)

    def record(self, step: PlannedStep | Trouble, **given: Any) -> Event:
        """Answer the entries of a step or a trouble and record its act."""
        started = [act.body for act in self.acts if act.kind == "machine_cycle_started"]
        answers = self.house.answers(step.entries, started[-1] if started else {}) | given
        made = draft(step, answers, self.acts, self.stands())
        body = self.house.release_body() if step.kind == "released" else made.body
        cycle = self.cycle if KINDS[step.kind].about == "endoscope" else ""
        return self._act(step.kind, made.subject or self.plan.endoscope, body, cycle, made.happened_at)

    def work(self, until: str = "", route: str = "manual", patient: bool = True, most: int = 80) -> list[str]:
        """Do step after step by this one plan until `until` comes next or nothing is left."""
        done: list[str] = []
        while len(done) < most:
            key = chosen(self.plan, self.stands().next, route, patient)
            if key in ("", until):
                break
            self.perform(self.step(key))
            done.append(key)
        return done

    def _act(
        self, kind: str, subject: str, body: dict[str, Any], cycle: str, at: datetime | None = None
    ) -> Event:
        event = self.house.event(kind, subject, body, cycle=cycle, at=at)
        self.acts = sorted([*self.acts, event], key=lambda act: act.order)
        return event


def acts_of(plan: Plan) -> list[Event]:
    return [Event.model_validate(act) for act in plan.acts]


def number(entry: Entry) -> float:
    if entry.key == "read_after_s":
        return 80.0
    return entry.low if entry.low is not None else min(1.0, entry.high or 1.0)


def chosen(plan: Plan, upcoming: str, route: str, patient: bool) -> str:
    """Return the step of the way that is wanted where a fork comes next."""
    step = next((one for one in plan.steps if one.key == upcoming), None)
    if step is None or not step.instead:
        return upcoming
    wanted = {"opening": "patient" if patient else "no-patient", "disinfect": route}
    fork, way = step.route.split(":")
    return step.key if wanted[fork] == way else step.instead
