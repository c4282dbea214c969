"""Drying: at least its floor, never above the IFU's pressure, and a look whether it is dry."""

from __future__ import annotations

from lumenward.journey import saying
from lumenward.journey.plan import Choice, Entry, PlannedStep, Timer, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target
from lumenward.quantities import show_in

_OUTSIDE_ONLY = "no channel: outside wiped dry"


def build(bench: Bench) -> list[PlannedStep]:
    """Return the drying; blocked where the IFU's highest pressure is missing for a channel."""
    return [
        PlannedStep(
            key="dry",
            group="Dry",
            title="Dry every channel" if bench.channels else "Dry it",
            say=_say(bench),
            cautions=[words.WET, words.AIR_JET, *([words.PRESSURE] if bench.channels else [])],
            targets=targets(bench),
            entries=_entries(bench),
            timer=_timer(bench),
            kind="dried",
            body={"channels": bench.channels, "result": "dry"}
            | ({} if bench.channels else {"check": _OUTSIDE_ONLY}),
            match=["result"],
            confirm="Dry inside and out" if bench.channels else "Dry all over",
            troubles=[_moist(bench), words.interrupted("dry"), words.damaged("dry")],
            drawing=drawing.of(bench, bench.channels) if bench.channels else None,
            blocked=_blocked(bench),
        )
    ]


def ceiling(bench: Bench) -> Target | None:
    """Return the highest air pressure: the lowest that the IFU allows in any channel."""
    pressures = [t for t in targets(bench) if t.quantity == "pressure" and t.bound == "ceiling"]
    return min(pressures, key=lambda target: target.value, default=None)


def targets(bench: Bench) -> list[Target]:
    """Return what is stated for drying, and each channel's highest pressure by the IFU."""
    each = [
        Target(
            step="dry", quantity="pressure", bound="ceiling", value=channel.max_pressure_kpa, unit="kPa",
            basis="IFU", source=f"{bench.ifu}, {channel.pressure_page or 'no page entered'}", channel=channel.id,
        )
        for channel in bench.model.channels
        if channel.max_pressure_kpa is not None
    ]  # fmt: skip
    return sorted(dict.fromkeys(bench.targets("dry", bench.channels) + each), key=lambda target: target.rank)


def _blocked(bench: Bench) -> str:
    whole = [
        t for t in targets(bench) if t.quantity == "pressure" and t.bound == "ceiling" and t.channel is None
    ]
    missing = [
        bench.name_of(channel.id) for channel in bench.model.channels if channel.max_pressure_kpa is None
    ]
    if whole or not missing:
        return ""
    return (
        f"The IFU's highest air pressure is not entered for: {saying.listed(missing)}. "
        "Without it nobody may blow air in. Enter it in the equipment library."
    )


def _say(bench: Bench) -> list[str]:
    if not bench.channels:
        return bench.say("dry", otherwise=["A fresh lint-free cloth for the outside."])
    highest = ceiling(bench)
    lines = [f"Set the air to {show_in(highest.value, 'kPa')} at most."] if highest else []
    lines.append("The narrow channels dry last. Blow on dark paper: no drop, no mist.")
    return bench.say(
        "dry", lines, ["Filtered air through each channel.", "A fresh lint-free cloth for the outside."]
    )


def _entries(bench: Bench) -> list[Entry]:
    highest = ceiling(bench)
    dryer = Entry(
        key="dryer", label="Drying air" if bench.channels else "Dried with", kind="scan", scans="dryer",
        choices=usable.dryers(bench, highest.value if highest else None), remember=True,
    )  # fmt: skip
    if not bench.channels:
        return [dryer]
    return [
        dryer,
        Entry(
            key="pressure_kpa", label="Pressure on the regulator", kind="number", unit="kPa",
            high=highest.value if highest else None,
            high_why=f"Too much bursts a channel: {words.spoken(highest)}" if highest else "",
        ),
        Entry(
            key="check", label="How it was checked", kind="choice", remember=True,
            choices=[
                Choice(value="no drops on dark paper", label="Dark paper: no drops"),
                Choice(value="indicator paper", label="Indicator paper: no change"),
                Choice(value="borescope", label="Borescope: no droplets"),
            ],
        ),
    ]  # fmt: skip


def _timer(bench: Bench) -> Timer:
    inside = bool(bench.channels)
    return words.timed(
        bench, "dry", bench.channels,
        start="Air is blowing through every channel" if inside else "It is wiped, and dries",
        running="Filtered air through every channel" if inside else "Drying, hanging free",
        ends="Check each channel for a drop" if inside else "Look for a drop: ports, valves, tip",
    )  # fmt: skip


def _moist(bench: Bench) -> Trouble:
    check = {} if bench.channels else {"check": _OUTSIDE_ONLY}
    return Trouble(
        key="dry-moist",
        label="There is still a drop",
        say=[
            "Dry on, and check again. Do not store it.",
            "Simethicone and lubricants hold water: allow longer.",
        ],
        kind="dried",
        body={"result": "moisture seen", "channels": bench.channels} | check,
        match=["result"],
        entries=_entries(bench),
        back_to="dry",
        confirm="Still moist: it is dried again",
    )
