"""The verification code of a printed record, held against other people's trees, letters and readers."""

from __future__ import annotations

import base64
from functools import lru_cache

import numpy as np
import pytest

from lumenward.evidence import Check
from lumenward.interchange.record_code import payload, short_code
from lumenward.ledger.merkle import leaf_hash

_ACTS = [f"act {number}".encode() for number in range(35)]
_LEAVES = [leaf_hash(act).hex() for act in _ACTS]
_CYCLE = "01a20fbb-dd4d-7028-b51d-4532fe318027"
_RFC4648, _CROCKFORD = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567", "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


@lru_cache(maxsize=1)
def _by_pymerkle() -> str:
    """The root by pymerkle, its first 80 bits spelled by the standard library, letters put into Crockford's order."""
    from pymerkle import InmemoryTree

    tree = InmemoryTree(algorithm="sha256")
    for act in _ACTS:
        tree.append_entry(act)
    plain = base64.b32encode(tree.get_root()[:10]).decode()
    letters = plain.translate(str.maketrans(_RFC4648, _CROCKFORD))
    return "-".join(letters[place : place + 4] for place in range(0, 16, 4))


def _read_back() -> str:
    """What zxing-cpp reads from the picture segno drew."""
    import segno
    import zxingcpp

    made = segno.make(payload(_CYCLE, short_code(_LEAVES)), error="m", micro=False)
    dark = np.array([list(row) for row in made.matrix], dtype=np.uint8)
    image = np.kron(np.pad(1 - dark, 4, constant_values=1), np.ones((5, 5), dtype=np.uint8)) * 255
    return " ".join(found.text for found in zxingcpp.read_barcodes(image))


CHECKS = [
    Check(
        "verification code", "35 acts, first 80 bits of the root in Crockford's base 32", _by_pymerkle(),
        lambda: short_code(_LEAVES), 0, "RFC 6962 section 2.1 tree; RFC 4648 letters in Crockford's order",
        "computed by pymerkle 7.0 and Python's base64",
    ),
    Check(
        "verification code", "the picture on a print, read back", payload(_CYCLE, short_code(_LEAVES)), _read_back, 0,
        "ISO/IEC 18004 QR code, drawn by segno 1.6", "computed by zxing-cpp 3.1",
    ),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_the_check_holds(check: Check) -> None:
    check.assert_holds()
