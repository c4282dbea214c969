"""The invented unit: its people and its fleet. Nobody and nothing here exists."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Invented:
    """One invented person. `competent` lists models, `*` all; `until_days` counts from the day of loading."""

    id: str
    name: str
    role: str
    badge: str
    pin: str
    competent: tuple[str, ...] = ()
    until_days: int = 200


PEOPLE = (
    Invented("mira", "Mira Tansley", "technician", "BADGE-1101", "4711", ("*",)),
    Invented("jonas", "Jonas Reddick", "technician", "BADGE-1102", "2580", ("*",)),
    Invented("adaeze", "Adaeze Morrow", "technician", "BADGE-1103", "1379", ("*",), 21),
    Invented(
        "luka", "Luka Brandreth", "technician", "BADGE-1104", "8642",
        ("sanderling-28", "whimbrel-38", "wagtail-34", "dunlin-22"),
    ),
    Invented("priya", "Priya Vale", "lead", "BADGE-1201", "9041", ("*",)),
    Invented("ines", "Ines Duarte-Holm", "infection prevention", "BADGE-1301", "7215", ()),
    Invented("tomas", "Tomas Wick", "engineer", "BADGE-1401", "6330", ()),
    Invented("noor", "Noor Ashby", "viewer", "BADGE-1501", "5150", ()),
)  # fmt: skip
TECHNICIANS = tuple(person for person in PEOPLE if person.role == "technician")
LEAD = next(person for person in PEOPLE if person.role == "lead")
ENGINEER = next(person for person in PEOPLE if person.role == "engineer")


@dataclass(frozen=True)
class Scope:
    """One invented endoscope."""

    id: str
    name: str
    model: str
    serial: str
    owner: str = "own"

    @property
    def code(self) -> str:
        """What its label carries."""
        return f"EN-{self.id.upper()}"


# nickname of the family at this unit, model, numbers painted on the boots
_FAMILIES = (
    ("Heron", "sanderling-28", (1, 3, 5, 9, 11, 14, 17, 20)),
    ("Crane", "whimbrel-38", (2, 4, 6, 8, 12, 15, 21)),
    ("Wren", "turnstone-42", (3, 7, 10)),
    ("Swift", "phalarope-37", (8, 21)),
    ("Finch", "dunlin-22", (1, 2, 6, 13)),
    ("Teal", "redshank-23", (4, 5, 16)),
    ("Knot", "plover-12", (2, 9)),
    ("Robin", "wagtail-34", (1, 7)),
)


def _fleet() -> tuple[Scope, ...]:
    found = []
    for family, (nickname, model, numbers) in enumerate(_FAMILIES):
        for number in numbers:
            serial = f"{model.split('-')[0][:2].upper()}{31000 + 700 * family + 13 * number}"
            owner = "loan" if (nickname, number) == ("Heron", 20) else "own"
            found.append(
                Scope(f"{nickname.lower()}-{number:02d}", f"{nickname} {number:02d}", model, serial, owner)
            )
    return tuple(found)


FLEET = _fleet()


def of_model(model: str) -> list[Scope]:
    """Return the endoscopes of one model."""
    return [scope for scope in FLEET if scope.model == model]
