"""Disinfection by hand in a basin: the charge is tested, the endoscope goes in, the contact time runs."""

from __future__ import annotations

from collections.abc import Iterable

from lumenward.equipment.fittings import Disinfectant, TestStrip
from lumenward.journey.plan import Choice, Entry, PlannedStep, Timer, TimerRow, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target

ROUTE = "disinfect:manual"
FIRST = "mec"


def build(bench: Bench) -> list[PlannedStep]:
    """Return the three steps of the manual way; nothing where the IFU does not allow it."""
    if "manual" not in bench.model.ifu.routes:
        return []
    return [_mec(bench), _in(bench), _out(bench)]


def labels(bench: Bench) -> list[Disinfectant]:
    """Return the disinfectants this cycle may meet: that of the charge it went into, or of every usable charge.

    Where no charge is usable, every label that IFU and route allow.
    """
    used = bench.body_of("hld_started").get("charge")
    charges = [charge for charge in bench.world.charges() if used in (None, charge.id)]
    known = [
        usable.disinfectant_of(bench, charge)
        for charge in charges
        if used or not usable.charge_trouble(bench, charge)
    ]
    found = [label for label in bench.library.disinfectants if label in known]
    return found or [
        label
        for label in bench.library.disinfectants
        if label.chemistry in bench.model.ifu.chemistries and any(p.route == "manual" for p in label.pairs)
    ]


def _mec(bench: Bench) -> PlannedStep:
    passed_over = _may_be_passed_over(bench)
    return PlannedStep(
        key=FIRST,
        group="Disinfect",
        title="Test the disinfectant before it goes in",
        say=[
            f"Why: {bench.policy.mec_test}, {bench.policy.mec_source}.",
            "Dip the strip as its label says. Read it at the stated second, in good light.",
        ],
        cautions=["A pass proves the strength, not that an endoscope is free of germs.", words.CHEMICAL],
        entries=[_charge_entry(bench, "subject"), *_strip_entries(bench)],
        timer=_strip_timer(bench),
        kind="mec_tested",
        body={"result": "pass"},
        match=["result"],
        confirm="The strip shows a pass",
        troubles=[_strip_fails(bench), words.interrupted(FIRST)],
        optional=passed_over,
        skip_words="This charge needs no test now" if passed_over else "",
        route=ROUTE,
        instead="machine-in" if "machine" in bench.model.ifu.routes else "",
        instead_label="It goes into a washer-disinfector",
        about="charge",
        blocked=_blocked(bench),
    )


def _blocked(bench: Bench) -> str:
    charges = usable.charges(bench)
    if usable.within(bench, charges):
        return ""
    if not charges:
        return "No basin holds a charge. Pour one first, on the page Basins."
    return f"No charge can be used. {charges[0].label}: {charges[0].why_not}"


def _may_be_passed_over(bench: Bench) -> bool:
    return any(
        not usable.needs_test(bench, charge)
        for charge in bench.world.charges()
        if not usable.charge_trouble(bench, charge)
    )


def _charge_entry(bench: Bench, key: str) -> Entry:
    choices = usable.charges(bench)
    if key == "subject":
        choices = [choice.model_copy(update={"bounds": {}}) for choice in choices]
    elif _may_be_passed_over(bench):
        choices = [_tested(bench, choice) for choice in choices]
    return Entry(key=key, label="Basin and its charge", kind="scan", scans="charge", choices=choices)


def _tested(bench: Bench, choice: Choice) -> Choice:
    charge = bench.world.charge(str(choice.value))
    if choice.why_not or charge is None or not usable.needs_test(bench, charge):
        return choice
    return choice.model_copy(update={"why_not": "It has not been tested yet for this. Test it first."})


def _strips(bench: Bench) -> list[TestStrip]:
    return [one for one in bench.library.strips if one.chemistry in bench.model.ifu.chemistries]


def _strip_entries(bench: Bench) -> list[Entry]:
    return [
        Entry(
            key="strip_lot", label="Test strips, their lot", kind="scan", scans="lot", choices=usable.strips(bench),
            remember=True,
        ),
        Entry(key="read_after_s", label="Read after", kind="number", unit="s", low=1, high=600, elapsed=True),
    ]  # fmt: skip


def _strip_timer(bench: Bench) -> Timer:
    lows = [strip.read_low_s for strip in _strips(bench)]
    highs = [strip.read_high_s for strip in _strips(bench)]
    low, high = max(lows, default=0.0), min(highs, default=0.0)
    return Timer(
        floor_s=low if low <= high else min(lows),
        ceiling_s=high if low < high else None,
        recorded=False,
        start="The strip is dipped",
        running="The strip develops",
        ends="Read the colour now",
    )


