"""A plan: the steps of one cycle as data, complete enough to be worked through without a network.

The page at the sink draws steps; it knows nothing of the trade. `progress` below is the whole logic of going on
and going back, and `screens/sink/static/sink/progress.js` says the same in the browser (a test holds them together).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from lumenward.journey.event import Event
from lumenward.journey.target import Target


class PlanPart(BaseModel):
    """Base of all parts of a plan."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Grade(PlanPart):
    """A measured value under `below` earns `value`; the last grade of a list has no `below`."""

    value: str
    below: float | None = None


class Choice(PlanPart):
    """One thing that can be picked: large on the screen, or scanned by `code`. `why_not` says why it cannot be.

    Picking it also sets the body keys in `sets` (a lot sets its detergent), narrows other entries of the step to
    `bounds` (entry key -> low, high) and says by `grades` what a measured value means (see `Entry.graded`) and by
    `units` in which unit it is (entry key -> unit). With `only` it can be picked only while earlier entries have one of
    these values (a strip goes with charges of its own chemistry). `targets` hold once it is picked: they stand beside
    the step's own.
    """

    value: str | bool
    label: str
    code: str = ""
    note: str = ""
    why_not: str = ""
    sets: dict[str, Any] = Field(default_factory=dict)
    bounds: dict[str, tuple[float, float]] = Field(default_factory=dict)
    grades: list[Grade] = Field(default_factory=list)
    units: dict[str, str] = Field(default_factory=dict)
    only: dict[str, list[str]] = Field(default_factory=dict)
    targets: list[Target] = Field(default_factory=list)


class Entry(PlanPart):
    """One fact the person gives in a step; `key` is the key in the act's body.

    kinds: `number` (typed, in `unit`, decimal comma or point), `choice` (large buttons), `scan` (a code, or picked
    from `choices`, or typed when there are none), `tick` (must be ticked to go on), `words` (free text), `time` (a
    local time, newest first), `fill` (how high the water stands: a mark of the step's `dosings`, or a typed depth;
    it gives `water_l` and, with the dose, the concentration and its interval).
    A required `tick` blocks the step until ticked. `low`/`high` are hard bounds, `low_why`/`high_why` say why.
    `low_by` names a body key, carried or given, whose value picks the lower bound from `lows` (see `low_of`): the
    time a machine must report depends on the machine that was started.
    `confirm_above` asks for a second look. `record` false: asked, but kept out of the body.
    `happened_at` is a reserved key: its value is the act's own instant. `subject` likewise: it is what the act is
    about. `graded` names a number entry and a scan or choice entry: the grade of the number by that choice's
    `grades` is filled in. `elapsed` true: filled with the seconds the step's timer has run.
    """

    key: str
    label: str
    kind: Literal["number", "choice", "scan", "tick", "words", "time", "fill"]
    required: bool = True
    record: bool = True
    graded: tuple[str, str] | None = None
    elapsed: bool = False
    unit: str = ""
    choices: list[Choice] = Field(default_factory=list)
    scans: str = (
        ""  # the kind of code: endoscope, person, lot, connector-set, charge, brush, cabinet, washer …
    )
    low: float | None = None
    low_why: str = ""
    low_by: str = ""
    lows: dict[str, float] = Field(default_factory=dict)
    high: float | None = None
    high_why: str = ""
    confirm_above: float | None = None
    value: Any = None
    hint: str = ""
    remember: bool = False  # offer the last value given at this station again


class TimerRow(PlanPart):
    """The floor where the body of the starting act has `key` = `value` and `between` within `low` and `high`."""

    key: str
    value: str
    between: str
    low: float
    high: float
    floor_s: float


class Timer(PlanPart):
    """A timed stretch: starts with a `step_started` event; the step cannot be confirmed before `floor_s`.

    With `since` it starts with the latest earlier act of that kind instead (a contact time since `hld_started`).
    Without it the id of the `step_started` goes into the act's body as `started`, unless `recorded` is false.
    `rows`, where there are any, give the floor by the body of that earlier act (see `floor_of`); where no row
    fits, no stated time is valid and `no_row` says so.
    """

    floor_s: float
    recorded: bool = True
    rows: list[TimerRow] = Field(default_factory=list)
    no_row: str = ""
    ceiling_s: float | None = None
    start: str  # the label of the button that starts it: what becomes true
    running: str  # what is going on while it runs
    ends: str  # what to do at its end
    since: str = ""


class Trouble(PlanPart):
    """What to do when it is not as it should be: the act it records and where the work goes on.

    `attempts` above 0: at that many troubles of such a kind in one cycle the work stops, and `say_stop` is said.
    When it stops and `holds` is not empty, a `held` act with that reason (and the cycle) is recorded right after.
    When the body being filled in for the step itself already agrees with `body`, the page offers the trouble in
    place of the step's own confirmation. `carry` as in a step. `match` are the body keys that tell its act from others
    of the same kind; none: all of `body`.
    """

    key: str
    label: str
    say: list[str]
    kind: str
    body: dict[str, Any] = Field(default_factory=dict)
    entries: list[Entry] = Field(default_factory=list)
    back_to: str = ""  # key of the step from which everything is done again
    stops: bool = False  # the endoscope is held; no further step
    new_cycle: bool = False  # its act opens the endoscope's next cycle; this one is over
    attempts: int = 0
    holds: str = ""
    say_stop: list[str] = Field(default_factory=list)
    carry: dict[str, str] = Field(default_factory=dict)
    match: list[str] = Field(default_factory=list)
    confirm: str


