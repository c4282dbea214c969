"""The leak test: after every use, before the endoscope goes under detergent."""

from __future__ import annotations

from lumenward.journey.plan import Choice, Entry, PlannedStep, Timer, Trouble
from lumenward.journey.planner import leaking, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target

SECOND_LOOK_KPA = 35.0

_HOW = {
    "wet": "Under water: pressurise first, then immerse in clear water. Watch for bubbles.",
    "dry": "By gauge: pressurise, wait, and watch the needle.",
    "machine": "By machine: connect it and let it measure.",
}
_NAMES = {"wet": "Under water", "dry": "By gauge, dry", "machine": "By machine"}


def build(bench: Bench) -> list[PlannedStep]:
    """Return the leak test by the methods the IFU allows."""
    return [
        PlannedStep(
            key="leak-test",
            group="Leak test",
            title="Is it tight?",
            say=_say(bench),
            cautions=[words.PRESSURE, "Let the pressure off fully before you disconnect."],
            targets=[*_targets(bench), *leaking.targets(bench, _hold_s(bench))],
            entries=[*_method(bench), *_pressures(bench), *_ticks(), *_meter(bench)],
            timer=_timer(bench),
            kind="leak_tested",
            body=_body(bench) | {"result": "tight"},
            match=["result"],
            confirm="Tight: no bubbles, no fall",
            troubles=[_leak(bench), words.interrupted("leak-test"), words.damaged("leak-test")],
        )
    ]


def _steps(bench: Bench) -> list[str]:
    return [f"leak-test-{method}" for method in bench.leak_methods]


def _targets(bench: Bench) -> list[Target]:
    found: dict[tuple[object, ...], Target] = {}
    for target in (target for step in _steps(bench) for target in bench.targets(step)):
        found.setdefault((target.quantity, target.bound, target.value, target.source), target)
    return list(found.values())


def _say(bench: Bench) -> list[str]:
    missing = "No test pressure is entered from the IFU. Look it up there before you pressurise."
    lines = ["Valves and port covers off. Coil it loosely."]
    lines += [_HOW[method] for method in bench.leak_methods]
    lines.append(
        "Move every knob, switch and the elevator." if bench.has_elevator else "Move every knob and switch."
    )
    if "wet" in bench.leak_methods:
        lines.append("Take it out of the water under pressure, then let the pressure off.")
    first = [] if _has_pressure(bench) else [missing]
    return [*bench.say("leak-test", first, lines), *leaking.lines(bench, _hold_s(bench))]


def _has_pressure(bench: Bench) -> bool:
    return any(target.quantity == "pressure" for target in _targets(bench))


def _hold_s(bench: Bench) -> float:
    floors = [bench.deciding(step, "duration", "floor") for step in _steps(bench)]
    return max((floor.value for floor in floors if floor), default=0.0)


def _timer(bench: Bench) -> Timer:
    return Timer(
        floor_s=_hold_s(bench),
        start="It is under pressure",
        running="Watching for bubbles or a fall, every knob moved",
        ends="Let the pressure off, then disconnect",
    )


def _body(bench: Bench) -> dict[str, object]:
    return {"method": bench.leak_methods[0]} if len(bench.leak_methods) == 1 else {}


def _method(bench: Bench) -> list[Entry]:
    if len(bench.leak_methods) == 1:
        return []
    choices = [Choice(value=method, label=_NAMES[method]) for method in bench.leak_methods]
    return [Entry(key="method", label="How it is tested", kind="choice", choices=choices, remember=True)]


def _pressures(bench: Bench) -> list[Entry]:
    step = _steps(bench)[0]
    low, high = bench.deciding(step, "pressure", "floor"), bench.deciding(step, "pressure", "ceiling")
    bounds = {
        "low": low.value if low else None,
        "low_why": f"Too little shows no leak: {words.spoken(low)}" if low else "",
        "high": high.value if high else None,
        "high_why": f"Too much bursts the sheath: {words.spoken(high)}" if high else "",
    }
    gauge = bench.leak_methods != ["wet"]
    return [
        Entry(
            key="pressure_kpa", label="Pressure on the gauge", kind="number", unit="kPa", required=bool(low or high),
            confirm_above=SECOND_LOOK_KPA, hint="" if low or high else "no limit is entered from the IFU", **bounds,
        ),
        *([Entry(key="end_pressure_kpa", label="Pressure at the end", kind="number", unit="kPa", required=False)]
          if gauge else []),
    ]  # fmt: skip


def _ticks() -> list[Entry]:
    return [
        words.tick("cap_on", "Watertight cap is on the electrical contacts"),
        words.tick("knobs_moved", "Every knob and switch was moved under pressure", record=True),
        words.tick("released", "Pressure let off fully, then disconnected", record=True),
    ]


def _meter(bench: Bench) -> list[Entry]:
    meters = [meter for meter in bench.library.meters if meter.measures == "leak"]
    if not meters:
        return []
    today = bench.now.astimezone(bench.zone).date()
    choices = [
        Choice(
            value=meter.id,
            label=meter.name,
            code=meter.code,
            why_not=f"Its calibration ran out on {meter.calibration_due:%d %B %Y}."
            if meter.calibration_due and meter.calibration_due < today
            else "",
        )
        for meter in meters
    ]
    return [Entry(key="meter", label="Leak tester", kind="scan", scans="meter", choices=choices, required=False,
                  remember=True)]  # fmt: skip


def _leak(bench: Bench) -> Trouble:
    return Trouble(
        key="leak",
        label="The pressure falls, or bubbles rise",
        say=[
            "Keep the pressure on and take it out of the water.",
            "Do not immerse it again: fluid inside ruins it and carries germs.",
            "Dry the outside, let the pressure off, disconnect.",
            "Tag it. It goes to repair by the IFU's way for a damaged endoscope.",
        ],
        kind="leak_tested",
        body=_body(bench) | {"result": "leak"},
        match=["result"],
        entries=[
            *_method(bench),
            Entry(key="where", label="Where the bubbles rise", kind="words", required=False),
        ],
        back_to="leak-test",
        stops=True,
        confirm="It leaks: it is put aside and tagged",
    )
