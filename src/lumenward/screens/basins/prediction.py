"""How many endoscopes a charge can still take, learned from the tests of this basin. It never replaces a test."""

from __future__ import annotations

from dataclasses import dataclass

from lumenward.chemistry.basin_history import Instrument, Learned, Reading, learn
from lumenward.equipment.fittings import Disinfectant
from lumenward.journey.states import ChargeState
from lumenward.quantities import Refusal
from lumenward.records.models import Projection

CHARGES = 10  # how many charges back the basin's own history is read
ASSUMED = Instrument(reading_spread=0.1, start_spread=0.05)
"""Common practice, no source: a reading strays by 10 %, a fresh charge by 5 % of its label's strength."""


@dataclass(frozen=True)
class Prediction:
    """The last cycle whose test still passes, with its 95 % interval, and what it rests on."""

    learned: Learned
    tests: int
    charges: int

    @property
    def sentence(self) -> str:
        """The prediction in words."""
        found = self.learned
        if found.says_little:
            return f"The tests so far say little: anything from {found.low} to {found.high} cycles in all."
        return (
            f"About {found.median} cycles in all, between {found.low} and {found.high} with 95 % probability."
        )

    @property
    def basis(self) -> str:
        """What it was computed from, and what was assumed."""
        charges = "1 charge" if self.charges == 1 else f"{self.charges} charges"
        return (
            f"Computed from {self.tests} tests of {charges} of this basin; assumed: a reading strays by 10 %, a fresh "
            "charge by 5 %. It never replaces the test before use, nor the reuse life."
        )


def predict(found: ChargeState, label: Disinfectant) -> Prediction | None:
    """Return how far this charge goes, or None where the label states no minimum or nothing was tested yet."""
    if label.mec_percent is None:
        return None
    history = [reading for charge in _alike(found) for reading in _readings(charge)]
    if not history:
        return None
    try:
        learned = learn(history, label.strength_percent, label.mec_percent, ASSUMED, found.id)
    except Refusal:
        return None
    return Prediction(learned, len(history), len({reading.charge for reading in history}))


def _alike(found: ChargeState) -> list[ChargeState]:
    rows = Projection.objects.filter(about="charge", state__contains=f'"basin":"{found.basin}"').order_by(
        "-latest"
    )
    charges = (ChargeState.model_validate_json(row.state) for row in rows[: 4 * CHARGES])
    alike = [one for one in charges if (one.basin, one.disinfectant) == (found.basin, found.disinfectant)]
    return alike[:CHARGES]


def _readings(charge: ChargeState) -> list[Reading]:
    return [
        Reading(
            cycles=sum(1 for stay in charge.stays if stay.start < test.at), percent=test.percent,
            passed=None if test.percent is not None else test.result == "pass", charge=charge.id,
        )
        for test in charge.tests
    ]  # fmt: skip