class Dosing(PlanPart):
    """The dose table of one vessel: rows of `[fill_m, water_l, dose_ml, low_ppm, high_ppm]`, fill rising."""

    vessel: str
    vessel_name: str
    detergent: str
    dilution_words: str
    rows: list[list[float]]
    marks: list[Choice]
    temperature_low_c: float
    temperature_high_c: float
    low_ppm: float  # the label's own range of the finished solution, v/v
    high_ppm: float
    basis: str
    source: str


class OnlyAfter(PlanPart):
    """A step that is in the plan only when more than `limit_s` passed from one act to another (or to now).

    It is also in the plan when the first act's body agrees with `or_if` (the end of use is not known).
    """

    since: str  # kind of the act that starts the clock
    until: str  # kind of the act that stops it
    limit_s: float
    or_if: dict[str, Any] = Field(default_factory=dict)


class PlannedStep(PlanPart):
    """One thing to do. `kind` + `body` is the act that completes it, together with the entries' values.

    `group` is its place on the path at the left (Leak test, Detergent, Brush …). `match` are the body keys that tell
    this step's act from others of the same kind. `optional` steps may be passed over with `skip_words`.
    `carry` takes values over from acts that completed earlier steps: body key -> "kind.key" of the latest such act,
    "kind.id" for its id, "kind.subject" for what it is about, with "[]" at the end a list over all of them
    ("detergent_dosed.id[]"). A key that is carried and also an entry is filled in from the act when there is one,
    and asked when there is none.
    `route` is "fork:way": once an act completed or started a step of one way, the steps of the fork's other ways
    are left out. Until then `instead` names the other way's first step and `instead_label` the button to it.
    `only_after` leaves a step out until a time is over. `blocked` says why the step cannot be confirmed at all.
    `about` is the kind of subject: for anything but the endoscope the entry `subject` gives it.
    """

    key: str
    group: str
    title: str
    say: list[str] = Field(default_factory=list)
    cautions: list[str] = Field(default_factory=list)
    targets: list[Target] = Field(default_factory=list)
    entries: list[Entry] = Field(default_factory=list)
    timer: Timer | None = None
    kind: str
    body: dict[str, Any] = Field(default_factory=dict)
    match: list[str] = Field(default_factory=list)
    carry: dict[str, str] = Field(default_factory=dict)
    confirm: str
    troubles: list[Trouble] = Field(default_factory=list)
    dosings: list[Dosing] = Field(default_factory=list)  # one for each vessel and detergent that may be used
    route: str = ""
    instead: str = ""
    instead_label: str = ""
    only_after: OnlyAfter | None = None
    blocked: str = ""
    about: str = "endoscope"
    drawing: dict[str, Any] | None = (
        None  # what the right-hand side shows: {"show": "channels", "focus": [...], ...}
    )
    optional: bool = False
    skip_words: str = ""
    online: bool = False  # needs the server (the verdict and the signature)


class Plan(PlanPart):
    """The whole of one cycle at one station."""

    endoscope: str
    endoscope_name: str
    model: str
    model_name: str
    family: str
    station: str
    cycle: str  # empty until the cycle is opened
    policy: str
    ifu: str
    made_at: str
    steps: list[PlannedStep]
    acts: list[dict[str, Any]] = Field(default_factory=list)  # the cycle's events so far, oldest first
    clocks: list[dict[str, Any]] = Field(default_factory=list)
    codes: dict[str, dict[str, Any]] = Field(default_factory=dict)
    channels: dict[str, Any] = Field(default_factory=dict)  # the drawing: ports, tubes, channels
    held: str = ""  # the sentence why no step may be done
    standing: str = ""  # between two cycles: how it stands and what can be done
    again: bool = False  # its cycle is over, and the next one may be begun
    lifted: str = ""  # the act that stopped this cycle, where its hold was lifted since (see `progress`)


class Progress(PlanPart):
    """Where a cycle stands in its plan. `left_out`: steps of a way not taken, passed over, or not called for."""

    done: dict[str, str]  # step key -> id of the act that completed it
    started: dict[str, str]  # step key -> id of the act with which its running timer began
    next: str  # key of the step to do next; empty when all is done
    stopped: str = ""  # id of the act that stopped the cycle
    left_out: list[str] = Field(default_factory=list)


