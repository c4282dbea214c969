"""From the patient to the door of the reprocessing room."""

from __future__ import annotations

from typing import Literal

from lumenward.journey.kinds.base import Body, Ref, Words


class PatientUseEnded(Body):
    """Opens a cycle; happened_at is the end of use. `case` is a reference, never a name."""

    case: Ref
    room: Ref | None = None
    time_known: bool = True
    bladder_cancer_history: Literal["no", "yes", "not asked"] | None = None
    prion_risk: bool = False


class ReprocessingRequired(Body):
    """Opens a cycle without a patient."""

    reason: Literal[
        "hang time over", "loan in", "back from repair", "new", "dropped or touched", "storage failed", "policy",
        "culture", "recalled",
    ]  # fmt: skip
    note: Words | None = None


class PointOfUseTreated(Body):
    """The bedside treatment."""

    product: Words
    kept_moist: bool
    alcohol_used: bool = False


class Sent(Body):
    """Left the procedure room in a closed container."""

    container: Ref | None = None
    closed_labelled: bool
    sharps_removed: bool


class Received(Body):
    """Arrived at the dirty side."""

    place: Ref


class DelayBranchTaken(Body):
    """The delay limit had passed, or the end of use is unknown: the IFU's delayed protocol is followed."""

    instruction: Words
    agreed_by: Ref
