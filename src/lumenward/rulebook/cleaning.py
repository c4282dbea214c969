"""Manual cleaning: outside, every channel, long enough."""

from __future__ import annotations

from lumenward.journey import needs
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.event import Event
from lumenward.journey.legality.sink import cleaning_floor
from lumenward.quantities import show_duration, show_in
from lumenward.rulebook.case import Case
from lumenward.rulebook.judging import channels_and_time, long_enough
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_AGAIN = "Open a new cycle and clean it again."
_GROUP = "Cleaning"


@rule(
    id="cleaning.outside", title="The outside was cleaned, taken apart", group=_GROUP,
    source="Queensland Health, module 5.4 (read)", authority="default",
)  # fmt: skip
def outside(case: Case) -> Opinion:
    act = case.course.latest("exterior_cleaned")
    if act is None:
        return unknown("No cleaning of the outside is recorded.", fix="Clean the outside.")
    if not act.body["parts_dismantled"]:
        return broken("Removable parts were left on.", act, fix=_AGAIN)
    if not needs.has_elevator(case.model):
        return met("The outside was cleaned, removable parts off.", act)
    if act.body.get("elevator_both_positions") is None:
        return unknown("Nothing says that the recess was brushed in both positions.", act, fix=_AGAIN)
    if not act.body["elevator_both_positions"]:
        return broken("The recess was not brushed in both positions of the elevator.", act, fix=_AGAIN)
    return met("The outside and the recess, in both positions, were cleaned.", act)


@rule(
    id="cleaning.brushed", title="Every channel that takes a brush was brushed", group=_GROUP,
    source="Queensland Health, module 5.4; a training page (read): until no debris comes", authority="default",
)  # fmt: skip
def brushed(case: Case) -> Opinion:
    wanted = needs.brushable(case.model)
    if not wanted:
        return not_applicable("The IFU names no brush for this model.")
    done = case.course.brushed
    missing = [one for one in wanted if one not in done]
    still = [one for one in missing if one in case.course.by_channel("channel_brushed")]
    if still:
        acts = case.course.counting("channel_brushed")
        sentence = f"Debris was still coming from: {case.names(still)}."
        return broken(sentence, *acts, fix="Brush on until nothing comes out.")
    if missing:
        return unknown(f"Not brushed: {case.names(missing)}.", *done.values(), fix="Brush what is missing.")
    return met(f"Brushed until nothing came out: {case.names(wanted)}.", *done.values())


@rule(
    id="cleaning.brush", title="The IFU's brush, often enough", group=_GROUP,
    source="the IFU names the brush of each channel", authority="IFU",
)  # fmt: skip
def brush(case: Case) -> Opinion:
    if not needs.brushable(case.model):
        return not_applicable("The IFU names no brush for this model.")
    if not case.course.brushed:
        return unknown("No brushing is recorded.", fix="Brush every channel.")
    for channel, act in case.course.brushed.items():
        against = _wrong_brush(case, channel, act)
        if against is not None:
            return against
    return met("Each channel was brushed with its own brush.", *case.course.brushed.values())


def _wrong_brush(case: Case, channel: str, act: Event) -> Opinion | None:
    described = case.model.channel(channel)
    stated = described.brush if described else None
    if stated is None:
        return broken(f"The {case.names([channel])} takes no brush.", act, fix=_AGAIN)
    if act.body["passes"] < stated.passes:
        sentence = f"The {case.names([channel])} had {act.body['passes']} of {stated.passes} passes."
        return broken(sentence, act, fix=_AGAIN)
    named = act.body["brush"]
    if named == stated.code:
        return None
    ware = next((one for one in case.library.brushes if named in (one.id, one.code)), None)
    if ware is None:
        return unknown(
            f"The library has no brush {named}.", act, fix="Add it, or clean again with a known brush."
        )
    if abs(ware.diameter_mm - stated.diameter_mm) > 0.05:
        found, right = show_in(ware.diameter_mm, "mm"), show_in(stated.diameter_mm, "mm")
        return broken(
            f"The {case.names([channel])} takes a brush of {right}; {found} was used.", act, fix=_AGAIN
        )
    return None


@rule(
    id="cleaning.connected", title="Every port was connected", group=_GROUP,
    source="HSPA and IFU pattern: every channel, also those not used (recalled)", authority="default",
)  # fmt: skip
def connected(case: Case) -> Opinion:
    wanted = needs.ports(case.model)
    if not wanted:
        return not_applicable(f"The {case.model.name} has no channel.")
    act = case.course.latest("connected")
    if act is None:
        return unknown("Nothing says that the connector set was on.", fix="Connect every port.")
    missing = [
        port.name for port in case.model.ports if port.id in wanted and port.id not in act.body["ports"]
    ]
    if missing:
        return broken(f"Not connected: {', '.join(missing)}.", act, fix=_AGAIN)
    return met(f"All {len(wanted)} ports were connected.", act)


