"""Logs from files: forms of time and number, and each bad line by its number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.chemistry.log_csv import read_log_csv
from lumenward.quantities import Refusal

PLAIN = [(0.0, 20.0), (30.0, 21.5), (60.0, 22.0)]


@pytest.mark.parametrize(
    "text",
    [
        "0,20\n30,21.5\n60,22\n",
        "time_s,temperature_c\n0,20\n30,21.5\n60,22",
        "time;temperature\r\n0;20,0\r\n30;21,5\r\n60;22\r\n",
        "\ufefftime\ttemperature (°C)\n0\t20\n30\t21,5\n60\t22\n",
        "# station 3\n\ntime (min),value\n0,20\n0.5,21.5\n1,22\n",
        "10:00,20\n10:00:30,21.5\n10:01,22\n",
        "clock,temperature_f\n0,68\n30,70.7\n60,71.6\n",
        "2026-03-29T01:59:30+01:00,20\n2026-03-29T03:00:00+02:00,21.5\n2026-03-29T03:00:30+02:00,22\n",
        "0,20,probe 1\n30,21.5,probe 1\n60,22,probe 1\n",
    ],
)
def test_every_form_gives_seconds_and_values(text: str) -> None:
    log = read_log_csv(text)
    start = log[0][0]
    assert [(t - start, pytest.approx(x)) for t, x in log] == PLAIN


@pytest.mark.parametrize(
    ("text", "code", "field"),
    [
        ("", "empty", "csv"),
        ("# nothing\n\n", "empty", "csv"),
        ("time,value\n0,20\n30,\n", "bad-reading", "csv line 3"),
        ("0,20\n30\n", "bad-reading", "csv line 2"),
        ("0,20\n30,warm\n", "not-a-number", "csv line 2"),
        ("0,20\n30,NaN\n", "not-a-number", "csv line 2"),
        ("0,20\n30,🙂\n", "not-a-number", "csv line 2"),
        ("0,20\nlater,21\n", "not-a-number", "csv line 2"),
        ("0;20\n30;1.234,5\n", "ambiguous-number", "csv line 2"),
        ("0,20\n30,21\n30,22\n", "not-forward", "csv line 3"),
        ("23:59,20\n00:01,21\n", "not-forward", "csv line 2"),
        ("2026-03-01T10:00:00,20\n2026-13-01T10:00:00,21\n", "bad-time", "csv line 2"),
        ("2026-03-01T10:00:00,20\n2026-03-01T10:01:00Z,21\n", "bad-time", "csv"),
        ("2026-03-01T10:00:00,20\n60,21\n", "bad-time", "csv"),
        ("0,20\n" * 900_000 + "x" * 1_000_000, "too-long", "csv"),
    ],
)
def test_a_bad_line_is_named_by_its_number(text: str, code: str, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        read_log_csv(text)
    assert (caught.value.code, caught.value.field) == (code, field)


@given(st.text(max_size=200))
def test_any_text_is_a_log_or_a_refusal(text: str) -> None:
    try:
        log = read_log_csv(text)
    except Refusal as refusal:
        assert refusal.message
    else:
        assert all(isinstance(t, float) and isinstance(x, float) for t, x in log)
