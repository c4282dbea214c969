"""One plain sentence for each event, as a record tells it: who did it and when stand beside it.

sentence(event, world) -> str
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.library import Library
from lumenward.journey import saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.event import Event
from lumenward.journey.states import World
from lumenward.quantities import Refusal, show_duration, show_in, show_number


def sentence(event: Event, world: World) -> str:
    """Return what an event says, with names from the library of its day; ids where no name is known.

    An unknown kind is named as it is, so that a record of a later version can still be read.
    """
    tell = _TOLD.get(event.kind)
    told = _Told(event, world)
    return tell(told) if tell else f"{event.kind.replace('_', ' ').capitalize()}."


@dataclass(frozen=True)
class _Told:
    event: Event
    world: World

    @property
    def body(self) -> Mapping[str, Any]:
        return self.event.body

    @cached_property
    def library(self) -> Library | None:
        try:
            return self.world.library(self.event.happened_at)
        except Refusal:
            return None

    @cached_property
    def model(self) -> EndoscopeModel | None:
        endoscope = self.world.endoscope(self.event.subject)
        models = self.library.endoscopes if self.library and endoscope else []
        return next((one for one in models if endoscope and one.id == endoscope.model), None)

    def thing(self, shelf: str, key: str) -> str:
        """Return the name of the thing whose id stands in the body under `key`."""
        thing_id = str(self.body.get(key, ""))
        things = getattr(self.library, shelf) if self.library else []
        return str(next((one.name for one in things if one.id == thing_id), thing_id))

    def lot(self, key: str) -> str:
        found = self.world.lot(str(self.body.get(key, "")))
        return f"lot {found.lot}" if found and found.lot else f"lot {self.body.get(key, 'unknown')}"

    def person(self, key: str) -> str:
        return saying.person(self.world, str(self.body.get(key, "")))

    def channel(self) -> str:
        return self._inside(str(self.body.get("channel", "")))

    def channels(self) -> str:
        named = [str(one) for one in self.body.get("channels", ())]
        if self.model and len(named) > 1 and set(named) == {one.id for one in self.model.channels}:
            return f"all {len(named)} channels"
        return saying.listed(self._inside(one) for one in named)

    def ports(self, key: str) -> str:
        names = {port.id: port.name for port in self.model.ports} if self.model else {}
        return saying.listed(saying.inside(names.get(str(one), str(one))) for one in self.body.get(key, ()))

    def lasted(self) -> str:
        """Return ", 72 s" for a timed act whose start is known, else nothing."""
        start = self.world.event(str(self.body.get("started", "")))
        if start is None:
            return ""
        return f", {show_duration(elapsed_s(start.happened_at, self.event.happened_at))}"

    def charge(self, charge_id: str) -> str:
        found = self.world.charge(charge_id)
        if found is None or self.library is None:
            return f"charge {charge_id}"
        basin = next((one.name for one in self.library.basins if one.id == found.basin), found.basin)
        label = next(
            (d.name for d in self.library.disinfectants if d.id == found.disinfectant), found.disinfectant
        )
        return f"{basin} ({label})"

    def since(self, kind: str) -> str:
        """Return " after 12 min" from the latest act of `kind` of this cycle before this one."""
        earlier = [
            a for a in self.world.acts(self.event.cycle) if a.kind == kind and a.order < self.event.order
        ]
        if not earlier:
            return ""
        return f" after {show_duration(elapsed_s(earlier[-1].happened_at, self.event.happened_at))}"

    def amount(self, key: str, unit: str, front: str = "", digits: int | None = None) -> str:
        value = self.body.get(key)
        return f"{front}{show_in(float(value), unit, digits)}" if value is not None else ""

    def day(self, key: str) -> str:
        found = str(self.body.get(key))
        try:
            return saying.day(date.fromisoformat(found[:10]))
        except ValueError:
            return found

    def note(self, key: str = "note") -> str:
        found = self.body.get(key)
        return f" Note: {str(found).rstrip('.')}." if found else ""

    def _inside(self, channel: str) -> str:
        found = self.model.channel(channel) if self.model else None
        name = saying.inside(found.name) if found else channel
        return name if "channel" in name else f"{name} channel"


def _joined(parts: Iterable[str]) -> str:
    return ", ".join(part for part in parts if part)


def _used(t: _Told) -> str:
    room = f" in {t.body['room']}" if t.body.get("room") else ""
    first = f"Use ended{room}, case {t.body.get('case')}."
    if not t.body.get("time_known", True):
        first += " Nobody knows when it ended."
    if t.body.get("prion_risk"):
        first += " Prion disease is suspected."
    history = {"yes": " Bladder cancer is known.", "not asked": " Nobody asked about bladder cancer."}
    return first + history.get(str(t.body.get("bladder_cancer_history")), "")


def _required(t: _Told) -> str:
    return f"Processing asked for without a patient: {t.body.get('reason')}.{t.note()}"


def _treated(t: _Told) -> str:
    moist = "kept moist" if t.body.get("kept_moist") else "begun to dry"
    alcohol = " Alcohol was used." if t.body.get("alcohol_used") else ""
    return f"At the bedside: {t.body.get('product')}, {moist}.{alcohol}"


def _sent(t: _Told) -> str:
    closed = "closed and labelled" if t.body.get("closed_labelled") else "open, or without a label"
    sharps = "" if t.body.get("sharps_removed") else " Something sharp or for single use came along."
    container = f" in {t.body['container']}" if t.body.get("container") else ""
    return f"Sent{container}, {closed}.{sharps}"


def _received(t: _Told) -> str:
    return f"Received at {t.thing('sinks', 'place')}."


def _delayed(t: _Told) -> str:
    agreed = str(t.body.get("instruction")).rstrip(".")
    return f"Late: the delayed protocol was agreed by {t.person('agreed_by')}. {agreed}."


def _started(t: _Told) -> str:
    return f"Began: {_step(t)}."


def _step(t: _Told) -> str:
    step = str(t.body.get("step"))
    return "test strip" if step == "mec" else step.replace("-", " ")


def _leak(t: _Told) -> str:
    how = {"wet": "under water", "dry": "by gauge", "machine": "by machine"}.get(
        str(t.body.get("method")), ""
    )
    pressure = _joined(
        (t.amount("pressure_kpa", "kPa", "at "), t.amount("end_pressure_kpa", "kPa", "at the end "))
    )
    where = f" Where: {t.body['where']}." if t.body.get("where") else ""
    verdict = "tight" if t.body.get("result") == "tight" else "it leaks"
    return f"Leak test {_joined((how, pressure))}: {verdict}{t.lasted()}.{where}"


def _dosed(t: _Told) -> str:
    shelf = "sinks" if t.body.get("role", "sink") == "sink" else "containers"
    vessel, warmth = t.thing(shelf, "vessel"), t.amount("temperature_c", "°C")
    low, high = t.body.get("low_ppm"), t.body.get("high_ppm")
    made = f", {show_number(low)} to {show_number(high)} ppm" if low is not None and high is not None else ""
    return (
        f"Mixed {t.amount('dose_ml', 'mL')} of {t.thing('detergents', 'detergent')} ({t.lot('lot')}) into"
        f" {t.amount('water_l', 'L')} of water at {warmth} in {vessel}{made}."
    )


def _immersed(t: _Told) -> str:
    count = len(t.body.get("batches", ()))
    return f"Cleaning began in {count} fresh mix{'es' if count != 1 else ''} of detergent."


def _exterior(t: _Told) -> str:
    both = ", the elevator's recess raised and lowered" if t.body.get("elevator_both_positions") else ""
    return f"Cleaned the outside{both}."


def _brushed(t: _Told) -> str:
    brush = t.thing("brushes", "brush")
    lot = f" ({t.lot('brush_lot')})" if t.body.get("brush_lot") else ""
    passes = t.body.get("passes", 0)
    dirt = (
        ""
        if t.body.get("debris", "none at last pass") == "none at last pass"
        else " Something still came out."
    )
    times = f"{passes} pass{'es' if passes != 1 else ''}"
    return f"Brushed the {t.channel()} with {saying.inside(brush)}{lot}, {times}{t.lasted()}.{dirt}"


def _connected(t: _Told) -> str:
    clamped = f" Clamped: {t.ports('clamped')}." if t.body.get("clamped") else ""
    return f"Connected {_set(t)}: {t.ports('ports')}.{clamped}"


def _set(t: _Told) -> str:
    set_id = str(t.body.get("connector_set", t.event.subject))
    found = t.world.connector_set(set_id)
    kinds = t.library.connector_sets if t.library else []
    kind = next((one.name for one in kinds if found and one.id == found.kind), "connector set")
    return f"{saying.inside(kind)} {found.code if found and found.code else set_id}"


def _aspirated(t: _Told) -> str:
    return f"Drew detergent through the {t.channel()}{t.lasted()}."


def _flushed(t: _Told) -> str:
    seen = "fluid seen leaving" if t.body.get("seen_leaving") else "fluid was not seen leaving everywhere"
    return f"Flushed {t.channels()} with detergent{t.lasted()}; {seen}."


def _purged(t: _Told) -> str:
    return f"Air through {t.channels()} after the {t.body.get('after')}{t.lasted()}."


def _rinsed(t: _Told) -> str:
    return f"Rinsed {t.channels()} with {saying.inside(t.thing('waters', 'water'))}{t.lasted()}."


def _disconnected(t: _Told) -> str:
    return f"Took {_set(t)} off."


def _inspected(t: _Told) -> str:
    found = f" Seen: {saying.listed(map(str, t.body['findings']))}." if t.body.get("findings") else ""
    return f"Inspected by {saying.listed(map(str, t.body.get('tools', ())))}: {t.body.get('result')}.{found}{t.note()}"


def _verified(t: _Told) -> str:
    kits = t.library.kits if t.library else []
    unit = next((kit.unit for kit in kits if kit.id == t.body.get("kit")), "")
    unit = unit.replace("ug/cm2", "µg/cm²")
    meaning = {"pass": "passes", "alert": "passes, but near the limit", "fail": "fails"}
    value = f"{show_number(float(t.body.get('value', 0)))} {unit}".strip()
    verdict = meaning.get(str(t.body.get("result")), "")
    kit = saying.inside(t.thing("kits", "kit"))
    return f"Cleaning verification with {kit}, {t.body.get('site')}: {value}, {verdict}."


def _hld_in(t: _Told) -> str:
    filled = "" if t.body.get("channels_filled") else " Not every channel was filled."
    return f"Into {t.charge(str(t.body.get('charge')))} at {t.amount('temperature_c', '°C')}.{filled}"


def _hld_out(t: _Told) -> str:
    charge = str(t.body.get("charge"))
    short = "" if t.body.get("result", "complete") == "complete" else " Cut short: it does not count."
    stayed = t.since("hld_started")
    return f"Out of {t.charge(charge)}{stayed}, {t.amount('temperature_c', '°C')}.{short}"


def _machine_in(t: _Told) -> str:
    all_on = "" if t.body.get("connected_all") else " Not every channel was connected."
    return f"Started in {t.thing('washers', 'washer')}, program {t.body.get('program')}.{all_on}"


def _machine_out(t: _Told) -> str:
    contact = t.body.get("contact_s")
    reported = _joined(
        (f"contact {show_duration(contact)}" if contact is not None else "", t.amount("temperature_c", "°C"))
    )
    done = "complete" if t.body.get("result") == "complete" else "did not finish: it does not count"
    report = f" Report: {t.body['report']}." if t.body.get("report") else ""
    return f"{t.thing('washers', 'washer')}: {done}{f', {reported}' if reported else ''}.{report}"


def _final_rinsed(t: _Told) -> str:
    count = t.body.get("count", 1)
    times = f"{count} fresh volume{'s' if count != 1 else ''}"
    return f"Rinsed the disinfectant off, {times} of {saying.inside(t.thing('waters', 'water'))}{t.lasted()}."


def _alcohol(t: _Told) -> str:
    return f"Alcohol of {t.amount('strength_percent', '%')} through {t.channels()}."


def _dried(t: _Told) -> str:
    what, air = t.channels() or "the outside", saying.inside(t.thing("dryers", "dryer"))
    pressure = t.amount("pressure_kpa", "kPa", " at ")
    seen = "dry" if t.body.get("result") == "dry" else "a drop was still seen"
    return f"Dried {what} with {air}{pressure}{t.lasted()}; {t.body.get('check')}: {seen}."


def _stored(t: _Told) -> str:
    slot = f", slot {t.body['slot']}" if t.body.get("slot") else ""
    return f"Put in {t.thing('cabinets', 'cabinet')}{slot}."


def _released(t: _Told) -> str:
    findings = t.body.get("verdict", {}).get("findings", [])
    rules = f" Judged by {len(findings)} rule{'s' if len(findings) != 1 else ''}." if findings else ""
    until = datetime.fromisoformat(str(t.body["ready_until"]))
    return f"Released for a patient, ready until {saying.clock(until)}.{rules}"


def _taken(t: _Told) -> str:
    room = f" to {t.body['room']}" if t.body.get("room") else ""
    return f"Taken{room} for case {t.body.get('case')}."


def _interrupted(t: _Told) -> str:
    return f"Work on “{_step(t)}” was interrupted: {t.body.get('reason')}. It begins again."


def _corrected(t: _Told) -> str:
    named = t.world.event(str(t.body.get("event", "")))
    what = saying.act(named.kind) if named else "an act"
    gone = " It did not happen." if t.body.get("new_body") is None else ""
    return f"Corrected {what}: {t.body.get('reason')}.{gone}"


def _lot_opened(t: _Told) -> str:
    shelf = str(t.body.get("shelf"))
    return f"Opened {t.thing(shelf, 'product')}, lot {t.body.get('lot')}, good until {t.day('expires')}."


def _strips(t: _Told) -> str:
    passed, failed = t.body.get("full_strength_passed"), t.body.get("diluted_failed")
    return f"Proved a bottle of strips: {passed} passed at full strength, {failed} failed when diluted."


def _poured(t: _Told) -> str:
    return (
        f"Poured {t.amount('volume_l', 'L')} of {t.thing('disinfectants', 'disinfectant')} ({t.lot('lot')}) into"
        f" {t.thing('basins', 'basin')}."
    )


def _mec(t: _Told) -> str:
    verdict = "passed" if t.body.get("result") == "pass" else "failed"
    read = t.amount("read_after_s", "s", "read after ")
    return f"Tested {t.charge(t.event.subject)} with strips of {t.lot('strip_lot')}, {read}: {verdict}."


def _registered(t: _Told) -> str:
    owner = " on loan" if t.body.get("owner") == "loan" else ""
    return f"Registered {t.body.get('name')}{owner}: {t.thing('endoscopes', 'model')}, serial {t.body.get('serial')}."


def _competency(t: _Told) -> str:
    model = "every model" if t.body.get("model") == "*" else t.thing("endoscopes", "model")
    return (
        f"Shown competent for {model} by {t.body.get('method', 'demonstration')}, until {t.day('valid_until')};"
        f" assessed by {t.person('assessed_by')}."
    )


def _adopted(what: str) -> Callable[[_Told], str]:
    def tell(t: _Told) -> str:
        why = f": {t.body['reason']}" if t.body.get("reason") else ""
        return f"{what} {str(t.body.get('digest'))[:12]} came into force{why}."

    return tell


def _plain(text: str, key: str = "") -> Callable[[_Told], str]:
    def tell(t: _Told) -> str:
        return f"{text}: {str(t.body[key]).rstrip('.')}." if key and t.body.get(key) else f"{text}."

    return tell


_TOLD: dict[str, Callable[[_Told], str]] = {
    "patient_use_ended": _used,
    "reprocessing_required": _required,
    "point_of_use_treated": _treated,
    "sent": _sent,
    "received": _received,
    "delay_branch_taken": _delayed,
    "step_started": _started,
    "leak_tested": _leak,
    "detergent_dosed": _dosed,
    "cleaning_started": _immersed,
    "exterior_cleaned": _exterior,
    "channel_brushed": _brushed,
    "connected": _connected,
    "aspirated": _aspirated,
    "flushed": _flushed,
    "purged": _purged,
    "rinsed": _rinsed,
    "disconnected": _disconnected,
    "inspected": _inspected,
    "cleaning_verified": _verified,
    "hld_started": _hld_in,
    "hld_ended": _hld_out,
    "machine_cycle_started": _machine_in,
    "machine_cycle_ended": _machine_out,
    "final_rinsed": _final_rinsed,
    "alcohol_flushed": _alcohol,
    "dried": _dried,
    "stored": _stored,
    "released": _released,
    "taken_for_use": _taken,
    "held": lambda t: f"Held: {t.body.get('reason')}.{t.note()}",
    "hold_lifted": _plain("The hold was lifted", "reason"),
    "sent_for_repair": _plain("Sent for repair", "reason"),
    "returned_from_repair": _plain("Back from repair: dirty until processed here", "note"),
    "loan_ended": _plain("The loan ended", "note"),
    "retired": _plain("Taken out of service for good", "reason"),
    "work_interrupted": _interrupted,
    "handed_over": lambda t: f"Took over from {t.person('from_person')}.",
    "corrected": _corrected,
    "lot_opened": _lot_opened,
    "lot_withdrawn": _plain("The lot was withdrawn", "reason"),
    "strips_checked": _strips,
    "charge_poured": _poured,
    "mec_tested": _mec,
    "charge_discarded": lambda t: f"Discarded the charge: {t.body.get('reason')}.{t.note()}",
    "connector_set_opened": lambda t: f"Took {_set(t)} into use.",
    "connector_set_discarded": _plain("Discarded the connector set", "reason"),
    "batch_discarded": _plain("Poured the detergent away", "reason"),
    "endoscope_registered": _registered,
    "person_added": lambda t: f"Added {t.body.get('name')} as {t.body.get('role')}.",
    "person_left": _plain("Works here no more", "reason"),
    "role_given": _plain("New role", "role"),
    "competency_recorded": _competency,
    "library_adopted": _adopted("The equipment library"),
    "policy_adopted": _adopted("The policy"),
    "demo_loaded": lambda t: f"An invented house of {t.body.get('days')} days was loaded.",
    "demo_removed": _plain("The invented house was removed", "reason"),
}
