"""A small invented house for the browser: people, endoscopes, open lots, charges, connector sets. No demo, no history.

Run as a script in the environment of the house (LUMENWARD_HOME); it prints what the tests need as JSON.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

PASSWORD = "heron at the river bend"
PIN = "2580"
SETS = ("set-gastro", "set-broncho", "set-duodeno", "set-colon", "set-echo", "set-uro")
PEOPLE = {
    "okafor": ("M. Okafor", "technician", "BADGE-OKAFOR"),
    "lindqvist": ("A. Lindqvist", "technician", "BADGE-LINDQVIST"),
    "moreau": ("C. Moreau", "lead", "BADGE-MOREAU"),
    "santos": ("R. Santos", "infection prevention", "BADGE-SANTOS"),
    "petrov": ("I. Petrov", "engineer", "BADGE-PETROV"),
    "aziz": ("N. Aziz", "viewer", "BADGE-AZIZ"),
}
ENDOSCOPES = {
    "heron-14": ("Heron 14", "sanderling-28", "ENDO-HERON-14"),
    "heron-09": ("Heron 09", "sanderling-28", "ENDO-HERON-09"),
    "wren-03": ("Wren 03", "dunlin-22", "ENDO-WREN-03"),
    "crane-02": ("Crane 02", "turnstone-42", "ENDO-CRANE-02"),
    "crane-04": ("Crane 04", "turnstone-42", "ENDO-CRANE-04"),
    "robin-07": ("Robin 07", "wagtail-34", "ENDO-ROBIN-07"),
    "swift-21": ("Swift 21", "phalarope-37", "ENDO-SWIFT-21"),
    "knot-02": ("Knot 02", "plover-12", "ENDO-KNOT-02"),
    "dunnock-16": ("Dunnock 16", "redshank-23", "ENDO-DUNNOCK-16"),
    "crane-08": ("Crane 08", "whimbrel-38", "ENDO-CRANE-08"),
    **{f"teal-{n:02d}": (f"Teal {n:02d}", "sanderling-28", f"ENDO-TEAL-{n:02d}") for n in range(1, 9)},
    "crane-05": ("Crane 05", "turnstone-42", "ENDO-CRANE-05"),
}
LOTS = {
    "lot-reedwash": ("reedwash", "detergents", "RW-2207", "LOT-RW-2207"),
    "lot-opa": ("opa-055", "disinfectants", "OP-118", "LOT-OP-118"),
    "lot-strip-opa": ("strip-opa", "strips", "SO-5", "LOT-SO-5"),
    "lot-br-30": ("br-30", "brushes", "B30-9", "LOT-B30-9"),
    "lot-br-18": ("br-18", "brushes", "B18-9", "LOT-B18-9"),
    "lot-br-50": ("br-50", "brushes", "B50-9", "LOT-B50-9"),
    "lot-kit": ("kit-atp-channel", "kits", "K-7", "LOT-K-7"),
}
LATE_LOT = ("lot-old", "reedwash", "detergents", "RW-1001", "LOT-RW-1001")


def make(root: Path) -> dict[str, Any]:
    """Fill the house whose settings are loaded; return names, codes and words the tests use."""
    from lumenward.equipment.loader import load_library, load_policy
    from lumenward.records import housekeeping
    from lumenward.records.roles import Actor

    now = datetime.now(UTC) - timedelta(minutes=5)
    lead = Actor("moreau", "C. Moreau", "lead")
    demo = root / "src" / "lumenward" / "demo"
    shell = housekeeping.SHELL
    for person, (name, role, badge) in PEOPLE.items():
        proofs = {"password": PASSWORD, "badge": badge, "pin": PIN}
        housekeeping.add_person(person, name, role, shell, now, **proofs)
    housekeeping.adopt_library(load_library(demo / "library"), shell, now)
    housekeeping.adopt_policy(load_policy(demo / "policy.toml"), "the house opens", shell, now)
    for person in PEOPLE:
        assessor = "okafor" if person == "moreau" else "moreau"
        shown = {"model": "*", "valid_until": "2099-12-31", "assessed_by": assessor}
        housekeeping.decide("competency_recorded", person, shown, shell, now)
    for endoscope, (name, model, code) in ENDOSCOPES.items():
        body = {"name": name, "model": model, "serial": code[-8:], "code": code}
        housekeeping.decide("endoscope_registered", endoscope, body, lead, now)
    charge = _supplies(now)
    return {"password": PASSWORD, "pin": PIN, "charge": charge}


def _supplies(now: datetime) -> str:
    """Open lots and connector sets, pour one charge and return its id."""
    from lumenward.ledger.uuid7 import make_id
    from lumenward.records import housekeeping
    from lumenward.records.roles import Actor

    lead = Actor("moreau", "C. Moreau", "lead")

    def tell(kind: str, subject: str, body: dict[str, Any]) -> None:
        housekeeping.decide(kind, subject, body, lead, now, "sink-1")

    for lot, (product, shelf, number, code) in LOTS.items():
        tell(
            "lot_opened",
            lot,
            {"product": product, "shelf": shelf, "lot": number, "expires": "2099-12-31", "code": code},
        )
    tell("strips_checked", "lot-strip-opa", {"full_strength_passed": 3, "diluted_failed": 3})
    for number, kind in enumerate(SETS, start=1):
        tell("connector_set_opened", f"cs-{number}", {"kind": kind, "code": f"SET-{number}"})
    charge = str(make_id(int(now.timestamp() * 1000)))
    _pour(charge, lead, now)
    return charge


def _pour(charge: str, lead: Any, now: datetime) -> None:
    from lumenward.records.service import Act, record_one

    said = {
        "id": charge, "kind": "charge_poured", "version": 1, "subject": charge, "person": lead.id, "station": "sink-1",
        "happened_at": now.isoformat(),
        "body": {"basin": "basin-1", "disinfectant": "opa-055", "lot": "lot-opa", "volume_l": 12},
    }  # fmt: skip
    answer = record_one(Act(said), lead, now)
    assert answer.answer == "recorded", answer.error and answer.error.as_dict()


if __name__ == "__main__":
    import os
    import sys

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lumenward.records.settings")
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0, interactive=False)
    sys.stdout.write(json.dumps(make(Path(__file__).parents[2])))
