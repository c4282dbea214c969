"""The invented unit at work: who is taken for which case, and what happens to it until it is released."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo

from lumenward.demo import finish
from lumenward.demo.cast import ENGINEER, FLEET, LEAD, Scope, of_model
from lumenward.demo.pen import Pen
from lumenward.demo.rota import Case, cases
from lumenward.demo.stock import Stock
from lumenward.demo.walk import Enough, Places, Walk
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy


@dataclass
class Unit:
    """The invented unit as it goes through its days."""

    pen: Pen
    library: Library
    policy: Policy
    zone: tzinfo
    now: datetime
    stock: Stock = field(init=False)
    places: Places = field(default_factory=Places)
    free_from: dict[str, datetime] = field(default_factory=dict)
    _count: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    def __post_init__(self) -> None:
        self.stock = Stock(self.pen, self.library, self.now)

    def walk(self, scope: Scope, at: datetime, until: datetime) -> Walk:
        """Return the walk of one endoscope, with the habits of this unit."""
        by_hand = self.pen.chance(0.25)
        return Walk(
            self.pen, self.stock, self.places, self.library, self.policy, scope, at, until,
            route="manual" if by_hand else "machine", rlu=self._residue(scope, at),
        )  # fmt: skip

    def _residue(self, scope: Scope, at: datetime) -> float:
        """Wren 07's elevator channel drifts: what is left in it grows over the weeks."""
        if scope.id != "wren-07":
            return 42.0
        weeks = max(0.0, (at - (self.now - timedelta(days=70))).days / 7)
        return 45.0 + 9.0 * weeks

    def ready(self, model: str, at: datetime) -> Scope | None:
        """Return the endoscope of a model that has waited longest and may still be used."""
        found = []
        for scope in of_model(model):
            state = self.pen.world.endoscope(scope.id)
            until = state.ready_until if state and state.stage == "ready" else None
            if until and until > at and self.free_from.get(scope.id, at) <= at:
                found.append((self.free_from.get(scope.id, until), scope))
        return min(found, key=lambda one: (one[0], one[1].id))[1] if found else None

    def use(self, case: Case, until: datetime) -> None:
        """Take one for a case, bring it back, process it; nothing when none is ready."""
        scope = self.ready(case.model, case.start)
        if scope is None:
            return
        walk = self.walk(scope, case.start, until)
        state = self.pen.world.endoscope(scope.id)
        walk.cycle, walk.station = state.cycle if state else "", case.room
        self.places.hanging.pop(scope.id, None)
        walk.do("taken_for_use", {"case": case.reference, "room": case.room}, who=walk.person.id)
        walk.at = case.end
        walk.opened(case.reference, case.room)
        walk.late_by = self._delay(case)
        self.process(walk)

    def _delay(self, case: Case) -> timedelta:
        """Now and then a list runs over and nobody fetches the endoscope within the hour."""
        late = self.pen.chance(0.012)
        return timedelta(minutes=self.pen.between(62, 110)) if late else timedelta(0)

    def process(self, walk: Walk) -> None:
        """From arrival to release, however often it must be cleaned again."""
        walk.received()
        leak = walk.scope.id == "crane-06" and self._count["leak"] == 0 and self._days_back(walk.at) <= 33
        if leak:
            self._leaks(walk)
            return
        walk.leak_tested()
        while not self._cleaned(walk):
            if walk.failed >= self.policy.cleaning_attempts:
                walk.do(
                    "held",
                    {"reason": "verification failed twice", "note": "The channel is looked into."},
                    3,
                    LEAD.id,
                )
                return
        finish.disinfected(walk)
        finish.dried(walk)
        finish.stored(walk)
        if finish.released(walk):
            self.free_from[walk.scope.id] = walk.at

    def _cleaned(self, walk: Walk) -> bool:
        walk.cleaned()
        return walk.looked_at()

    def _days_back(self, at: datetime) -> int:
        return (self.now - at).days

    def _leaks(self, walk: Walk) -> None:
        self._count["leak"] += 1
        walk.leak_tested(leak=True)
        walk.do("sent_for_repair", {"reason": "leak at the bending section"}, 55, ENGINEER.id)
        back = walk.at + timedelta(days=9)
        walk.at = back
        walk.do("returned_from_repair", {"note": "bending cover renewed"}, 0, ENGINEER.id)
        again = self.walk(walk.scope, back + timedelta(minutes=20), walk.until)
        again.reopened("back from repair")
        self.process(again)

    def day(self, day: date, until: datetime) -> None:
        """One day: what must be opened, what hung too long, the lists."""
        morning = datetime.combine(day, time(6, 20), self.zone)
        today = [case for case in cases(day, self.zone, self.pen.rng) if case.start < until]
        for case in (case for case in today if case.start < morning):
            self._attempt_case(case, until)
        self.stock.morning(morning)
        if self._days_back(morning) == 6:
            self.stock.recall_strips(morning + timedelta(minutes=12))
        for scope in self._hung_too_long(morning):
            self._attempt(self._again(scope, morning + timedelta(minutes=15), until))
        for case in (case for case in today if case.start >= morning):
            self._attempt_case(case, until)

    def _hung_too_long(self, at: datetime) -> Iterator[Scope]:
        """Processed again within a day, but for two that nobody has noticed yet."""
        for scope in FLEET:
            state = self.pen.world.endoscope(scope.id)
            over = state and state.stage == "ready" and state.ready_until and state.ready_until <= at
            if over and not (scope.id in ("robin-07", "knot-02") and self._days_back(at) < 12):
                yield scope

    def _again(self, scope: Scope, at: datetime, until: datetime) -> Walk:
        walk = self.walk(scope, at, until)
        self.places.hanging.pop(scope.id, None)
        walk.reopened("hang time over")
        return walk

    def _attempt(self, walk: Walk) -> None:
        try:
            self.process(walk)
        except Enough:
            self.free_from[walk.scope.id] = walk.until

    def _attempt_case(self, case: Case, until: datetime) -> None:
        try:
            self.use(case, until)
        except Enough:
            return

    def first_day(self, at: datetime) -> None:
        """Every endoscope is processed once before the first list: nothing was known of any."""
        for number, scope in enumerate(FLEET):
            walk = self.walk(scope, at + timedelta(minutes=11 * number), self.now)
            reason = "loan in" if scope.owner == "loan" else "new"
            walk.reopened(reason)
            self._attempt(walk)