def _strip_fails(bench: Bench) -> Trouble:
    return Trouble(
        key="mec-failed",
        label="The strip shows a fail",
        say=[
            "Do not use this charge. Mark the basin.",
            "Discard it and pour a fresh one, on the page Basins.",
            "Every endoscope since its last pass is looked at: the lead is told.",
        ],
        kind="mec_tested",
        body={"result": "fail"},
        entries=[_charge_entry(bench, "subject"), *_strip_entries(bench)],
        back_to=FIRST,
        confirm="The charge failed: another is used",
    )


def _in(bench: Bench) -> PlannedStep:
    full = "Every channel is filled: no air comes out" if bench.channels else "All of it is under the surface"
    return PlannedStep(
        key="hld-in",
        group="Disinfect",
        title="Into the disinfectant",
        say=bench.say(
            "hld",
            ["Outside dry, channels empty: water thins the charge."],
            [
                "All of it under the surface. Fill every channel with a syringe until no bubble comes."
                if bench.channels
                else "All of it under the surface."
            ],
        ),
        cautions=[words.CHEMICAL, *_urology(bench)],
        targets=targets(bench),
        entries=[
            _charge_entry(bench, "charge"),
            _temperature(bench, "Warm the basin first; a cold one does not disinfect in time."),
            words.tick("channels_filled", full, record=True),
        ],
        kind="hld_started",
        carry={"charge": "mec_tested.subject"},
        confirm="It is in, every channel full" if bench.channels else "It is in, all of it",
        troubles=[words.damaged("hld-in")],
        route=ROUTE,
        drawing=drawing.of(bench, bench.channels),
    )


def _urology(bench: Bench) -> list[str]:
    if not bench.model.urological:
        return []
    return ["OPA never touches a urological endoscope when bladder cancer is known, or nobody asked."]


def targets(bench: Bench) -> list[Target]:
    """Return what IFU and policy state, and the label's pairs where only one label may apply.

    Where several may, each charge brings its own numbers when it is picked.
    """
    known = labels(bench)
    return bench.targets("hld") + (usable.pairs_of(known[0]) if len(known) == 1 else [])


def _temperature(bench: Bench, low_help: str) -> Entry:
    pairs = [pair for label in labels(bench) for pair in label.pairs if pair.route == "manual"]
    return words.temperature(
        min((pair.temperature_low_c for pair in pairs), default=None),
        max((pair.temperature_high_c for pair in pairs), default=None),
        "The label lists this window",
        low_help,
        "Let it cool; nothing above the window is proven.",
    )


def _out(bench: Bench) -> PlannedStep:
    rows = list(_rows(bench))
    return PlannedStep(
        key="hld-out",
        group="Disinfect",
        title="Leave it in until the time is full",
        say=[
            "Lid on. Do not lift it out early, not even a little.",
            "At the end measure the temperature again, then take it out with clean gloves.",
        ],
        cautions=["From here on only clean gloves touch it.", words.CHEMICAL],
        targets=targets(bench),
        entries=[_temperature(bench, "Too cold: the time does not count. Warm it and begin again.")],
        timer=Timer(
            floor_s=max((row.floor_s for row in rows), default=0.0),
            recorded=False,
            rows=rows,
            no_row="The label lists no time for this temperature. Bring the basin into its window first.",
            start="It is in, every channel full",
            running="Contact time",
            ends="Measure the temperature, then take it out",
            since="hld_started",
        ),
        kind="hld_ended",
        body={"result": "complete"},
        match=["result"],
        carry={"charge": "hld_started.charge"},
        confirm="The time is full: it is out",
        troubles=[_cut_short(bench)],
        route=ROUTE,
    )


def _rows(bench: Bench) -> Iterable[TimerRow]:
    by_product = {label.id: label for label in labels(bench)}
    extra = bench.deciding("hld", "duration", "floor")
    least = extra.value if extra else 0.0
    for charge in bench.world.charges():
        label = by_product.get(charge.disinfectant)
        for pair in label.pairs if label else ():
            if pair.route == "manual":
                yield TimerRow(
                    key="charge", value=charge.id, between="temperature_c", low=pair.temperature_low_c,
                    high=pair.temperature_high_c, floor_s=max(pair.time_s, least),
                )  # fmt: skip


def _cut_short(bench: Bench) -> Trouble:
    return Trouble(
        key="hld-cut-short",
        label="It came out too early, or the temperature left its window",
        say=["It does not count, not even in part.", "Test the charge and begin the contact again."],
        kind="hld_ended",
        body={"result": "cut short"},
        entries=[Entry(key="temperature_c", label="Temperature, measured", kind="number", unit="°C", low=1, high=99)],
        carry={"charge": "hld_started.charge"},
        back_to=FIRST,
        confirm="Cut short: the disinfection begins again",
    )  # fmt: skip
