"""Random work, legal and illegal, by several people on several models: nothing impossible ever comes of it."""

from __future__ import annotations

from typing import Any

from every_act import MAKES, TIMED
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from one_cycle import MODELS, Unit

from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.journey.folding import FOLDED, effective
from lumenward.journey.legality import refuse
from lumenward.journey.memory import MemoryWorld
from lumenward.quantities import Refusal
from lumenward.rulebook import assess

SPOILING = frozenset(  # these end the work or change the house under it; they have tests of their own
    {"retired", "sent_for_repair", "person_left", "lot_withdrawn", "connector_set_discarded", "corrected",
     "library_adopted", "policy_adopted", "charge_discarded", "patient_use_ended"}
)  # fmt: skip
KINDS = sorted(set(MAKES) - SPOILING)
TROUBLES: list[tuple[str, dict[str, Any]]] = [
    ("inspected", {"tools": ["magnifier"], "result": "debris seen"}),
    ("cleaning_verified", {"kit": "kit-atp-channel", "site": "tip", "value": 900, "result": "fail"}),
    ("hld_ended", {"temperature_c": 21, "result": "cut short"}),
    ("leak_tested", {"method": "wet", "result": "leak"}),
    ("channel_brushed", {"channel": "suction", "brush": "BR-50", "passes": 3, "debris": "still coming"}),
    ("held", {"reason": "other", "person": "lea"}),
]


class Work(RuleBasedStateMachine):
    """A unit at work. `record` is the only way in: what legality refuses is not recorded."""

    def __init__(self) -> None:
        super().__init__()
        self.unit = Unit()

    @initialize(model=st.sampled_from(MODELS), route=st.sampled_from(("manual", "machine")))
    def furnish(self, model: str, route: str) -> None:
        self.unit = Unit(model)
        if route == "machine" and "machine" in self.unit.described.ifu.routes:
            self.unit.route = route
        self.unit._used()

    def record(self, kind: str, how: dict[str, Any]) -> Event | None:
        try:
            act = self.unit.make(kind, **how)
        except Refusal as refusal:
            assert refusal.code == "bad-body"
            return None
        refused = refuse(self.unit.world, act, self.unit.now)
        if refused is not None:
            assert refused.message and refused.hint, (kind, refused.code)
            return None
        self.unit.world.append(act)
        return act

    @rule(
        kind=st.sampled_from(KINDS), person=st.sampled_from(("ana", "tom", "ghost")), wait=st.integers(0, 200)
    )
    def anybody_does_anything(self, kind: str, person: str, wait: int) -> None:
        self.unit.wait(wait)
        how = {"person": person, **MAKES[kind](self.unit)}
        if kind in TIMED:
            started = self.record("step_started", {"step": TIMED[kind][0], "person": person})
            how |= {"started": started.id} if started else {}
        self.record(kind, how)

    @rule(trouble=st.sampled_from(TROUBLES), steps=st.integers(0, 15))
    def something_is_wrong(self, trouble: tuple[str, dict[str, Any]], steps: int) -> None:
        self.the_work_goes_on(steps)
        kind, body = trouble
        extra = {"charge": self.unit.charge.id} if kind == "hld_ended" else {}
        cycle = {"cycle": self.unit.world.endoscope("e1").cycle} if kind == "held" else {}
        self.record(kind, {**body, **extra, **cycle})

    @rule()
    def a_lead_looks_into_it(self) -> None:
        self.record("hold_lifted", {"cycle": self.unit.cycle, "person": "lea", "reason": "looked into"})

    @rule(steps=st.integers(1, 12))
    def the_work_goes_on(self, steps: int) -> None:
        for _ in range(steps):
            self.take_over()
            self.next_step()

    def take_over(self) -> None:
        workers = [a.person for a in self.unit.world.acts(self.unit.cycle) if a.person in ("ana", "tom")]
        for before in dict.fromkeys(reversed(workers)):
            self.record("handed_over", {"from_person": before, "person": "ana"})

    def next_step(self) -> None:
        """Do the first step that may be done and was not done in this round, or take the delayed protocol."""
        if self.brush_on():
            return
        for name in self.unit.step_names()[1:-2]:
            if name == "brushed" or self.has_done(name):
                continue
            before = self.unit.now
            try:
                getattr(self.unit, f"_{name}")()
            except (AssertionError, AttributeError):
                self.unit.now = before
            else:
                return
        self.record("delay_branch_taken", {"instruction": "Soak.", "agreed_by": "lea"})

    def has_done(self, name: str) -> bool:
        """Whether a step that could be repeated for ever needs no repeating."""
        kinds = {"dosed": "detergent_dosed", "verified": "cleaning_verified"}
        done = {act.kind for act in Course(self.unit.world.acts(self.unit.cycle)).round}
        if name == "disconnected":
            return self.unit.tries("inspected", tools=["magnifier"], result="debris seen") is not None
        if name == "mec_tested" and "inspected" not in done:
            return True
        return name in ("dosed", "verified", "mec_tested", "connected") and kinds.get(name, name) in done

    def brush_on(self) -> bool:
        channels = [c for c in self.unit.described.channels if c.brush is not None]
        bodies = [{"channel": c.id, "brush": c.brush.code, "passes": c.brush.passes} for c in channels]
        return any(self.record("channel_brushed", body) for body in bodies)

    @invariant()
    def whatever_is_stored_by_legal_acts_is_ready_by_every_rule(self) -> None:
        endoscope = self.unit.world.endoscope("e1")
        if endoscope.stage != "stored":
            return
        verdict = assess(self.unit.world, "e1", endoscope.cycle, self.unit.now)
        missing = {f.rule: f.sentence for f in verdict.against}
        missing.pop(
            "verification.attempts", None
        )  # too many failures in one cycle are a lead's matter, not illegal
        assert missing == {}, missing

    @invariant()
    def a_cycle_is_disinfected_only_when_it_was_found_tight_cleaned_and_inspected(self) -> None:
        acts = effective(self.unit.world.acts(self.unit.cycle))
        kinds = [act.kind for act in acts]
        for done, needed in (("hld_started", "inspected"), ("inspected", "cleaning_started"),
                             ("cleaning_started", "leak_tested"), ("stored", "dried")):  # fmt: skip
            if done in kinds:
                assert needed in kinds[: kinds.index(done)]

    @invariant()
    def one_endoscope_lies_in_one_charge_at_most_and_one_set_is_on_one_cycle(self) -> None:
        open_stays = [
            stay for charge in self.unit.world.charges() for stay in charge.stays if stay.end is None
        ]
        assert len(open_stays) <= 1

    def teardown(self) -> None:
        """Rebuilt from its events, the world is the same."""
        again = MemoryWorld(reversed(self.unit.world.events()))
        for about in FOLDED:
            for event in self.unit.world.events():
                name = about.replace("-", "_")
                for ref in (event.id, event.subject):
                    assert getattr(again, name)(ref) == getattr(self.unit.world, name)(ref)


TestWork = Work.TestCase
TestWork.settings = settings(
    max_examples=20, stateful_step_count=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck),
    phases=(Phase.generate,),
)  # fmt: skip
