"""What was used up: connector sets, lots, strips."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from lumenward.journey import clocks, saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.event import Event
from lumenward.journey.legality.lots import ENOUGH_STRIPS, proved, recent_pass
from lumenward.journey.states import ConnectorSetState, LotState
from lumenward.quantities import show_duration
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_GROUP = "Supplies"
_AGAIN = "Process it again with good supplies, in a new cycle."


@rule(
    id="supplies.connector-set", title="A connector set that fits, within its life", group=_GROUP,
    source="common practice, no source: 24 h after first use; or the set's own label", authority="policy",
)  # fmt: skip
def connector_set(case: Case) -> Opinion:
    if not case.model.channels:
        return not_applicable(f"The {case.model.name} has no channel.")
    act = case.course.latest("connected")
    if act is None:
        return unknown("Nothing says which connector set was on.", fix="Connect it.")
    found = case.world.connector_set(act.body["connector_set"])
    kind = next((one for one in case.library.connector_sets if found and one.id == found.kind), None)
    if found is None or kind is None:
        return unknown(
            f"Nobody knows the set {act.body['connector_set']}.", act, fix="Open the set in Set-up."
        )
    if case.model.id not in kind.fits:
        return broken(f"{kind.name} does not fit the {case.model.name}.", act, fix=_AGAIN)
    first = found.first_use_at or act.happened_at
    age = elapsed_s(first, act.happened_at)
    if kind.single_use:
        return _single(case, found, act)
    clock = clocks.connector_set(case.model, case.policy, kind, first)
    if clock is None:
        return unknown(f"Nobody states how long {kind.name} may be used.", act, fix="State it in the policy.")
    life = show_duration(elapsed_s(clock.started_at, clock.limit_at))
    sentence = f"Set {found.id} was connected {show_duration(age)} after its first use; {life} are allowed."
    if clock.word(act.happened_at) == "late":
        return broken(sentence, act, fix=_AGAIN)
    return met(sentence, act)


def _single(case: Case, found: ConnectorSetState, act: Event) -> Opinion:
    sentence = f"Set {found.id} is for single use"
    here = {one.happened_at for one in case.course.all("connected")}
    if found.first_use_at is not None and found.first_use_at not in here:
        return broken(f"{sentence} and had served.", act, fix=_AGAIN)
    return met(f"{sentence} and was new.", act)


@rule(
    id="supplies.lots", title="Every lot was in date and not withdrawn", group=_GROUP,
    source="the lots' own labels", authority="label",
)  # fmt: skip
def lots(case: Case) -> Opinion:
    used = list(_used(case))
    if not used:
        return unknown("No lot is recorded for this cycle.", fix="Scan the lots as they are used.")
    for act, lot_id in used:
        against = _bad_lot(case, act, lot_id)
        if against is not None:
            return against
    return met(f"In date: {saying.listed(dict.fromkeys(one for _, one in used))}.", *(act for act, _ in used))


def _used(case: Case) -> Iterator[tuple[Event, str]]:
    for dosed, _ in case.batches:
        yield dosed, dosed.body["lot"]
    for kind, key in (("channel_brushed", "brush_lot"), ("cleaning_verified", "lot")):
        for act in case.course.counting(kind):
            if act.body.get(key):
                yield act, act.body[key]
    if case.bath is not None and case.immersion is not None:
        yield case.immersion, case.bath[0].lot
        test = case.world.event(_covering(case) or "")
        if test is not None:
            yield test, test.body["strip_lot"]


def _bad_lot(case: Case, act: Event, lot_id: str) -> Opinion | None:
    lot = case.world.lot(lot_id)
    if lot is None or lot.expires is None:
        return unknown(f"Nobody knows lot {lot_id}.", act, fix="Open the lot in Set-up, or process it again.")
    if lot.withdrawn_why:
        return broken(f"Lot {lot.lot} was withdrawn: {lot.withdrawn_why}.", act, fix=_AGAIN)
    if lot.expires < _day(act):
        return broken(f"Lot {lot.lot} had expired on {saying.day(lot.expires)}.", act, fix=_AGAIN)
    return None


def _day(act: Event) -> date:
    return act.happened_at.date()


def _covering(case: Case) -> str | None:
    if case.bath is None or case.immersion is None:
        return None
    return recent_pass(case.policy.mec_test, case.bath[0], case.immersion.happened_at)


@rule(
    id="supplies.strips", title="The strips were proved, and fresh", group=_GROUP,
    source="label pattern (recalled): each new bottle, three pass in full strength and three fail in diluted",
    authority="label",
)  # fmt: skip
def strips(case: Case) -> Opinion:
    if case.by_machine or (case.bath is not None and case.bath[1].mec_percent is None):
        return not_applicable("No strip was needed.")
    test = case.world.event(_covering(case) or "")
    if test is None or case.bath is None:
        return unknown("No strip test of the charge is recorded for this load.", fix="Test the charge.")
    lot = case.world.lot(test.body["strip_lot"])
    strip = next((one for one in case.library.strips if lot and one.id == lot.product), None)
    if lot is None or strip is None or lot.opened_at is None:
        return unknown(
            f"Nobody knows the strips {test.body['strip_lot']}.", test, fix="Open the bottle in Set-up."
        )
    if strip.chemistry != case.bath[1].chemistry:
        return broken(f"{strip.name} test another chemistry.", test, fix=_AGAIN)
    if not proved(lot):
        return _not_proved(lot, test)
    age = elapsed_s(lot.opened_at, test.happened_at)
    sentence = (
        f"Strips of lot {lot.lot}, proved, open for {show_duration(age)}; {strip.open_d:g} days are allowed."
    )
    if age > strip.open_d * 86400:
        return broken(sentence, test, fix=_AGAIN)
    return met(sentence, test)


def _not_proved(lot: LotState, test: Event) -> Opinion:
    if lot.full_strength_passed or lot.diluted_failed:
        counts = f"{lot.full_strength_passed} passed in full strength, {lot.diluted_failed} failed in diluted"
        return broken(
            f"Strip lot {lot.lot}: {counts}; {ENOUGH_STRIPS} of each are asked for.", test, fix=_AGAIN
        )
    return unknown(
        f"Strip lot {lot.lot} was never proved.", test, fix="Prove the bottle; then process it again."
    )
