"""What lies ready to be used: each thing as a choice, and where it must not be used the sentence why.

Steps pick from these lists and the plan's scan codes are made of them, so that a scan and a step always agree.
"""

from __future__ import annotations

from datetime import datetime

from lumenward.equipment.fittings import (
    Brushware,
    Cabinet,
    ConnectorSet,
    Detergent,
    Disinfectant,
    Dryer,
    LabelPair,
    TestStrip,
    VerificationKit,
    Washer,
)
from lumenward.journey import clocks
from lumenward.journey.plan import Choice, Grade
from lumenward.journey.planner.bench import Bench
from lumenward.journey.states import ChargeState, ConnectorSetState, LotState
from lumenward.journey.target import Target
from lumenward.quantities import show_duration


def moment(bench: Bench, at: datetime) -> str:
    """Return an instant as people here say it."""
    local = at.astimezone(bench.zone)
    today = bench.now.astimezone(bench.zone).date()
    return f"{local:%H:%M}" if local.date() == today else f"{local:%a %d %b, %H:%M}"


def lots(bench: Bench, shelf: str) -> list[LotState]:
    """Return the lots of a shelf that were opened, newest first."""
    known = [lot for lot in bench.world.lots() if lot.shelf == shelf]
    return sorted(known, key=lambda lot: (lot.opened_at is not None, lot.opened_at), reverse=True)


def lot_trouble(bench: Bench, lot: LotState) -> str:
    """Return why a lot must not be used, or nothing."""
    if lot.withdrawn_why:
        return f"Lot {lot.lot} was withdrawn: {lot.withdrawn_why}."
    today = bench.now.astimezone(bench.zone).date()
    if lot.expires and lot.expires < today:
        return f"Lot {lot.lot} expired on {lot.expires:%d %B %Y}."
    return ""


def detergents(bench: Bench) -> list[Choice]:
    """Return the detergent lots; a lot sets its detergent."""
    products: dict[str, Detergent] = {product.id: product for product in bench.library.detergents}
    return [
        Choice(
            value=lot.id,
            label=f"{products[lot.product].name}, lot {lot.lot}",
            code=lot.code,
            why_not=lot_trouble(bench, lot),
            sets={"detergent": lot.product},
            targets=bench.label_targets("detergent", products[lot.product]),
            bounds={
                "temperature_c": (
                    products[lot.product].temperature_low_c,
                    products[lot.product].temperature_high_c,
                )
            },
        )
        for lot in lots(bench, "detergents")
        if lot.product in products
    ]


def brushes(bench: Bench, code: str, diameter_mm: float) -> list[Choice]:
    """Return all brushes, the one for this channel first; the others say why not."""
    found = [
        _brush(bench, brush, brush.code == code or brush.diameter_mm == diameter_mm, diameter_mm)
        for brush in bench.library.brushes
    ]
    return sorted(found, key=lambda choice: bool(choice.why_not))


def _brush(bench: Bench, brush: Brushware, fits: bool, diameter_mm: float) -> Choice:
    fresh = [lot for lot in lots(bench, "brushes") if lot.product == brush.id and not lot_trouble(bench, lot)]
    return Choice(
        value=brush.id,
        label=brush.name,
        code=brush.code,
        note=f"{brush.diameter_mm:g} mm" + (", single use" if brush.single_use else ""),
        why_not=""
        if fits
        else f"This brush is {brush.diameter_mm:g} mm; this channel takes {diameter_mm:g} mm.",
        sets={"brush_lot": fresh[0].id} if fresh else {},
    )


def connector_sets(bench: Bench) -> list[Choice]:
    """Return the connector sets in use; a set sets the ports it feeds and the lines that lead nowhere."""
    kinds = {kind.id: kind for kind in bench.library.connector_sets}
    found = [
        _connector_set(bench, one, kinds[one.kind])
        for one in bench.world.connector_sets()
        if one.kind in kinds
    ]
    return sorted(found, key=lambda choice: (bool(choice.why_not), choice.label))