def progress(
    steps: list[PlannedStep], acts: Iterable[Event], now: datetime | None = None, lifted: str = ""
) -> Progress:
    """Return where the work stands, from the plan and the acts in their order.

    An act completes the first step not yet done whose kind and matching body keys are its own. An act that is a
    step's trouble takes everything from `back_to` on back to undone. A `step_started` starts its step's clock, and
    so does the act a timer runs `since`. An act corrected or withdrawn by a later `corrected` act counts as
    corrected, or not at all. `now` decides about steps that are called for only when a time is over; `lifted` is
    the id of a stopping act whose hold was lifted since. Every `held` act stops the work.
    """
    done: dict[str, str] = {}
    started: dict[str, str] = {}
    stopped, failures = "", 0
    counted = _as_corrected(acts)
    for act in counted:
        trouble = _trouble(steps, act)
        if act.kind == "held":
            stopped = act.id
        elif trouble is not None:
            failures += 1 if trouble.attempts else 0
            over = trouble.stops or 0 < trouble.attempts <= failures
            stopped = act.id if over else stopped
            _take_back(done, started, [step.key for step in steps], trouble.back_to)
        elif act.kind == "step_started":
            started[str(act.body.get("step"))] = act.id
        elif act.kind == "work_interrupted":
            started.pop(str(act.body.get("step")), None)
        elif act.kind == "hold_lifted":
            stopped = ""
        else:
            _complete(steps, done, started, act)
        if act.id == lifted:
            stopped = ""
    left_out = _left_out(steps, done, started, counted, now)
    upcoming = (
        "" if stopped else next((s.key for s in steps if s.key not in done and s.key not in left_out), "")
    )
    return Progress(done=done, started=started, next=upcoming, stopped=stopped, left_out=left_out)


def floor_of(timer: Timer, since: Mapping[str, Any]) -> float | None:
    """Return the floor in s of a timer, given the body of the act it runs since; None where no time is valid.

    Several rows may fit: the one with the highest lower bound is meant, of equals the longer time.
    """
    if not timer.rows:
        return timer.floor_s
    fitting = [
        row
        for row in timer.rows
        if since.get(row.key) == row.value and row.low <= float(since.get(row.between, -1000)) <= row.high
    ]
    return max(fitting, key=lambda row: (row.low, row.floor_s)).floor_s if fitting else None


def low_of(entry: Entry, body: Mapping[str, Any]) -> float | None:
    """Return the lower bound of a number, given the body so far; None where there is none."""
    return entry.lows.get(str(body.get(entry.low_by, "")), entry.low)


def _as_corrected(acts: Iterable[Event]) -> list[Event]:
    known: dict[str, Event] = {}
    for act in acts:
        named = str(act.body.get("event", ""))
        if act.kind == "corrected" and named in known:
            body = act.body.get("new_body")
            if body is None:
                del known[named]
            else:
                known[named] = known[named].model_copy(update={"body": body})
        known[act.id] = act
    return list(known.values())


def _trouble(steps: list[PlannedStep], act: Event) -> Trouble | None:
    for step in steps:
        for trouble in step.troubles:
            if trouble.new_cycle or not trouble.body or trouble.kind != act.kind:
                continue
            if _agrees(trouble.match or trouble.body, trouble.body, act.body):
                return trouble
    return None


def _agrees(keys: Iterable[str], planned: Mapping[str, Any], found: Mapping[str, Any]) -> bool:
    return all(found.get(key) == planned.get(key) for key in keys)


def _complete(steps: list[PlannedStep], done: dict[str, str], started: dict[str, str], act: Event) -> None:
    for step in steps:
        if step.key not in done and step.kind == act.kind and _agrees(step.match, step.body, act.body):
            done[step.key] = act.id
            started.pop(step.key, None)
            break
    for step in steps:
        if step.timer is not None and step.timer.since == act.kind and step.key not in done:
            started[step.key] = act.id


def _take_back(done: dict[str, str], started: dict[str, str], order: list[str], back_to: str) -> None:
    if back_to not in order:
        return
    for key in order[order.index(back_to) :]:
        done.pop(key, None)
        started.pop(key, None)


def _left_out(
    steps: list[PlannedStep],
    done: Mapping[str, str],
    started: Mapping[str, str],
    acts: list[Event],
    now: datetime | None,
) -> list[str]:
    taken = dict(
        step.route.split(":", 1) for step in steps if step.route and (step.key in done or step.key in started)
    )
    last_done = max((place for place, step in enumerate(steps) if step.key in done), default=-1)
    return [
        step.key
        for place, step in enumerate(steps)
        if step.key not in done
        and (
            _other_way(step, taken)
            or (step.optional and place < last_done)
            or (step.only_after is not None and not _called_for(step.only_after, acts, now))
        )
    ]


def _other_way(step: PlannedStep, taken: Mapping[str, str]) -> bool:
    fork, _, way = step.route.partition(":")
    return taken.get(fork, way) != way


def _called_for(condition: OnlyAfter, acts: list[Event], now: datetime | None) -> bool:
    begun = next((act for act in acts if act.kind == condition.since), None)
    if begun is None:
        return False
    if condition.or_if and _agrees(condition.or_if, condition.or_if, begun.body):
        return True
    over = next((act.happened_at for act in acts if act.kind == condition.until), now)
    return over is not None and (over - begun.happened_at).total_seconds() > condition.limit_s
