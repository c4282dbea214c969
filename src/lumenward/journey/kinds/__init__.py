"""Every event kind: its body, what it is about, and how a person reads it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from lumenward.equipment.finding import Finding
from lumenward.equipment.wording import findings
from lumenward.journey.event import Event
from lumenward.journey.kinds import bedside, cleaning, disinfection, house, supplies
from lumenward.journey.kinds.base import Body
from lumenward.quantities import Refusal


@dataclass(frozen=True)
class Kind:
    """One kind of event. `about` is the kind of its subject; `in_cycle` says that it belongs to a cycle."""

    name: str
    body: type[Body]
    about: str
    in_cycle: bool
    opens_cycle: bool = False


def _named(body: type[Body]) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "_", body.__name__).lower()


_CYCLE = (
    bedside.PointOfUseTreated, bedside.Sent, bedside.Received, bedside.DelayBranchTaken, cleaning.StepStarted,
    cleaning.LeakTested, cleaning.DetergentDosed, cleaning.CleaningStarted, cleaning.ExteriorCleaned,
    cleaning.ChannelBrushed, cleaning.Connected, cleaning.Aspirated, cleaning.Flushed, cleaning.Purged,
    cleaning.Rinsed, cleaning.Disconnected, cleaning.Inspected, cleaning.CleaningVerified, disinfection.HldStarted,
    disinfection.HldEnded, disinfection.MachineCycleStarted, disinfection.MachineCycleEnded,
    disinfection.FinalRinsed, disinfection.AlcoholFlushed, disinfection.Dried, disinfection.Stored,
    disinfection.Released, disinfection.TakenForUse, disinfection.WorkInterrupted, disinfection.HandedOver,
)  # fmt: skip
_ENDOSCOPE = (
    disinfection.Held, disinfection.HoldLifted, disinfection.SentForRepair, disinfection.ReturnedFromRepair,
    disinfection.LoanEnded, disinfection.Retired, house.EndoscopeRegistered,
)  # fmt: skip
_OPENING = (bedside.PatientUseEnded, bedside.ReprocessingRequired)
_ABOUT: dict[type[Body], str] = {
    disinfection.Corrected: "event",
    supplies.LotOpened: "lot",
    supplies.LotWithdrawn: "lot",
    supplies.StripsChecked: "lot",
    supplies.ChargePoured: "charge",
    supplies.MecTested: "charge",
    supplies.ChargeDiscarded: "charge",
    supplies.ConnectorSetOpened: "connector-set",
    supplies.ConnectorSetDiscarded: "connector-set",
    supplies.BatchDiscarded: "batch",
    house.PersonAdded: "person",
    house.PersonLeft: "person",
    house.RoleGiven: "person",
    house.CompetencyRecorded: "person",
    house.LibraryAdopted: "house",
    house.PolicyAdopted: "house",
    house.DemoLoaded: "house",
    house.DemoRemoved: "house",
}

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        *(Kind(_named(b), b, "endoscope", True, True) for b in _OPENING),
        *(Kind(_named(b), b, "endoscope", True) for b in _CYCLE),
        *(Kind(_named(b), b, "endoscope", False) for b in _ENDOSCOPE),
        *(Kind(_named(b), b, about, False) for b, about in _ABOUT.items()),
    )
}

_AS_THE_MANUAL_SAYS = "The manual's page Events names the fields of every kind."


def check_body(event: Event) -> dict[str, Any]:
    """Return the body as its kind's schema keeps it, or raise a Refusal naming the field."""
    kind = KINDS.get(event.kind)
    if kind is None:
        raise Refusal("unknown-kind", f"There is no kind of event called {event.kind!r}.", "kind")
    if event.version != 1:
        raise Refusal(
            "unknown-version", f"Version {event.version} of {event.kind} is not known here.", "version"
        )
    try:
        body = kind.body.model_validate(event.body)
    except ValidationError as error:
        raise _refused(event, findings(error, kind.body, event.body)[0]) from None
    return body.model_dump(mode="json", exclude_none=True)


def _refused(event: Event, found: Finding) -> Refusal:
    where = ".".join(str(part) for part in found.path)
    message = f"{where or event.kind}: {found.message}."
    return Refusal("bad-body", message, f"body.{where}" if where else "body", _AS_THE_MANUAL_SAYS)
