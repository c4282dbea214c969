"""A plan: the steps of one cycle as data, complete enough to be worked through without a network.

The page at the sink draws steps; it knows nothing of the trade. `progress` below is the whole logic of going on
and going back, and `screens/sink/static/sink/progress.js` says the same in the browser (a test holds them together).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from lumenward.journey.event import Event
from lumenward.journey.target import Target


class PlanPart(BaseModel):
    """Base of all parts of a plan."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Choice(PlanPart):
    """One thing that can be picked: large on the screen, or scanned by `code`. `why_not` says why it cannot be."""

    value: str
    label: str
    code: str = ""
    note: str = ""
    why_not: str = ""


class Entry(PlanPart):
    """One fact the person gives in a step; `key` is the key in the act's body.

    kinds: `number` (typed, in `unit`, decimal comma or point), `choice` (large buttons), `scan` (a code, or picked
    from `choices`, or typed), `tick` (must be ticked to go on), `words` (free text), `time` (a local time, newest
    first). A required `tick` blocks the step until ticked. `low`/`high` are hard bounds, `low_why`/`high_why` say why.
    `confirm_above` asks for a second look.
    """

    key: str
    label: str
    kind: Literal["number", "choice", "scan", "tick", "words", "time"]
    required: bool = True
    unit: str = ""
    choices: list[Choice] = Field(default_factory=list)
    scans: str = (
        ""  # the kind of code: endoscope, person, lot, connector-set, charge, brush, cabinet, washer …
    )
    low: float | None = None
    low_why: str = ""
    high: float | None = None
    high_why: str = ""
    confirm_above: float | None = None
    value: Any = None
    hint: str = ""
    remember: bool = False  # offer the last value given at this station again


class Timer(PlanPart):
    """A timed stretch: starts with a `step_started` event; the step cannot be confirmed before `floor_s`.

    With `since` it starts with the latest earlier act of that kind instead (a contact time since `hld_started`).
    Without it the id of the `step_started` goes into the act's body as `started`.
    """

    floor_s: float
    ceiling_s: float | None = None
    start: str  # the label of the button that starts it: what becomes true
    running: str  # what is going on while it runs
    ends: str  # what to do at its end
    since: str = ""


class Trouble(PlanPart):
    """What to do when it is not as it should be: the act it records and where the work goes on."""

    key: str
    label: str
    say: list[str]
    kind: str
    body: dict[str, Any] = Field(default_factory=dict)
    entries: list[Entry] = Field(default_factory=list)
    back_to: str = ""  # key of the step from which everything is done again
    stops: bool = False  # the endoscope is held; no further step
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
    basis: str
    source: str


class PlannedStep(PlanPart):
    """One thing to do. `kind` + `body` is the act that completes it, together with the entries' values.

    `group` is its place on the path at the left (Leak test, Detergent, Brush …). `match` are the body keys that tell
    this step's act from others of the same kind. `optional` steps may be passed over with `skip_words`.
    `carry` takes values over from acts that completed earlier steps: body key -> "kind.key" of the latest such act,
    "kind.id" for its id, with "[]" at the end a list over all of them ("detergent_dosed.id[]").
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
    dosing: Dosing | None = None
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


class Progress(PlanPart):
    """Where a cycle stands in its plan."""

    done: dict[str, str]  # step key -> id of the act that completed it
    started: dict[str, str]  # step key -> id of the running step_started act
    next: str  # key of the step to do next; empty when all is done
    stopped: str = ""  # id of the act that stopped the cycle


def progress(steps: list[PlannedStep], acts: Iterable[Event]) -> Progress:
    """Return where the work stands, from the plan and the acts in their order.

    An act completes the first step not yet done whose kind and matching body keys are its own. An act that is a
    step's trouble takes everything from `back_to` on back to undone. A `step_started` starts its step's clock. An
    act corrected or withdrawn by a later `corrected` act counts as corrected, or not at all.
    """
    done: dict[str, str] = {}
    started: dict[str, str] = {}
    stopped = ""
    order = [step.key for step in steps]
    for act in _as_corrected(acts):
        trouble = _trouble(steps, act)
        if trouble is not None:
            stopped = act.id if trouble.stops else stopped
            _take_back(done, started, order, trouble.back_to)
        elif act.kind == "step_started":
            started[str(act.body.get("step"))] = act.id
        elif act.kind == "hold_lifted":
            stopped = ""
        else:
            _complete(steps, done, started, act)
    upcoming = "" if stopped else next((s.key for s in steps if s.key not in done), "")
    return Progress(done=done, started=started, next=upcoming, stopped=stopped)


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
            if trouble.kind == act.kind and trouble.body and _agrees(trouble.body, trouble.body, act.body):
                return trouble
    return None


def _agrees(keys: Iterable[str], planned: Mapping[str, Any], found: Mapping[str, Any]) -> bool:
    return all(found.get(key) == planned.get(key) for key in keys)


def _complete(steps: list[PlannedStep], done: dict[str, str], started: dict[str, str], act: Event) -> None:
    for step in steps:
        if step.key not in done and step.kind == act.kind and _agrees(step.match, step.body, act.body):
            done[step.key] = act.id
            started.pop(step.key, None)
            return


def _take_back(done: dict[str, str], started: dict[str, str], order: list[str], back_to: str) -> None:
    if back_to not in order:
        return
    for key in order[order.index(back_to) :]:
        done.pop(key, None)
        started.pop(key, None)
