"""Inspection and cleaning verification."""

from __future__ import annotations

from lumenward.equipment.fittings import VerificationKit
from lumenward.journey import needs
from lumenward.journey.event import Event
from lumenward.journey.legality import lots
from lumenward.journey.legality.desk import Desk
from lumenward.quantities import show_number


def inspected(desk: Desk) -> None:
    """After the rinse, with the tools that IFU and policy ask for, once clean in a round."""
    _before_disinfection(desk)
    desk.not_twice(
        desk.course.latest("inspected", result="clean and whole"),
        "The inspection",
        "Nothing is lost. What was seen since is recorded as a hold.",
    )
    rinsed_and_purged(desk)
    if desk.body["result"] == "clean and whole" and needs.borescope(desk.model, desk.policy):
        _with_borescope(desk)


def _with_borescope(desk: Desk) -> None:
    if "borescope" in desk.body["tools"]:
        return
    by_ifu = desk.model.ifu.borescope
    desk.no(
        "borescope",
        f"The {desk.model.name} is looked into with a borescope"
        f" ({'IFU: ' + desk.model.ifu.document if by_ifu else 'policy: ' + desk.policy.borescope_source}).",
        "body.tools",
        "Look into the channels, then record both tools.",
    )


def verified(desk: Desk) -> None:
    """After the rinse; the result is what the kit's own limits make of the value."""
    _before_disinfection(desk)
    rinsed_and_purged(desk)
    kit = desk.thing("kits", desk.body["kit"], VerificationKit, "body.kit", "verification kit")
    if desk.body.get("lot"):
        lots.usable(desk, desk.body["lot"], "kits", kit.id, "body.lot")
    earned = grade(kit, desk.body["value"])
    if earned != desk.body["result"]:
        desk.no(
            "wrong-result",
            f"{show_number(desk.body['value'])} {kit.unit} counts as {earned}: alert from {kit.alert:g},"
            f" fail from {kit.action:g} {kit.unit} ({kit.name}, {kit.page}).",
            "body.result",
            f"Record it as {earned}, or check the value.",
        )


def grade(kit: VerificationKit, value: float) -> str:
    """Return what a value means by the limits of its own kit; at a limit it counts as reached."""
    if value >= kit.action:
        return "fail"
    return "alert" if value >= kit.alert else "pass"


def rinsed_and_purged(desk: Desk) -> None:
    """Refuse what comes before every channel, or the outside where there is none, is rinsed and purged."""
    everything = needs.channels(desk.model)
    if not everything:
        desk.need(
            desk.course.latest("exterior_cleaned"), "The outside was not cleaned yet.", "Clean it first."
        )
        desk.need(desk.course.latest("rinsed"), "The outside was not rinsed yet.", "Rinse it first.")
        return
    _all(desk, desk.course.by_channel("rinsed"), everything, "Not rinsed yet", "Rinse every channel first.")
    purged = desk.course.by_channel("purged", after="rinse")
    _all(desk, purged, everything, "Not purged after the rinse yet", "Push the water out with air first.")


def _all(desk: Desk, done: dict[str, Event], channels: list[str], missing: str, hint: str) -> None:
    open_ones = [one for one in channels if one not in done]
    if open_ones:
        desk.no("out-of-order", f"{missing}: {desk.names(open_ones)}.", "kind", hint)
    desk.builds_on.extend(done[one] for one in channels)


def _before_disinfection(desk: Desk) -> None:
    pair = desk.course.disinfection
    begun = pair[0] if pair else desk.course.under_way
    if begun is not None:
        desk.no(
            "out-of-order",
            f"Disinfection began {desk.done(begun)}; this comes before it.",
            "kind",
            "Go on with the next step.",
        )
