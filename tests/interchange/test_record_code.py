"""The short code on a print: what it stands for, how it is typed, what its picture says."""

from __future__ import annotations

import numpy as np
import pytest

from lumenward.interchange.record_code import acts_covered, payload, picture, read_payload, short_code, tidy
from lumenward.ledger.merkle import leaf_hash
from lumenward.quantities import Refusal

CYCLE = "01a20fbb-dd4d-7028-b51d-4532fe318027"
LEAVES = [leaf_hash(bytes([number])).hex() for number in range(7)]


def test_a_code_covers_the_acts_that_were_there_when_it_was_printed() -> None:
    printed = short_code(LEAVES[:4])
    assert acts_covered(printed, LEAVES) == 4
    assert acts_covered(short_code(LEAVES), LEAVES) == 7


def test_a_code_of_other_acts_covers_nothing() -> None:
    changed = [LEAVES[0], leaf_hash(b"changed").hex(), *LEAVES[2:]]
    assert acts_covered(short_code(changed), LEAVES) is None
    assert acts_covered(short_code([]), LEAVES) is None
    assert acts_covered("", LEAVES) is None


def test_the_order_of_the_acts_is_part_of_the_code() -> None:
    assert short_code(LEAVES) != short_code(LEAVES[::-1])


@pytest.mark.parametrize("typed", ["{}", "  {} ", "{}\r"])
def test_a_code_is_read_however_it_is_typed(typed: str) -> None:
    code = short_code(LEAVES)
    assert tidy(typed.format(code)) == code
    assert tidy(code.replace("-", "").lower()) == code
    assert tidy(code.replace("0", "O").replace("1", "l")) == code


def test_a_scanned_print_names_its_cycle_and_code() -> None:
    code = short_code(LEAVES)
    assert read_payload(payload(CYCLE, code) + "\r") == (CYCLE, code)


@pytest.mark.parametrize(
    "text",
    ["", "Heron 14", "LW-RECORD/", f"LW-RECORD/{CYCLE}/short", "LW-RECORD/" + "-" * 36 + "/" + "A" * 16],
)
def test_other_text_is_no_scanned_print(text: str) -> None:
    assert read_payload(text) is None


def test_what_is_no_hash_is_refused() -> None:
    with pytest.raises(Refusal, match="not a leaf hash"):
        short_code(["heron"])


def test_the_picture_reads_back_as_the_text_it_was_made_of() -> None:
    import segno
    import zxingcpp

    text = payload(CYCLE, short_code(LEAVES))
    dark = np.array([list(row) for row in segno.make(text, error="m", micro=False).matrix], dtype=np.uint8)
    image = np.kron(np.pad(1 - dark, 4, constant_values=1), np.ones((6, 6), dtype=np.uint8)) * 255
    assert [found.text for found in zxingcpp.read_barcodes(image)] == [text]
    assert picture(text).startswith("data:image/svg+xml")
