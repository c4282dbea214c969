"""Recording acts: once, whole, by the right person, and the refusals kept."""

from __future__ import annotations

from lumenward.records.check import check_all


def test_a_whole_cycle_is_recorded_and_verifies(house) -> None:
    acts = house.work("one-sanderling-28")
    assert acts[-1].kind == "stored"
    report = check_all()
    assert report.findings == ()
