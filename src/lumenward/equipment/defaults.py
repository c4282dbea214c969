"""Common practice for steps about which nobody with authority said anything; each counts with the basis `default`.

Durations and counts only: a shipped default for a pressure, a volume, a temperature, a concentration or a reuse
life could hurt, so there is none.
"""

from __future__ import annotations

from lumenward.equipment.common import Stated

COMMON = "common practice, no source"

DEFAULTS: tuple[Stated, ...] = (
    Stated(
        step="leak-test", quantity="duration", bound="floor", value=30, unit="s", method="wet",
        page="AORN newsletter 2021: watch at least 30 s while bending every way (read)",
    ),
    Stated(
        step="leak-test", quantity="duration", bound="floor", value=10, unit="s", method="dry",
        page="clinical blog on leak tests: the needle still at least 10 s (read)",
    ),
    Stated(
        step="clean", quantity="duration", bound="floor", value=300, unit="s",
        page="J Hosp Infect cohort of 307 cultures: 5 min or less was a risk (read)",
    ),
    Stated(step="aspirate", quantity="duration", bound="floor", value=30, unit="s", page=COMMON),
    Stated(step="flush", quantity="duration", bound="floor", value=95, unit="s", page=COMMON),
    Stated(step="rinse", quantity="duration", bound="floor", value=95, unit="s", page=COMMON),
    Stated(step="purge", quantity="count", bound="floor", value=2, unit="times", page=COMMON),
    Stated(
        step="dry", quantity="duration", bound="floor", value=600, unit="s",
        page="HSPA summary of ANSI/AAMI ST91:2021: at least 10 min (read in a summary)",
    ),
    Stated(
        step="delay", quantity="duration", bound="ceiling", value=60, unit="min",
        page="AORN newsletter 2021 and a summary of makers' limits: 60 min where none is stated (read)",
    ),
)  # fmt: skip