def _connector_set(bench: Bench, one: ConnectorSetState, kind: ConnectorSet) -> Choice:
    ports = {port.id for port in bench.model.ports}
    lines = [tube.port for tube in kind.tubes]
    return Choice(
        value=one.id,
        label=f"{kind.name} {one.code}".strip(),
        code=one.code,
        why_not=_set_trouble(bench, one, kind),
        note=_set_note(bench, one, kind),
        targets=bench.label_targets("connector-set", kind),
        sets={
            "ports": [port for port in lines if port in ports],
            "clamped": [port for port in lines if port not in ports],
        },
    )


def _set_trouble(bench: Bench, one: ConnectorSetState, kind: ConnectorSet) -> str:
    if bench.model.id not in kind.fits:
        return f"{kind.name} does not fit a {bench.model.name}."
    if one.on and one.on != (bench.cycle.id if bench.cycle else ""):
        return "This set is still connected to another endoscope."
    if kind.single_use and one.uses:
        return "This set was used once, and may be used only once."
    clock = _set_clock(bench, one, kind)
    if clock and clock.word(bench.now) == "late":
        return f"Its life of {show_duration((clock.limit_at - clock.started_at).total_seconds())} is over. Discard it."
    return ""


def _set_clock(bench: Bench, one: ConnectorSetState, kind: ConnectorSet) -> clocks.Clock | None:
    if one.first_use_at is None:
        return None
    return clocks.connector_set(bench.model, bench.policy, kind, one.first_use_at)


def _set_note(bench: Bench, one: ConnectorSetState, kind: ConnectorSet) -> str:
    clock = _set_clock(bench, one, kind)
    if clock is None:
        return "not used yet"
    return f"usable until {moment(bench, clock.limit_at)}"


def kits(bench: Bench) -> list[Choice]:
    """Return the verification kits with what each value means by the kit's own limits."""
    return [_kit(bench, kit) for kit in bench.library.kits]


def _kit(bench: Bench, kit: VerificationKit) -> Choice:
    known = [lot for lot in lots(bench, "kits") if lot.product == kit.id]
    fresh = [lot for lot in known if not lot_trouble(bench, lot)]
    return Choice(
        value=kit.id,
        label=kit.name,
        code=kit.code,
        note=f"{kit.sample}; look again from {kit.alert:g} {kit.unit}, fails from {kit.action:g} {kit.unit}",
        why_not=lot_trouble(bench, known[0]) if known and not fresh else "",
        sets={"lot": fresh[0].id} if fresh else {},
        units={"value": "µg/cm²" if kit.unit == "ug/cm2" else kit.unit},
        grades=[
            Grade(value="pass", below=kit.alert),
            Grade(value="alert", below=kit.action),
            Grade(value="fail"),
        ],
    )


def disinfectant_of(bench: Bench, charge: ChargeState) -> Disinfectant | None:
    """Return the label of what is in a charge."""
    return next((one for one in bench.library.disinfectants if one.id == charge.disinfectant), None)


def charges(bench: Bench) -> list[Choice]:
    """Return the charges, those that may be used first; the basin's code is the charge's."""
    found = [_charge(bench, charge) for charge in bench.world.charges()]
    return sorted(found, key=lambda choice: (bool(choice.why_not), choice.label))


def _charge(bench: Bench, charge: ChargeState) -> Choice:
    basin = next((one for one in bench.library.basins if one.id == charge.basin), None)
    label = disinfectant_of(bench, charge)
    low, high = _window(label)
    poured = f", poured {moment(bench, charge.poured_at)}" if charge.poured_at else ""
    return Choice(
        value=charge.id,
        label=f"{basin.name if basin else charge.basin}: {label.name if label else charge.disinfectant}",
        code=basin.code if basin else "",
        note=f"{charge.volume_l:g} L{poured}; {'; '.join(_contact(pair) for pair in _by_hand(label))}",
        why_not=charge_trouble(bench, charge),
        targets=pairs_of(label) if label else [],
        bounds={"temperature_c": (low, high)} if label else {},
    )


