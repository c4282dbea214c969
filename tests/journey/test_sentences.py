"""What a record says of each event."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest
from planned_house import House

from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS
from lumenward.journey.sentences import sentence
from lumenward.quantities import THIN

SCOPE = "turnstone-42"


@dataclass
class Told:
    """A finished cycle and what it says, one sentence a kind (the last of each)."""

    house: House = field(default_factory=House)

    def __post_init__(self) -> None:
        self.house.tablet(SCOPE).work()
        self.said = {event.kind: self.say(event) for event in self.house.world.events()}

    def say(self, event: Event) -> str:
        return sentence(event, self.house.world).replace(THIN, " ")

    def of(self, kind: str, body: dict[str, Any], subject: str = SCOPE) -> str:
        """Return what an event says that was not recorded."""
        last = self.house.world.events()[-1]
        return self.say(last.model_copy(update={"kind": kind, "body": body, "subject": subject}))


@pytest.fixture(scope="module")
def told() -> Told:
    return Told()


def test_a_brushing_names_channel_brush_lot_passes_and_time(told: Told) -> None:
    event = next(e for e in told.house.world.events() if e.kind == "channel_brushed")
    start = told.house.world.event(event.body["started"])
    assert start is not None
    seconds = int((event.happened_at - start.happened_at).total_seconds())
    expected = f"Brushed the suction channel with channel brush 6.0 mm (lot A1), 3 passes, {seconds} s."
    assert told.say(event) == expected


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("received", "Received at Sink 1."),
        ("leak_tested", "Leak test under water, at 20 kPa"),
        ("detergent_dosed", "of Mereclean neutral (lot A1) into 4.99 L of water at 15 °C in Clean container A"),
        ("cleaning_started", "Cleaning began in 2 fresh mixes of detergent."),
        ("exterior_cleaned", "the elevator's recess raised and lowered"),
        ("connected", "suction valve, biopsy port, air valve, water inlet and elevator wire port"),
        ("flushed", "Flushed all 5 channels with detergent, 2 min 1 s; fluid seen leaving."),
        ("purged", "Air through all 5 channels after the rinse"),
        ("rinsed", "with mains water, softened"),
        ("inspected", "Inspected by magnifier and borescope: clean and whole."),
        ("cleaning_verified", "Cleaning verification with ATP channel sample, elevator recess: 0 RLU, passes."),
        ("mec_tested", "Tested Basin 1 (Improved hydrogen peroxide 2.0 %, house label)"),
        ("hld_started", "at 20 °C"),
        ("hld_ended", "after 8 min 1 s"),
        ("final_rinsed", "of filtered rinse water"),
        ("dried", "no drops on dark paper: dry."),
        ("stored", "Put in Drying cabinet 1."),
        ("released", "Released for a patient, ready until 3 March 2026"),
        ("charge_poured", "into Basin 3."),
        ("person_added", "Added Tom as technician."),
        ("competency_recorded", "for every model by demonstration, until 31 January 2027; assessed by chief."),
        ("lot_opened", "lot A1, good until 31 January 2027."),
        ("strips_checked", "3 passed at full strength, 3 failed when diluted"),
    ],
)  # fmt: skip
def test_each_act_of_a_cycle_says_what_was_done(told: Told, kind: str, words: str) -> None:
    assert words in told.said[kind]


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        ("patient_use_ended", {"case": "C-1", "time_known": False}, "Nobody knows when it ended."),
        ("leak_tested", {"method": "dry", "result": "leak", "where": "bending"}, "it leaks. Where: bending."),
        ("hld_ended", {"charge": "c", "temperature_c": 20, "result": "cut short"}, "Cut short: it does not count."),
        ("machine_cycle_ended", {"washer": "washer-1", "program": "p", "result": "aborted"}, "did not finish"),
        ("dried", {"dryer": "dryer-1", "check": "borescope", "result": "moisture seen"}, "a drop was still seen"),
        ("held", {"reason": "recall", "note": "lot 7"}, "Held: recall. Note: lot 7."),
        ("work_interrupted", {"step": "purge-flush", "reason": "alarm"}, "“purge flush” was interrupted: alarm."),
        ("handed_over", {"from_person": "tom"}, "Took over from Tom."),
        ("corrected", {"event": "none", "reason": "a slip"}, "Corrected an act: a slip. It did not happen."),
        ("taken_for_use", {"case": "C-9", "room": "3"}, "Taken to 3 for case C-9."),
        ("delay_branch_taken", {"instruction": "Soak first.", "agreed_by": "ana"}, "agreed by Ana. Soak first."),
        ("sent_for_repair", {"reason": "torn."}, "Sent for repair: torn."),
        ("library_adopted", {"digest": "abcdef0123456789", "document": {}}, "The equipment library abcdef012345 came"),
        ("policy_adopted", {"digest": "abcdef0123456789", "document": {}, "reason": "new"}, "came into force: new."),
        ("demo_loaded", {"seed": 1, "days": 90}, "An invented house of 90 days was loaded."),
        ("something_new", {}, "Something new."),
    ],
)  # fmt: skip
def test_what_went_wrong_and_what_is_rare_is_said_as_plainly(
    told: Told, kind: str, body: dict[str, Any], words: str
) -> None:
    assert words in told.of(kind, body)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_has_a_sentence_even_where_nothing_it_names_is_known(told: Told, kind: str) -> None:
    body = told_body(kind, told)
    said = told.of(kind, body, subject="unknown")
    assert said.endswith(".") and "None" not in said and ".." not in said
    assert said != f"{kind.replace('_', ' ').capitalize()}."


def told_body(kind: str, told: Told) -> dict[str, Any]:
    """Return a body the kind's schema accepts, with the least that must be in it."""
    schema = KINDS[kind].body.model_json_schema()
    made = {name: example(schema["properties"][name], schema) for name in schema.get("required", [])}
    return KINDS[kind].body.model_validate(made).model_dump(mode="json", exclude_none=True)


def example(spec: dict[str, Any], schema: dict[str, Any]) -> Any:
    """Return the simplest value a JSON schema allows."""
    if "enum" in spec:
        return spec["enum"][0]
    if "const" in spec:
        return spec["const"]
    if spec.get("pattern") == r"^[0-9a-f]{64}$":
        return "a" * 64
    if spec.get("format") == "date":
        return "2027-01-31"
    kinds = {"string": "2026-03-03T10:00:00+00:00", "boolean": True, "object": {}}
    if spec["type"] == "array":
        return [example(spec["items"], schema)]
    if spec["type"] in ("number", "integer"):
        return max(spec.get("minimum", 1), 1)
    return kinds[spec["type"]]
