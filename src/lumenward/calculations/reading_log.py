"""What `a0` and `window` share: a log given as readings or as CSV text."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from lumenward.calculations.case import CaseInput
from lumenward.chemistry.log_csv import read_log_csv
from lumenward.quantities import Refusal

Reading = Annotated[list[float], Field(min_length=2, max_length=2)]


class LogInput(CaseInput):
    """A log: [[seconds, value], …], or the text of a CSV file with the same two columns."""

    log: list[Reading] | None = None
    csv: str | None = Field(None, description="CSV text instead of `log`: time, value; one reading a line.")


def readings(case: LogInput) -> list[list[float]]:
    """Return the readings of a case; raise Refusal `missing` or `two-sources`, or what the CSV is refused for."""
    if (case.log is None) == (case.csv is None):
        raise Refusal(
            "missing" if case.log is None else "two-sources",
            "log: either log or csv is needed, one of the two.",
            "log",
            "Give the readings once.",
        )
    if case.log is not None:
        return case.log
    return [list(reading) for reading in read_log_csv(case.csv or "")]