def _by_hand(label: Disinfectant | None) -> list[LabelPair]:
    return [pair for pair in label.pairs if pair.route == "manual"] if label else []


def _contact(pair: LabelPair) -> str:
    return f"{show_duration(pair.time_s)} at {pair.temperature_low_c:g} to {pair.temperature_high_c:g} °C"


def _window(label: Disinfectant | None) -> tuple[float, float]:
    pairs = _by_hand(label)
    lows, highs = [p.temperature_low_c for p in pairs], [p.temperature_high_c for p in pairs]
    return min(lows, default=0.0), max(highs, default=0.0)


def pairs_of(label: Disinfectant) -> list[Target]:
    """Return the contact times by hand that a label lists, each with its window of temperature."""
    found: dict[Target, None] = {}
    source = label.on_label
    for pair in _by_hand(label):
        low, high = pair.temperature_low_c, pair.temperature_high_c
        for quantity, bound, value, unit in (
            ("duration", "floor", pair.time_s, "s"),
            ("temperature", "floor", low, "C"),
            ("temperature", "ceiling", high, "C"),
        ):
            frame = {"step": "hld", "quantity": quantity, "bound": bound, "value": value, "unit": unit}
            where = source if unit == "C" else f"{source}, {low:g} to {high:g} °C"
            found[Target.model_validate(frame | {"basis": "label", "source": where})] = None
    return list(found)


def charge_trouble(bench: Bench, charge: ChargeState) -> str:
    """Return why a charge must not be used for this endoscope, or nothing."""
    label = disinfectant_of(bench, charge)
    if label is None:
        return f"The library does not know {charge.disinfectant}."
    if not [pair for pair in label.pairs if pair.route == "manual"]:
        return f"The label of {label.name} gives no contact time by hand."
    if label.chemistry not in bench.model.ifu.chemistries:
        return f"The IFU of this endoscope does not allow {label.name}."
    return _urology(bench, label) or _charge_spent(bench, charge, label)


def _urology(bench: Bench, label: Disinfectant) -> str:
    if not (label.forbidden_for_urology and bench.model.urological):
        return ""
    opened = bench.body_of("patient_use_ended")
    if not bench.cycle or opened.get("bladder_cancer_history") == "no":
        return ""
    return f"{label.name} is not used where bladder cancer is known, or nobody asked."


def _charge_spent(bench: Bench, charge: ChargeState, label: Disinfectant) -> str:
    life = clocks.reuse(label, charge.poured_at) if charge.poured_at else None
    if life and life.word(bench.now) == "late":
        return f"Its reuse life ended {moment(bench, life.limit_at)}. Discard it."
    if charge.tests and charge.tests[-1].result == "fail":
        return f"It failed its test at {moment(bench, charge.tests[-1].at)}. Discard it."
    if label.single_use and charge.stays:
        return "It was used once, and may be used only once."
    return ""


def strips(bench: Bench) -> list[Choice]:
    """Return the strip lots for chemistries this endoscope may meet."""
    products: dict[str, TestStrip] = {product.id: product for product in bench.library.strips}
    return [
        Choice(
            value=lot.id,
            label=f"{product.name}, lot {lot.lot}",
            code=lot.code,
            why_not=strip_trouble(bench, lot, product),
            note=f"read after {product.read_low_s:g} to {product.read_high_s:g} s",
            bounds={"read_after_s": (product.read_low_s, product.read_high_s)},
            only={"subject": _charges_of(bench, product.chemistry)},
        )
        for lot in lots(bench, "strips")
        if (product := products.get(lot.product)) and product.chemistry in bench.model.ifu.chemistries
    ]


def _charges_of(bench: Bench, chemistry: str) -> list[str]:
    labels = {label.id for label in bench.library.disinfectants if label.chemistry == chemistry}
    return [charge.id for charge in bench.world.charges() if charge.disinfectant in labels]


