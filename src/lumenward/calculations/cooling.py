"""How long a sink stays inside its temperature window."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.chemistry.temperature import learn_time_constant, temperature_at, time_to_limit
from lumenward.quantities import Refusal, show_duration, show_in

TITLE = "Cooling of a sink"
LEAVES_OUT = [
    "A lid, stirring or a running tap changes the time constant up to twofold; learn it where you work.",
    "Layers: the surface cools first. Measure in the middle of the sink.",
    "A cold endoscope put into the sink takes heat at once.",
]
EXAMPLE = {"start_c": 43, "ambient_c": 21, "limit_c": 35, "time_constant_s": 5400}

Reading = Annotated[list[float], Field(min_length=2, max_length=2)]


class Input(CaseInput):
    """Temperatures; the time constant, or two readings [[s, °C], [s, °C]] of this sink to learn it from."""

    start_c: float
    ambient_c: float
    limit_c: float
    time_constant_s: float | None = None
    readings: Annotated[list[Reading], Field(min_length=2, max_length=2)] | None = None
    reading_u_c: float | None = Field(None, ge=0, le=5, description="Standard uncertainty of one reading, K.")


class Output(CaseOutput):
    """`time_to_limit_s` is null when the room keeps the sink from ever reaching the limit, 0 when it has."""

    time_to_limit_s: float | None
    time_constant_s: float
    time_constant_u_s: float | None = None
    sentence: str


def run(case: Input) -> Output:
    """Return the time until the limit."""
    tau, u_tau = _time_constant(case)
    time = time_to_limit(case.start_c, case.ambient_c, case.limit_c, tau)
    return Output(
        time_to_limit_s=time, time_constant_s=tau, time_constant_u_s=u_tau, sentence=_sentence(case, time)
    )


def _time_constant(case: Input) -> tuple[float, float | None]:
    if (case.time_constant_s is None) == (case.readings is None):
        raise Refusal(
            "missing" if case.readings is None else "two-sources",
            "time_constant_s: either the time constant or two readings of this sink are needed.",
            "time_constant_s",
            "Give one of the two.",
        )
    if case.time_constant_s is not None:
        return case.time_constant_s, None
    if case.reading_u_c is None:
        raise Refusal(
            "missing", "reading_u_c: learning from two readings needs it.", "reading_u_c", "Add this key."
        )
    (t1, c1), (t2, c2) = case.readings or []
    learned = learn_time_constant((t1, c1), (t2, c2), case.ambient_c, case.reading_u_c)
    return learned.value_s, learned.u_s


def _sentence(case: Input, time: float | None) -> str:
    limit = show_in(case.limit_c, "°C")
    if time is None:
        return f"In a room of {show_in(case.ambient_c, '°C')} the sink never reaches {limit}."
    if time == 0:
        return f"The limit of {limit} is reached already."
    return f"{limit} is reached in {show_duration(time)}."


def picture(case: Input, result: Output) -> Chart:
    """Return the temperature over time with the limit."""
    span = 1.5 * (result.time_to_limit_s or result.time_constant_s)
    times = [span * step / 60 for step in range(61)]
    tau = result.time_constant_s
    line = Series(
        name="sink",
        x=[t / 60 for t in times],
        y=[temperature_at(case.start_c, case.ambient_c, tau, t) for t in times],
    )
    limits = [Limit(label="limit", value=case.limit_c), Limit(label="room", value=case.ambient_c)]
    if result.time_to_limit_s:
        limits.append(Limit(label="limit reached", value=result.time_to_limit_s / 60, axis="x"))
    return Chart(
        question="When does this sink leave its temperature window?",
        x_label="time, min",
        y_label="temperature, °C",
        series=[line],
        limits=limits,
    )
