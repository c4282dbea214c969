"""One endoscope's way through the invented unit, act by act, with the durations of people at work."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from lumenward.demo.cast import LEAD, TECHNICIANS, Invented, Scope
from lumenward.demo.pen import Pen
from lumenward.demo.stock import Stock
from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey import needs
from lumenward.journey.event import Event
from lumenward.journey.numbers import deciding, floor_for_channels, targets_for

WASHERS = {"washer-1": "standard", "washer-2": "standard"}


class Enough(Exception):
    """Raised where a walk reaches the present."""


@dataclass
class Places:
    """Until when each sink, machine and basin is taken, and how many hang in each cabinet."""

    busy: dict[str, datetime] = field(default_factory=dict)
    hanging: dict[str, str] = field(default_factory=dict)

    def first_free(self, names: list[str], at: datetime) -> tuple[str, datetime]:
        """Return the place that is free first, and when."""
        name = min(names, key=lambda one: (max(self.busy.get(one, at), at), one))
        return name, max(self.busy.get(name, at), at)


@dataclass
class Walk:
    """The work on one endoscope. `until` is the present: nothing is written after it."""

    pen: Pen
    stock: Stock
    places: Places
    library: Library
    policy: Policy
    scope: Scope
    at: datetime
    until: datetime
    route: str = "machine"
    rlu: float = 40.0
    late_by: timedelta = timedelta(0)
    cycle: str = ""
    station: str = "sink-1"
    person: Invented = TECHNICIANS[0]
    failed: int = 0

    @property
    def model(self) -> EndoscopeModel:
        """The description of this endoscope."""
        return self.library.model(self.scope.model)

    @property
    def channels(self) -> list[str]:
        """All channels of this model."""
        return [channel.id for channel in self.model.channels]

    def do(self, kind: str, body: dict[str, Any], minutes: float = 0.0, who: str = "") -> str:
        """Let minutes pass, write one act, return its id."""
        self.at += timedelta(minutes=minutes)
        if self.at > self.until:
            raise Enough
        event = self.pen.write(
            kind,
            self.at,
            self.scope.id,
            body,
            person=who or self.person.id,
            station=self.station,
            cycle=self.cycle,
        )
        return event.id

    def timed(
        self, step: str, kind: str, body: dict[str, Any], floor: float, extra: tuple[float, float]
    ) -> None:
        """Start a step's clock, wait its floor and a little, end it."""
        started = self.do("step_started", {"step": step}, self.pen.between(0.2, 0.7))
        seconds = floor + self.pen.between(*extra)
        self.do(kind, body | {"started": started}, seconds / 60)

    def floor(self, step: str, channels: list[str] | None = None) -> float:
        """Return the shortest allowed time of a step in s."""
        found = floor_for_channels(
            self.model, self.policy, step, self.channels if channels is None else channels
        )
        return found.value if found else 0.0

    def opened(self, case: str, room: str) -> None:
        """The patient's use ends; bedside, journey, arrival."""
        self.station = room
        body: dict[str, Any] = {"case": case, "room": room}
        if self.model.urological:
            body["bladder_cancer_history"] = "no"
        self.cycle = ""
        self.cycle = self.do("patient_use_ended", body)
        self.do(
            "point_of_use_treated",
            {"product": "moist enzymatic wipe", "kept_moist": True},
            self.pen.between(2, 6),
        )
        sent = {
            "container": f"BOX-{self.pen.rng.randint(1, 18):02d}",
            "closed_labelled": True,
            "sharps_removed": True,
        }
        self.do("sent", sent, self.pen.between(1, 3))

    def reopened(self, reason: str) -> None:
        """A cycle without a patient."""
        self.cycle = ""
        self.cycle = self.do("reprocessing_required", {"reason": reason})

    def received(self) -> None:
        """Arrive at the first free sink, where the technician of that sink works."""
        self.at += timedelta(minutes=self.pen.between(3, 9)) + self.late_by
        self.station, free = self.places.first_free(["sink-1", "sink-2", "sink-3", "sink-4"], self.at)
        self.at = max(self.at, free)
        able = [t for t in TECHNICIANS if t.competent == ("*",) or self.scope.model in t.competent]
        self.person = able[(int(self.station[-1]) + self.at.timetuple().tm_yday) % len(able)]
        self.places.busy[self.station] = self.at + timedelta(minutes=38)
        self.do("received", {"place": self.station})

    def _delayed(self) -> None:
        """Past the limit nobody begins without the delayed protocol, agreed by the lead."""
        opening = self.pen.world.event(self.cycle)
        if opening is None or opening.kind != "patient_use_ended" or self.failed:
            return
        limit = deciding(targets_for(self.model, self.policy, "delay"), "duration", "ceiling")
        ends = opening.happened_at + timedelta(seconds=limit.value if limit else 3600)
        if self.at + timedelta(minutes=2) > ends:
            self.at = max(self.at, ends)
            instruction = f"{self.model.ifu.cited}: soaked first, then cleaned again"
            self.do("delay_branch_taken", {"instruction": instruction, "agreed_by": LEAD.id}, 1.5)

    def leak_tested(self, leak: bool = False) -> None:
        """Pressure inside the IFU's window, held for its time."""
        stated = targets_for(self.model, self.policy, "leak-test")
        low, high = (deciding(stated, "pressure", bound) for bound in ("floor", "ceiling"))
        middle = (low.value + high.value) / 2 if low and high else 20.0
        method = "dry" if "dry" in self.model.ifu.leak_methods else "wet"
        pressure = round(middle + self.pen.rng.uniform(-0.8, 0.8), 1)
        body: dict[str, Any] = {
            "method": method,
            "result": "tight",
            "pressure_kpa": pressure,
            "end_pressure_kpa": pressure,
        }
        if leak:
            body |= {
                "result": "leak",
                "end_pressure_kpa": round(pressure - 4.2, 1),
                "where": "bubbles at the bending section",
            }
        self.timed("leak-test", "leak_tested", body, self.floor(f"leak-test-{method}", []), (4, 40))

    def cleaned(self) -> None:
        """Detergent, immersion, brushing, flush, purge, rinse, purge."""
        batches = [self._dosed(self.station, "sink"), self._dosed("container-1", "container")]
        self._delayed()
        self.do("cleaning_started", {"batches": batches}, self.pen.between(0.5, 1.5))
        begun = self.at
        for channel in self.model.channels:
            if channel.brush:
                self._brushed(channel.id, channel.brush.code.lower(), channel.brush.passes)
        self._exterior(begun)
        self._taken_over()
        if self.channels:
            self._pumped(begun)
        else:
            rinse = {"channels": [], "water": "utility"}
            self.timed("rinse", "rinsed", rinse, self.floor("rinse"), (1, 12))

    def _dosed(self, vessel: str, role: str) -> str:
        """4 mL/L of the enzymatic detergent: 60 mL to 15 L, or its share."""
        water = {"sink-1": 20.0, "sink-2": 15.0, "sink-3": 16.2, "sink-4": 14.6}.get(vessel, 5.0)
        water = round(water + self.pen.rng.uniform(-0.3, 0.3), 1)
        dose = round(4 * water + self.pen.rng.uniform(-0.5, 0.5), 1)
        ppm = round(1e6 * dose / (1000 * water + dose))
        body = {
            "vessel": vessel, "role": role, "detergent": "reedwash", "lot": self.stock.lots["reedwash"],
            "water_l": water, "temperature_c": round(min(39.5, self.pen.rng.gauss(35.5, 1.4)), 1),
            "dose_ml": dose, "concentration_ppm": ppm,
            "low_ppm": round(ppm * 0.965), "high_ppm": round(ppm * 1.035),
        }  # fmt: skip
        return self.do("detergent_dosed", body, self.pen.between(0.8, 2.0))

    def _brushed(self, channel: str, brush: str, passes: int) -> None:
        body = {
            "channel": channel,
            "brush": brush,
            "brush_lot": self.stock.lots[brush],
            "passes": passes + self.pen.rng.randint(0, 2),
        }
        self.timed(f"brush-{channel}", "channel_brushed", body, self.floor("brush", [channel]), (50, 130))
        if self.pen.chance(0.004):
            self._typed_wrong(self.pen.world.acts(self.cycle)[-1], body)

    def _typed_wrong(self, act: Event, body: dict[str, Any]) -> None:
        """A slip, noticed at once and corrected: the old figure stays readable."""
        right = {**act.body, "passes": body["passes"] + 1}
        self.at += timedelta(minutes=0.8)
        told = {"event": act.id, "reason": "one pass was not counted", "new_body": right}
        self.pen.write("corrected", self.at, act.id, told, person=self.person.id, station=self.station)

    def _taken_over(self) -> None:
        """Now and then a shift ends in the middle."""
        others = [t for t in TECHNICIANS if t is not self.person and t.competent == ("*",)]
        if self.pen.chance(0.012):
            before, self.person = self.person, self.pen.rng.choice(others)
            self.do("handed_over", {"from_person": before.id}, 2)

    def _exterior(self, begun: datetime) -> None:
        body: dict[str, Any] = {"elevator_both_positions": True} if needs.has_elevator(self.model) else {}
        self.do("step_started", {"step": "exterior"}, 0.3)
        least = self.floor("clean", []) + 20
        left = (begun + timedelta(seconds=least) - self.at).total_seconds() / 60
        self.do("exterior_cleaned", body, max(left, self.pen.between(1.5, 4)))

    def _pumped(self, begun: datetime) -> None:
        until = self.at + timedelta(minutes=14)
        chosen = self.stock.take_set(self.scope.model, self.at, until)
        ports = needs.ports(self.model)
        pump = next(sink.pump for sink in self.library.sinks if sink.id == self.station)
        self.do("connected", {"connector_set": chosen, "ports": ports}, self.pen.between(0.8, 1.8))
        for channel in needs.aspirated(self.model):
            self.timed(
                f"aspirate-{channel}",
                "aspirated",
                {"channel": channel},
                self.floor("aspirate", [channel]),
                (1, 8),
            )
        for kind, step, extra in (
            ("flushed", "flush", {"seen_leaving": True, "pump": pump}), ("purged", "purge-flush", {"after": "flush"}),
            ("rinsed", "rinse", {"water": "utility"}), ("purged", "purge-rinse", {"after": "rinse"}),
        ):  # fmt: skip
            floor = max(self.floor(step.split("-")[0]), self._at_least(step, begun))
            if step == "flush" and self.pen.chance(0.008):
                self._interrupted(step)
            self.timed(step, kind, {"channels": self.channels, **extra}, floor, (1, 12))
        self.do("disconnected", {"connector_set": chosen}, self.pen.between(0.3, 0.8))

    def _interrupted(self, step: str) -> None:
        """Called away: the step is done again from its beginning."""
        self.do("step_started", {"step": step}, 0.3)
        self.do("work_interrupted", {"step": step, "reason": "called to the procedure room"}, 0.6)
        self.at += timedelta(minutes=self.pen.between(2, 5))

    def _at_least(self, step: str, begun: datetime) -> float:
        """The flush is drawn out where the cleaning as a whole has not lasted long enough yet."""
        if step != "purge-flush":
            return 0.0
        return (begun + timedelta(seconds=self.floor("clean", []) + 10) - self.at).total_seconds()

    def looked_at(self) -> bool:
        """Inspection and, where asked for, the verification; return whether it goes on."""
        tools = ["magnifier", "borescope"] if needs.borescope(self.model, self.policy) else ["magnifier"]
        self.do(
            "inspected", {"tools": tools, "result": "clean and whole"}, self.pen.between(1, 3 * len(tools))
        )
        if not needs.verified(self.model, self.policy):
            return True
        value = round(self.rlu * self.pen.rng.lognormvariate(0, 0.45))
        result = "fail" if value >= 200 else "alert" if value >= 150 else "pass"
        site = "elevator recess" if needs.has_elevator(self.model) else self.model.channels[0].name
        body = {
            "kit": "kit-atp-channel",
            "lot": self.stock.lots["kit-atp-channel"],
            "site": site,
            "value": value,
            "result": result,
        }
        self.do("cleaning_verified", body, self.pen.between(1.5, 4))
        self.failed += result == "fail"
        return result != "fail"
