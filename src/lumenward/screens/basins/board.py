"""What the screen Basins knows: each basin with its charge, whether it may take the next endoscope, and why not."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from lumenward.equipment.fittings import Basin, Disinfectant
from lumenward.journey import clocks, saying
from lumenward.journey.clocks import Clock
from lumenward.journey.legality.lots import recent_pass
from lumenward.journey.states import ChargeState, Immersion, MecTest
from lumenward.quantities import Refusal, show_duration
from lumenward.records.world import StoredWorld
from lumenward.screens.basins.prediction import Prediction, predict

STAYS = 8  # how many of the last endoscopes stand on the page; all are in the records


@dataclass(frozen=True)
class Test:
    """One concentration test."""

    at: datetime
    result: str
    strips: str
    percent: float | None
    temperature_c: float | None


@dataclass(frozen=True)
class Stay:
    """One endoscope's time in the charge."""

    name: str
    cycle: str
    start: datetime
    lasted: str


@dataclass(frozen=True)
class Charge:
    """One fill of a basin as it stands now. `word`: "ready", "soon", "late" or "" for one that needs a test."""

    id: str
    product: str
    lot: str
    volume_l: float
    poured_at: datetime
    age: str
    word: str
    sentence: str
    reuse: Clock | None
    reuse_word: str
    reuse_left: str
    test_asked: bool
    minimum: float | None
    tests: list[Test]
    stays: list[Stay]
    cycles: int
    prediction: Prediction | None


@dataclass(frozen=True)
class Place:
    """One basin."""

    basin: Basin
    charge: Charge | None


@dataclass(frozen=True)
class Board:
    """The whole screen."""

    headline: str
    places: list[Place]
    orphans: list[Charge] = field(default_factory=list)


def board(now: datetime) -> Board:
    """Return every basin of the library with the charge in it."""
    world = StoredWorld()
    charges = {one.basin: one for one in world.charges()}
    basins = _basins(world)
    places = [Place(basin, _charge(world, charges.get(basin.id), now)) for basin in basins]
    return Board(_headline(places), places)


def _basins(world: StoredWorld) -> list[Basin]:
    try:
        return list(world.library().basins)
    except Refusal:  # a house without a library yet: the page says what will stand there
        return []


def charge(world: StoredWorld, charge_id: str, now: datetime) -> Charge | None:
    """Return one charge that was not emptied."""
    found = next((one for one in world.charges() if one.id == charge_id), None)
    return _charge(world, found, now)


def label_of(world: StoredWorld, found: ChargeState) -> Disinfectant | None:
    """Return what the library says of the disinfectant in a charge."""
    return next((one for one in world.library().disinfectants if one.id == found.disinfectant), None)


def _charge(world: StoredWorld, found: ChargeState | None, now: datetime) -> Charge | None:
    if found is None or found.poured_at is None:
        return None
    label = label_of(world, found)
    reuse = clocks.reuse(label, found.poured_at) if label else None
    word, sentence = _standing(world, found, label, reuse, now)
    lot = world.lot(found.lot)
    return Charge(
        id=found.id, product=label.name if label else found.disinfectant, lot=lot.lot if lot else found.lot,
        volume_l=found.volume_l, poured_at=found.poured_at, age=show_duration(clocks.elapsed_s(found.poured_at, now)),
        word=word, sentence=sentence, reuse=reuse, reuse_word=reuse.word(now) if reuse else "",
        reuse_left=show_duration(abs(reuse.left_s(now))) if reuse else "",
        test_asked=label is None or label.mec_percent is not None, minimum=label.mec_percent if label else None,
        tests=[_test(world, one) for one in reversed(found.tests)],
        stays=[_stay(world, one, now) for one in reversed(found.stays[-STAYS:])], cycles=len(found.stays),
        prediction=predict(found, label) if label else None,
    )  # fmt: skip


def _standing(
    world: StoredWorld, found: ChargeState, label: Disinfectant | None, reuse: Clock | None, now: datetime
) -> tuple[str, str]:
    inside = next((one for one in found.stays if one.end is None), None)
    if inside is not None:
        since = show_duration(clocks.elapsed_s(inside.start, now))
        return "", f"{saying.endoscope(world, inside.endoscope)} has been in it for {since}."
    if found.tests and found.tests[-1].result == "fail":
        return "late", "Its last concentration test failed: empty it."
    if reuse is not None and reuse.word(now) == "late":
        return "late", f"Its reuse life ended {show_duration(-reuse.left_s(now))} ago: empty it."
    if label is not None and label.single_use and found.stays:
        return "late", "It is for single use and has served: empty it."
    if label is not None and label.mec_percent is None:
        return "ready", "It may take the next endoscope; its label asks for no test."
    if recent_pass(world.policy().mec_test, found, now) is None:
        return "soon", "It needs a passing test before the next endoscope."
    return "ready", "It may take the next endoscope: its test passed."


def _test(world: StoredWorld, one: MecTest) -> Test:
    lot = world.lot(one.strip_lot)
    return Test(one.at, one.result, lot.lot if lot else one.strip_lot, one.percent, one.temperature_c)


def _stay(world: StoredWorld, one: Immersion, now: datetime) -> Stay:
    lasted = show_duration(clocks.elapsed_s(one.start, one.end or now))
    return Stay(
        saying.endoscope(world, one.endoscope),
        one.cycle,
        one.start,
        lasted if one.end else f"{lasted} so far",
    )


def _headline(places: list[Place]) -> str:
    told = [f"{place.basin.name}: {_short(place.charge)}" for place in places]
    return ". ".join(told) + "." if told else "No basin is known yet."


def _short(found: Charge | None) -> str:
    if found is None:
        return "empty"
    inside = bool(found.stays) and found.stays[0].lasted.endswith("so far")
    words = {"ready": "ready for the next", "soon": "test it first", "late": "empty it"}
    return "in use" if inside else words.get(found.word, found.sentence)
