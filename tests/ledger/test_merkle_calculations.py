"""The calculations `merkle` and `merkle-verify` by their contract."""

from __future__ import annotations

import pytest

from lumenward.calculations import find, run
from lumenward.quantities import Refusal

LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
GROWTH = {"kind": "consistency", "proof_hex": [], "size1": 1, "size2": 1, "root1_hex": "", "root2_hex": ""}


@pytest.mark.parametrize("name", ["merkle", "merkle-verify"])
def test_the_example_runs(name: str) -> None:
    assert run(name, find(name).EXAMPLE)


def test_a_proof_made_is_a_proof_that_holds_by_data_and_by_hash() -> None:
    made = run("merkle", {"leaves_hex": LEAVES, "inclusion": [5, 7]})
    case = {
        "kind": "inclusion",
        "index": 5,
        "size": 7,
        "root_hex": made["proof_root_hex"],
        "proof_hex": made["proof_hex"],
    }
    assert run("merkle-verify", {**case, "leaf_hex": LEAVES[5]}) == {"valid": True, "leaf_read_as": "data"}
    hashed = made["leaf_hashes_hex"][5]
    assert run("merkle-verify", {**case, "leaf_hex": hashed}) == {"valid": True, "leaf_read_as": "hash"}
    assert run("merkle-verify", {**case, "leaf_hex": LEAVES[4]})["valid"] is False


def test_a_growth_made_is_a_growth_that_holds() -> None:
    made = run("merkle", {"leaves_hex": LEAVES, "consistency": [3, 8]})
    case = {
        "kind": "consistency",
        "size1": 3,
        "size2": 8,
        "root1_hex": made["earlier_root_hex"],
        "root2_hex": made["root_hex"],
        "proof_hex": made["proof_hex"],
    }
    assert run("merkle-verify", case)["valid"] is True
    assert run("merkle-verify", {**case, "size1": 0})["valid"] is False
    assert run("merkle-verify", {**case, "root1_hex": ""})["valid"] is False
    assert run("merkle-verify", {**case, "proof_hex": [*made["proof_hex"], ""]})["valid"] is False


@pytest.mark.parametrize(
    ("name", "case", "code", "field"),
    [
        ("merkle", {"leaves_hex": ["0"]}, "not-hex", "leaves_hex[0]"),
        ("merkle", {"leaves_hex": ["", "0x"]}, "not-hex", "leaves_hex[1]"),
        ("merkle", {"leaves_hex": ["00 11"]}, "not-hex", "leaves_hex[0]"),
        ("merkle", {"leaves_hex": LEAVES, "inclusion": [8, 8]}, "no-proof", "inclusion"),
        ("merkle", {"leaves_hex": LEAVES, "inclusion": [0, 9]}, "no-proof", "inclusion"),
        ("merkle", {"leaves_hex": LEAVES, "consistency": [0, 8]}, "no-proof", "consistency"),
        (
            "merkle",
            {"leaves_hex": LEAVES, "inclusion": [1, 8], "consistency": [1, 8]},
            "two-proofs",
            "consistency",
        ),
        ("merkle", {"leaves_hex": LEAVES, "inclusion": [1]}, "not-valid", "inclusion"),
        ("merkle", {"leaves_hex": LEAVES, "inclusion": [-1, 8]}, "not-valid", "inclusion[0]"),
        ("merkle", {}, "missing", "leaves_hex"),
        ("merkle", {"leaves_hex": [], "roots": 1}, "unknown-key", "roots"),
        ("merkle-verify", {"kind": "inclusion", "proof_hex": []}, "missing", "index"),
        ("merkle-verify", {"kind": "guess", "proof_hex": []}, "not-valid", "kind"),
        ("merkle-verify", {**GROWTH, "root1_hex": "q"}, "not-hex", "root1_hex"),
        ("merkle-verify", {**GROWTH, "index": 0}, "unknown-key", "index"),
    ],
)
def test_a_malformed_case_is_refused(name: str, case: dict[str, object], code: str, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        run(name, case)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_no_leaves_have_the_root_of_nothing() -> None:
    assert run("merkle", {"leaves_hex": []})["root_hex"].startswith("e3b0c442")