def strip_trouble(bench: Bench, lot: LotState, product: TestStrip) -> str:
    """Return why a bottle of strips must not be used, or nothing."""
    trouble = lot_trouble(bench, lot)
    if trouble:
        return trouble
    if lot.expires and lot.opened_at:
        clock = clocks.strips(product, lot.expires, lot.opened_at, bench.zone)
        if clock.word(bench.now) == "late":
            return f"This bottle's life after opening ended {moment(bench, clock.limit_at)}."
    if lot.full_strength_passed < 3 or lot.diluted_failed < 3:
        return "This bottle has not been proved yet on full strength and on diluted disinfectant."
    return ""


def washers(bench: Bench) -> list[Choice]:
    """Return the washer-disinfectors; a machine with one program sets it."""
    return [
        Choice(
            value=washer.id,
            label=washer.name,
            code=washer.code,
            why_not=_washer_trouble(bench, washer),
            sets={"program": washer.programs[0]} if len(washer.programs) == 1 else {},
        )
        for washer in bench.library.washers
    ]


def _washer_trouble(bench: Bench, washer: Washer) -> str:
    if bench.model.id not in washer.fits:
        return f"{washer.name} is not cleared for a {bench.model.name}."
    if washer.chemistry not in bench.model.ifu.chemistries:
        return f"The IFU of this endoscope does not allow what {washer.name} uses."
    return ""


def dryers(bench: Bench, ceiling_kpa: float | None) -> list[Choice]:
    """Return the drying airs; unfiltered air and too high a pressure say why not."""
    return [
        Choice(
            value=dryer.id,
            label=dryer.name,
            code=dryer.code,
            note=f"set to {dryer.gauge_kpa:g} kPa",
            why_not=_dryer_trouble(dryer, ceiling_kpa),
        )
        for dryer in bench.library.dryers
    ]


def _dryer_trouble(dryer: Dryer, ceiling_kpa: float | None) -> str:
    if not dryer.filtered:
        return "Its air is not filtered."
    if ceiling_kpa is not None and dryer.gauge_kpa > ceiling_kpa:
        return f"It is set to {dryer.gauge_kpa:g} kPa; this endoscope takes at most {ceiling_kpa:g} kPa."
    return ""


def cabinets(bench: Bench) -> list[Choice]:
    """Return the places to wait in, each with its hang time for this endoscope."""
    return [_cabinet(bench, cabinet) for cabinet in bench.library.cabinets]


def _cabinet(bench: Bench, cabinet: Cabinet) -> Choice:
    limit = bench.deciding("hang", "life", "ceiling", label=cabinet)
    taken = {
        one.slot
        for one in bench.world.endoscopes()
        if one.place == cabinet.id and one.id != bench.endoscope.id
    }
    free = next((slot for slot in range(1, cabinet.slots + 1) if slot not in taken), None)
    why_not = "" if limit else f"Nobody has said how long an endoscope may wait in a {cabinet.kind}."
    ready = f"ready for {show_duration(limit.value * 3600)} ({limit.basis}: {limit.source})" if limit else ""
    return Choice(
        value=cabinet.id,
        label=cabinet.name,
        code=cabinet.code,
        note=f"{ready}; next free slot {free}" if free else ready,
        why_not=why_not or ("" if free else "Every slot is taken."),
        bounds={"slot": (1, cabinet.slots)},
        targets=bench.label_targets("hang", cabinet),
    )


def tested_today(bench: Bench, charge: ChargeState) -> bool:
    """Whether the latest test of a charge is a pass of this day on the house's wall clock."""
    if not charge.tests or charge.tests[-1].result != "pass":
        return False
    tested = charge.tests[-1].at.astimezone(bench.zone).date()
    return tested == bench.now.astimezone(bench.zone).date()


def needs_test(bench: Bench, charge: ChargeState) -> bool:
    """Whether a charge must still be tested before this endoscope goes in; a label without MEC has nothing to test."""
    label = disinfectant_of(bench, charge)
    if label is None or label.mec_percent is None:
        return False
    return bench.policy.mec_test == "each use" or not tested_today(bench, charge)


def within(bench: Bench, choices: list[Choice]) -> list[Choice]:
    """Return the choices that may be used."""
    return [choice for choice in choices if not choice.why_not]