@rule(
    id="cleaning.aspirated", title="Detergent was drawn through", group=_GROUP,
    source="common practice, no source: 30 s after brushing", authority="default",
)  # fmt: skip
def aspirated(case: Case) -> Opinion:
    wanted = needs.aspirated(case.model)
    if not wanted:
        return not_applicable("Nothing is drawn through the channels of this model.")
    done = case.course.by_channel("aspirated")
    missing = [one for one in wanted if one not in done]
    if missing:
        return unknown(
            f"Not aspirated: {case.names(missing)}.", *done.values(), fix="Draw detergent through."
        )
    return long_enough(case, list(done.values()), "aspirate", "aspirated", _AGAIN)


@rule(
    id="cleaning.flushed", title="Every channel was flushed and seen running", group=_GROUP,
    source="common practice, no source: 95 s; every channel, also those not used (IFU pattern, recalled)",
    authority="default",
)  # fmt: skip
def flushed(case: Case) -> Opinion:
    unseen = [act for act in case.course.counting("flushed") if not act.body["seen_leaving"]]
    dry = [one for one in case.course.by_channel("flushed") if one not in case.course.flushed]
    if dry and unseen:
        return broken(
            f"No fluid was seen leaving: {case.names(dry)}.", *unseen, fix="Flush until it is seen leaving."
        )
    return channels_and_time(case, case.course.flushed, "flush", "flushed", "Flush every channel.")


@rule(
    id="cleaning.purged", title="Detergent was driven out with air", group=_GROUP,
    source="common practice, no source: a purge after the flush", authority="default",
)  # fmt: skip
def purged(case: Case) -> Opinion:
    done = case.course.by_channel("purged", after="flush")
    return channels_and_time(
        case, done, "purge", "purged after the flush", "Push the detergent out with air."
    )


@rule(
    id="cleaning.time", title="Cleaned for long enough", group=_GROUP,
    source="J Hosp Infect, 307 cultures (read): 5 min or less, odds ratio 1.61 (1.10 to 2.34); a trade page says 7 min",
    authority="default",
)  # fmt: skip
def long_cleaning(case: Case) -> Opinion:
    begun, end = case.cleaning, _end_of_cleaning(case)
    if begun is None or end is None:
        return unknown(
            "Nobody knows how long it was cleaned.", begun, fix="Clean it and record start and end."
        )
    floor = cleaning_floor(case.world, case.model, case.policy, begun)
    if floor is None:
        return not_applicable("Nobody states how long cleaning lasts.")
    lasted = elapsed_s(begun.happened_at, end.happened_at)
    sentence = f"Cleaned for {show_duration(lasted)}; at least {show_duration(floor.value)} is asked for."
    if lasted < floor.value:
        return broken(sentence, begun, end, fix=_AGAIN, target=floor)
    return met(sentence, begun, end, target=floor)


def _end_of_cleaning(case: Case) -> Event | None:
    """The start of the rinse; without channels, the end of the cleaning outside."""
    if not case.model.channels:
        return case.course.latest("exterior_cleaned")
    rinse = next(iter(case.course.counting("rinsed")), None)
    return None if rinse is None else case.course.start_of(rinse)


@rule(
    id="cleaning.alcohol-first", title="No alcohol before cleaning", group=_GROUP,
    source="SHEA multisociety guidance 2025 (read): no fixative at the point of use", authority="default",
)  # fmt: skip
def alcohol_first(case: Case) -> Opinion:
    if case.course.last("patient_use_ended") is None:
        return not_applicable("No patient: nothing was treated at a bedside.")
    act = case.course.last("point_of_use_treated")
    if act is None:
        return unknown("Nothing says how it was treated at the bedside.", fix="Record the bedside treatment.")
    if not act.body["alcohol_used"]:
        return met("No alcohol was used at the bedside.", act)
    proof = [one for one in case.course.counting("cleaning_verified") if one.body["result"] != "fail"]
    if proof:
        return met(
            "Alcohol was used at the bedside; a verification test after cleaning passed.", act, proof[-1]
        )
    return broken(
        "Alcohol was used at the bedside: it fixes protein, and nothing proves that it came off.",
        act,
        fix="Prove the cleaning by a verification test, before disinfection.",
    )
