"""Disinfection in a washer-disinfector: loading it, and reading what it reports."""

from __future__ import annotations

from typing import Any

from lumenward.equipment.fittings import Washer
from lumenward.journey.plan import Choice, Entry, PlannedStep, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target

ROUTE = "disinfect:machine"
_LESS = "Alarm, stopped, or the machine reports less: aborted"


def build(bench: Bench) -> list[PlannedStep]:
    """Return the two steps of the machine way; nothing where the IFU does not allow it."""
    if "machine" not in bench.model.ifu.routes:
        return []
    return [_in(bench), _out(bench)]


def _washers(bench: Bench) -> list[Washer]:
    usable_ids = {choice.value for choice in usable.within(bench, usable.washers(bench))}
    return [washer for washer in bench.library.washers if washer.id in usable_ids]


def _in(bench: Bench) -> PlannedStep:
    return PlannedStep(
        key="machine-in",
        group="Disinfect",
        title="Into the washer-disinfector",
        say=[
            "Lay it in loosely. Connect every channel; look at each connector twice.",
        ],
        cautions=["A channel left unconnected is not disinfected, and the machine may not notice."],
        targets=bench.targets("hld"),
        entries=[
            Entry(
                key="washer", label="Machine", kind="scan", scans="washer", choices=usable.washers(bench),
                remember=True,
            ),
            Entry(
                key="program", label="Program", kind="choice", remember=True,
                choices=[
                    Choice(
                        value=program,
                        label=program.replace("-", " "),
                        only={"washer": [w.id for w in _washers(bench) if program in w.programs]},
                    )
                    for program in dict.fromkeys(p for washer in _washers(bench) for p in washer.programs)
                ],
            ),
            words.tick(
                "connected_all",
                "Every channel is connected" if bench.channels else "It lies free, nothing covers it",
                record=True,
            ),
        ],
        kind="machine_cycle_started",
        confirm="The machine is running with it",
        troubles=[words.damaged("machine-in")],
        route=ROUTE,
        instead="mec" if "manual" in bench.model.ifu.routes else "",
        instead_label="It goes into a basin, by hand",
        drawing=drawing.of(bench, bench.channels, connecting=True),
        blocked="" if _washers(bench) else _no_washer(bench),
    )  # fmt: skip


def _no_washer(bench: Bench) -> str:
    choices = usable.washers(bench)
    return choices[0].why_not if choices else "The library holds no washer-disinfector."


def _out(bench: Bench) -> PlannedStep:
    started = bench.body_of("machine_cycle_started").get("washer")
    washers = [one for one in _washers(bench) if started in (None, one.id)]
    return PlannedStep(
        key="machine-out",
        group="Disinfect",
        title="Read what the machine reports",
        say=[
            "Look at the report before you open it: complete, no alarm.",
            "Take it out with clean gloves.",
        ],
        cautions=["From here on only clean gloves touch it.", words.CHEMICAL],
        targets=[_contact(bench, washer) for washer in washers],
        entries=_report(washers),
        kind="machine_cycle_ended",
        body={"result": "complete"},
        match=["result"],
        carry={"washer": "machine_cycle_started.washer", "program": "machine_cycle_started.program"},
        confirm="Complete, and it is out",
        troubles=[_aborted(bench)],
        route=ROUTE,
    )


def _contact(bench: Bench, washer: Washer) -> Target:
    return Target(
        step="hld", quantity="duration", bound="floor", value=washer.contact_s, unit="s", basis="label",
        source=f"{washer.name}, {washer.page}",
    )  # fmt: skip


def _report(washers: list[Washer]) -> list[Entry]:
    contact = {washer.id: washer.contact_s for washer in washers}
    warmth = {washer.id: washer.contact_c for washer in washers}
    does_not_count = f"than the machine's own program: it does not count. Choose “{_LESS}”"
    return [
        _reported_time(low=min(contact.values(), default=None), low_by="washer", lows=contact,
                       low_why=f"Shorter {does_not_count}"),
        _reported_warmth(low=min(warmth.values(), default=None), low_by="washer", lows=warmth,
                         low_why=f"Colder {does_not_count}"),
        words.fact(
            "dose_confirmed", "Does it report the dose?", "The dose is confirmed", "Nothing about the dose",
            no_note="Ask the lead: without a dose nobody knows what was in the water.",
        ),
        Entry(key="report", label="Report number", kind="words", required=False),
    ]  # fmt: skip


def _reported_time(**bounds: Any) -> Entry:
    return Entry(
        key="contact_s", label="Contact time reported", kind="number", unit="s", high=36000, **bounds
    )


def _reported_warmth(**bounds: Any) -> Entry:
    return Entry(
        key="temperature_c", label="Temperature reported", kind="number", unit="°C", high=99, **bounds
    )


def _aborted(bench: Bench) -> Trouble:
    return Trouble(
        key="machine-aborted",
        label=_LESS,
        say=[
            "It does not count, not even in part. Note the alarm, and what it reports.",
            "Clear the cause. Run it again from the start, or do it by hand.",
        ],
        kind="machine_cycle_ended",
        body={"result": "aborted"},
        entries=[
            Entry(key="report", label="The alarm, or what is less, in words", kind="words"),
            _reported_time(required=False),
            _reported_warmth(required=False),
        ],
        carry={"washer": "machine_cycle_started.washer", "program": "machine_cycle_started.program"},
        back_to="mec" if "manual" in bench.model.ifu.routes else "machine-in",
        confirm="It did not finish: the disinfection begins again",
    )
