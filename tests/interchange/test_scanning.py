"""A scan is named in words; what must not be used is refused with a sentence."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from lumenward.interchange.codes import read_code
from lumenward.interchange.scanning import Scan, scan
from lumenward.quantities import Refusal
from lumenward.records import accounts
from lumenward.records.world import StoredWorld

GS = "\x1d"
NOW = datetime.now(UTC)
REED = "09501101531017"


def holder(code: str) -> tuple[str, str] | None:
    actor = accounts.actor_of_badge(code)
    return (actor.id, actor.name) if actor else None


def look(text: str, expects: str = "", now: datetime = NOW) -> Scan:
    return scan(text, expects, StoredWorld(), holder, now, "Europe/London")


def refusal(text: str, expects: str = "") -> Refusal:
    with pytest.raises(Refusal) as caught:
        look(text, expects)
    return caught.value


def gs1(gtin: str, lot: str, expiry: str, rest: str = "") -> str:
    return f"]d201{gtin}17{expiry}10{lot}{rest}"


@pytest.mark.parametrize(
    ("code", "kind", "thing"),
    [
        ("E-sanderling-28", "endoscope", "one-sanderling-28"),
        ("B-MIRA", "person", "mira"),
        ("L-reedwash", "lot", "lot-reedwash"),
        ("CS-set-gastro", "connector-set", "cs-set-gastro"),
        ("STN-SINK-1", "sink", "sink-1"),
        ("BR-18", "brush", "br-18"),
    ],
)
def test_each_kind_of_label_is_known(house, code, kind, thing) -> None:
    found = look(code)
    assert (found.kind, found.id, found.usable) == (kind, thing, True)
    assert look(code, kind) == found


def test_every_coded_thing_of_the_library_is_found_by_its_code(house) -> None:
    library = StoredWorld().library()
    shelves = {
        "sinks": "sink",
        "washers": "washer",
        "dryers": "dryer",
        "cabinets": "cabinet",
        "meters": "meter",
        "kits": "kit",
    }
    for shelf, kind in shelves.items():
        for thing in getattr(library, shelf):
            assert (look(thing.code, kind).kind, look(thing.code, kind).id) == (kind, thing.id)


@pytest.mark.parametrize("ending", ["", "\r", "\n", "\r\n", "\t", "  ", "\x00"])
def test_what_a_scanner_adds_at_the_end_does_not_matter(house, ending) -> None:
    assert look("E-sanderling-28" + ending).id == "one-sanderling-28"


def test_a_basin_is_its_charge_where_a_charge_is_asked_for(house) -> None:
    world = StoredWorld()
    charge = world.charges()[0]
    basin = next(one for one in world.library().basins if one.id == charge.basin)
    assert (look(basin.code, "charge").id, look(basin.code, "basin").id) == (charge.id, basin.id)


def test_an_endoscope_is_known_by_item_number_and_serial_together_only(house) -> None:
    gtin = StoredWorld().library().model("sanderling-28").gtin
    assert look(f"]d201{gtin}21S1", "endoscope").id == "one-sanderling-28"
    assert refusal(f"]d201{gtin}", "endoscope").code == "no-serial"
    assert refusal(f"]d201{gtin}21S2", "endoscope").code == "unknown-code"


def test_a_lot_is_known_by_its_item_number_and_lot(house) -> None:
    found = look(gs1(REED, "A1", "350101"), "lot")
    assert (found.kind, found.id, found.usable) == ("lot", "lot-reedwash", True)
    assert found.parts == {"gtin": REED, "lot": "A1", "expiry": "2035-01-01", "serial": ""}


@pytest.mark.parametrize("expects", ["endoscope", "person", "charge", "cabinet"])
def test_a_wrong_kind_of_code_is_named_in_words(house, expects) -> None:
    found = refusal("STN-SINK-1", expects)
    assert found.code == "wrong-kind"
    assert found.message.startswith("This is Sink 1, a sink; a")


def test_an_expired_lot_is_refused_with_its_date(house) -> None:
    found = look("L-reedwash", now=NOW + timedelta(days=400))
    assert not found.usable and found.why_not.startswith("this lot expired on ")
    assert found.why_not in found.sentence


def test_a_label_that_expires_before_the_entered_date_counts(house) -> None:
    day = (NOW - timedelta(days=2)).strftime("%y%m%d")
    assert "expired" in look(gs1(REED, "A1", day), "lot").why_not


def test_a_lot_is_usable_on_its_last_day_in_the_zone_of_the_house(house) -> None:
    expires = StoredWorld().lot("lot-reedwash").expires
    last = datetime(expires.year, expires.month, expires.day, 12, tzinfo=UTC)
    assert look("L-reedwash", now=last).usable
    assert not look("L-reedwash", now=last + timedelta(days=1)).usable


def test_an_unknown_lot_and_an_unknown_product_are_told_apart(house) -> None:
    unknown = refusal(gs1(REED, "B2", "350101"), "lot")
    assert (unknown.code, unknown.message) == (
        "unknown-lot",
        "Lot B2 of Reedwash enzymatic was not opened here.",
    )
    assert refusal(gs1("09501101530003", "B2", "350101"), "lot").code == "unknown-product"
    assert "expired" in refusal(gs1(REED, "B2", "200101"), "lot").message


def test_a_withdrawn_lot_is_refused_with_the_reason(house) -> None:
    house.do("lot_withdrawn", "lot-reedwash", {"reason": "recalled by the maker"})
    found = look("L-reedwash", "lot")
    assert not found.usable and "withdrawn: recalled by the maker" in found.why_not


def test_a_held_endoscope_is_recognised_and_not_usable(house) -> None:
    house.do("held", "one-sanderling-28", {"reason": "leak found"})
    found = look("E-sanderling-28")
    assert not found.usable and "leak found" in found.sentence


def test_a_lost_separator_is_named(house) -> None:
    found = refusal(gs1(REED, "A1", "350101", "21SN77"), "lot")
    assert found.code == "lost-separator" and "ASCII 29" in found.hint


def test_a_code_that_came_twice_is_named(house) -> None:
    assert refusal("E-sanderling-28" * 2).code == "scanned-twice"


def test_a_truncated_code_is_not_taken_for_another(house) -> None:
    for cut in range(1, len("E-sanderling-28")):
        with pytest.raises(Refusal):
            look("E-sanderling-28"[:cut], "endoscope")


@pytest.mark.parametrize(
    ("text", "code"),
    [("", "empty-code"), ("\r\n\t", "empty-code"), ("x" * 201, "long-code"), ("nothing", "unknown-code"),
     ("+A999BJ5D6E71/$$3", "unread-code"), ("🫧", "unknown-code"), ("0109501101530004", "wrong-check-digit"),
     ("010950110153000317281331", "bad-date"), (f"]d2{GS}", "bad-code"), ("(01)12", "bad-code"),
     ("https://x", "bad-code")],
)  # fmt: skip
def test_what_cannot_be_a_code_here_is_refused_in_a_sentence(house, text, code) -> None:
    found = refusal(text)
    assert found.code == code and found.message.endswith(".")


def test_a_case_reference_is_taken_as_it_is(house) -> None:
    assert look("CASE-2291", "case").id == "CASE-2291"


def test_no_scan_of_any_text_ends_in_anything_but_a_code_or_a_refusal(house) -> None:
    import random

    draw = random.Random(7)
    alphabet = "019()]dC1" + GS + "AZaz-+/%\u202e"
    world: Any = StoredWorld()
    for _ in range(1500):
        text = "".join(draw.choice(alphabet) for _ in range(draw.randrange(40)))
        try:
            scan(text, "", world, lambda code: None, NOW, "UTC")
        except Refusal as found:
            assert found.message


def test_the_raw_scan_stays_beside_its_parts() -> None:
    raw = "]d20109501101530003\r"
    assert (read_code(raw).raw, read_code(raw).plain) == (raw, "0109501101530003")
