"""A small invented unit for tests: one endoscope, its people and supplies, and every step of its cycle.

`Unit.to("flushed")` works up to and including that step; each act is asked of `refuse` before it is recorded, so a
unit that stands is a legal one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from lumenward.equipment.library import Library
from lumenward.equipment.loader import load_library, load_policy
from lumenward.equipment.policy import Policy
from lumenward.journey import needs
from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS, check_body
from lumenward.journey.legality import refuse
from lumenward.journey.memory import MemoryWorld
from lumenward.quantities import Refusal

DEMO = Path(__file__).parents[2] / "src" / "lumenward" / "demo"
MODELS = (
    "sanderling-28", "whimbrel-38", "turnstone-42", "phalarope-37", "dunlin-22", "redshank-23", "plover-12",
    "wagtail-34",
)  # fmt: skip
START = datetime.fromisoformat("2026-03-02T08:00:00+00:00")
PEOPLE = {"ana": "technician", "tom": "technician", "lea": "lead", "ivo": "infection prevention"}
SETS = {
    "sanderling-28": "set-gastro", "whimbrel-38": "set-colon", "turnstone-42": "set-duodeno",
    "phalarope-37": "set-echo", "dunlin-22": "set-broncho", "redshank-23": "set-uro", "plover-12": "set-uro",
}  # fmt: skip
IN_CYCLE = frozenset(name for name, kind in KINDS.items() if kind.in_cycle and not kind.opens_cycle)


@lru_cache
def library() -> Library:
    return load_library(DEMO / "library")


@lru_cache
def policy() -> Policy:
    return load_policy(DEMO / "policy.toml")


def make_id(number: int, at: datetime) -> str:
    """Return a UUIDv7 of that instant, told from others by its number."""
    milliseconds = f"{int(at.timestamp() * 1000):012x}"
    return f"{milliseconds[:8]}-{milliseconds[8:]}-7000-8000-{number:012x}"


@dataclass
class Unit:
    """One endoscope of one model and everything it needs."""

    model: str = "sanderling-28"
    route: str = "manual"
    policy: Policy = field(default_factory=policy)
    library: Library = field(default_factory=library)
    now: datetime = START
    person: str = "ana"
    use: dict[str, Any] = field(default_factory=dict)
    disinfectant: str = "improved-20"
    strip: str = "strip-ihp"
    endoscope: str = "e1"
    cycle: str = ""
    count: int = 0

    def __post_init__(self) -> None:
        self.world = MemoryWorld(library=self.library, policy=self.policy)
        self._furnish()

    @property
    def described(self) -> Any:
        return self.library.model(self.model)

    def make(
        self, kind: str, /, *, subject: str = "", cycle: str | None = None, person: str = "", **body: Any
    ) -> Event:
        """Return an act of this instant; bodies are kept as their schema keeps them."""
        self.count += 1
        event_id = make_id(self.count, self.now)
        about = KINDS[kind].about
        if cycle is None:
            cycle = event_id if KINDS[kind].opens_cycle else self.cycle if kind in IN_CYCLE else ""
        event = Event(
            id=event_id, kind=kind, subject=subject or (self.endoscope if about == "endoscope" else event_id),
            cycle=cycle, person=person or self.person, station="sink-1", happened_at=self.now, body=body,
        )  # fmt: skip
        return event.model_copy(update={"body": check_body(event)})

    def wait(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)

    def tries(self, kind: str, /, **how: Any) -> Refusal | None:
        """Return the refusal of an act of this instant; record nothing."""
        return refuse(self.world, self.make(kind, **how), self.now)

    def do(self, kind: str, /, *, after_s: float = 30, **how: Any) -> Event:
        """Record an act `after_s` later; fail with the sentence if it is refused."""
        self.wait(after_s)
        event = self.make(kind, **how)
        no = refuse(self.world, event, self.now)
        assert no is None, f"{kind} was refused: {no and no.message} ({no and no.code})"
        self.world.append(event)
        return event

    def timed(self, step: str, seconds: float, kind: str, /, **how: Any) -> Event:
        """Record a step with its start, `seconds` long."""
        started = self.do("step_started", step=step)
        return self.do(kind, after_s=seconds, started=started.id, **how)

    def to(self, last: str) -> Unit:
        """Work through the cycle up to and including the step called `last`."""
        for name, step in self.steps():
            step()
            if name == last:
                return self
        raise LookupError(last)

    def before(self, name: str) -> Unit:
        """Work through the cycle up to the step before `name`."""
        for step_name, step in self.steps():
            if step_name == name:
                return self
            step()
        raise LookupError(name)

    def steps(self) -> Iterator[tuple[str, Callable[[], Any]]]:
        """Yield the steps of this model's cycle by name."""
        for name in self.step_names():
            yield name, getattr(self, f"_{name}")

    def step_names(self) -> list[str]:
        inside = [
            "connected",
            "aspirated",
            "flushed",
            "purged_flush",
            "rinsed",
            "purged_rinse",
            "disconnected",
        ]
        by_hand = ["mec_tested", "hld_started", "hld_ended", "final_rinsed"]
        return [
            "used", "treated", "sent", "received", "leak_tested", "dosed", "cleaning_started", "exterior_cleaned",
            "brushed", *(inside if self.described.channels else ["rinsed"]), "inspected",
            *(["verified"] if needs.verified(self.described, self.policy) else []),
            *(by_hand if self.route == "manual" else ["machine_started", "machine_ended"]),
            "dried", "stored", "released", "taken",
        ]  # fmt: skip

    def _furnish(self) -> None:
        for person, role in PEOPLE.items():
            self.do("person_added", subject=person, name=person.title(), role=role)
            self.do(
                "competency_recorded",
                subject=person,
                model="*",
                valid_until="2027-01-31",
                assessed_by="chief",
            )
        self.do("endoscope_registered", name="Gastro 7", model=self.model, serial="123", code="E-0007")
        for lot, shelf, product in (
            ("lot-d", "detergents", "reedwash"), ("lot-x", "disinfectants", self.disinfectant),
            ("lot-s", "strips", self.strip), ("lot-k", "kits", "kit-atp-channel"),
        ):  # fmt: skip
            self.do("lot_opened", subject=lot, product=product, shelf=shelf, lot=lot, expires="2026-12-31")
        self.do("strips_checked", subject="lot-s", full_strength_passed=3, diluted_failed=3)
        if self.model in SETS:
            self.do("connector_set_opened", subject="set-9", kind=SETS[self.model])
        self.charge = self.pour()
        self.wait(600)

    def pour(self) -> Event:
        return self.do(
            "charge_poured", basin="basin-1", disinfectant=self.disinfectant, lot="lot-x", volume_l=12
        )

    def _used(self) -> None:
        extra = {"bladder_cancer_history": "no"} if self.described.urological else {}
        self.cycle = self.do("patient_use_ended", **({"case": "C-1"} | extra | self.use)).id

    def _treated(self) -> None:
        self.do("point_of_use_treated", product="bedside detergent", kept_moist=True)

    def _sent(self) -> None:
        self.do("sent", closed_labelled=True, sharps_removed=True)

    def _received(self) -> None:
        self.do("received", after_s=300, place="sink-1")

    def _leak_tested(self) -> None:
        self.timed("leak-test", 60, "leak_tested", method="wet", result="tight", pressure_kpa=20)

    def _dosed(self) -> None:
        sink = self.library.sinks[0]
        self.batch = self.do(
            "detergent_dosed",
            vessel=sink.id,
            detergent="reedwash",
            lot="lot-d",
            water_l=15,
            temperature_c=30,
            dose_ml=60,
        )

    def _cleaning_started(self) -> None:
        self.do("cleaning_started", batches=[self.batch.id])

    def _exterior_cleaned(self) -> None:
        both = {"elevator_both_positions": True} if needs.has_elevator(self.described) else {}
        self.do("exterior_cleaned", after_s=330, **both)

    def _brushed(self) -> None:
        for channel in self.described.channels:
            if channel.brush is not None:
                self.brush(channel.id)

    def brush(self, channel: str, **body: Any) -> Event:
        brush = self.described.channel(channel).brush
        return self.do(
            "channel_brushed", **({"channel": channel, "brush": brush.code, "passes": brush.passes} | body)
        )

    def _connected(self) -> None:
        self.do("connected", connector_set="set-9", ports=needs.ports(self.described))

    def _aspirated(self) -> None:
        for channel in needs.aspirated(self.described):
            self.timed(f"aspirate-{channel}", 60, "aspirated", channel=channel)

    def _flushed(self) -> None:
        self.timed("flush", 240, "flushed", channels=self.channels, seen_leaving=True)

    def _purged_flush(self) -> None:
        self.timed("purge-flush", 60, "purged", after="flush", channels=self.channels)

    def _rinsed(self) -> None:
        self.timed("rinse", 240, "rinsed", channels=self.channels, water=self.library.sinks[0].water)

    def _purged_rinse(self) -> None:
        self.timed("purge-rinse", 60, "purged", after="rinse", channels=self.channels)

    def _disconnected(self) -> None:
        self.do("disconnected", connector_set="set-9")

    def _inspected(self) -> None:
        tools = ["magnifier", "borescope"] if needs.borescope(self.described, self.policy) else ["magnifier"]
        self.do("inspected", tools=tools, result="clean and whole")

    def _verified(self) -> None:
        self.do(
            "cleaning_verified", kit="kit-atp-channel", lot="lot-k", site="biopsy", value=40, result="pass"
        )

    def _mec_tested(self) -> None:
        self.do(
            "mec_tested",
            subject=self.charge.id,
            cycle=self.cycle,
            strip_lot="lot-s",
            read_after_s=80,
            result="pass",
        )

    def _hld_started(self) -> None:
        self.do("hld_started", charge=self.charge.id, temperature_c=self.warm, channels_filled=True)

    def _hld_ended(self) -> None:
        self.do("hld_ended", after_s=3600, charge=self.charge.id, temperature_c=self.warm, result="complete")

    @property
    def warm(self) -> float:
        pairs = next(d for d in self.library.disinfectants if d.id == self.disinfectant).pairs
        return next(pair.temperature_low_c for pair in pairs if pair.route == "manual") + 1

    @property
    def channels(self) -> list[str]:
        return needs.channels(self.described)

    def _machine_started(self) -> None:
        self.do("machine_cycle_started", washer="washer-1", program="standard", connected_all=True)

    def _machine_ended(self) -> None:
        self.do(
            "machine_cycle_ended", after_s=2400, washer="washer-1", program="standard", result="complete",
            contact_s=720, temperature_c=52, dose_confirmed=True,
        )  # fmt: skip

    def _final_rinsed(self) -> None:
        water = next(one.id for one in self.library.waters if one.kind != "utility")
        self.timed("final-rinse", 200, "final_rinsed", count=3, water=water, channels=self.channels)

    def _dried(self) -> None:
        self.timed("dry", 1300, "dried", **self.drying())

    def drying(self) -> dict[str, Any]:
        dryer = next(one.id for one in self.library.dryers if one.filtered)
        inside = {"channels": self.channels, "check": "no drops on dark paper", "pressure_kpa": 50}
        outside = {"check": "no channel: outside wiped dry"}
        return {"dryer": dryer, "result": "dry"} | (inside if self.channels else outside)

    def _stored(self) -> None:
        self.do("stored", cabinet="cabinet-1", slot=3)

    def _released(self) -> None:
        self.do("released", **self.signing())

    def signing(self) -> dict[str, Any]:
        verdict = {"findings": [{"answer": "met", "sentence": "All is well."}]}
        until = (self.now + timedelta(hours=160)).isoformat()
        return {"verdict": verdict, "verdict_digest": "0" * 64, "ready_until": until}

    def _taken(self) -> None:
        self.do("taken_for_use", after_s=3600, case="C-2")
