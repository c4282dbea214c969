"""Disinfectants, verification kits and the house's numbers beside the published figures they are taken from."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

import lumenward
from lumenward.equipment.defaults import DEFAULTS
from lumenward.equipment.fittings import Disinfectant, VerificationKit
from lumenward.equipment.library import Library
from lumenward.equipment.loader import load_library, shipped_policies
from lumenward.equipment.sanity import check_digit
from lumenward.evidence import Check

TABLE_4 = "CDC guideline 2008, updated 2024, Table 4"
CABINET = "ventilated cabinet"
RECALLED = "list of cleared products, from memory"


@cache
def library() -> Library:
    return load_library(Path(lumenward.__file__).parent / "demo" / "library")


def disinfectant(name: str) -> Disinfectant:
    found = library().get("disinfectants", name)
    assert isinstance(found, Disinfectant)
    return found


def kit(name: str) -> VerificationKit:
    found = library().get("kits", name)
    assert isinstance(found, VerificationKit)
    return found


def contact(name: str, route: str) -> Callable[[], list[float]]:
    """Return the listed contact in min and the temperature it holds from, in C."""

    def listed() -> list[float]:
        pair = next(one for one in disinfectant(name).pairs if one.route == route)
        return [pair.time_s / 60, pair.temperature_low_c]

    return listed


def label(name: str, expected: list[float], route: str, source: str, known: str) -> Check:
    words = f"{name}, {route}: contact min, C"
    return Check("disinfectant labels", words, expected, contact(name, route), 0, source, known)


def limit(name: str, what: str, expected: float, source: str, known: str) -> Check:
    return Check(
        "disinfectant labels",
        f"{name}: {what}",
        expected,
        lambda: getattr(disinfectant(name), what),
        0,
        source,
        known,
    )


def hours(profile: str, cabinet: str, high_risk: bool) -> Callable[[], float]:
    def listed() -> float:
        times = shipped_policies()[profile].hang_times
        return next(one.hours for one in times if (one.cabinet, one.high_risk) == (cabinet, high_risk))

    return listed


def default(step: str, method: str | None = None) -> Callable[[], float]:
    return lambda: next(one.value for one in DEFAULTS if (one.step, one.method) == (step, method))


CHECKS: list[Check] = [
    label("opa-055", [12, 20], "manual", TABLE_4, "read"),
    label("opa-055", [5, 25], "machine", TABLE_4, "read"),
    limit("opa-055", "reuse_d", 14, TABLE_4, "read"),
    limit("opa-055", "mec_percent", 0.3, TABLE_4, "read"),
    label("opa-055-eu", [5, 20], "manual", "European labels, from memory", "recalled"),
    label("h2o2-75", [30, 20], "manual", TABLE_4, "read"),
    limit("h2o2-75", "reuse_d", 21, TABLE_4, "read"),
    limit("h2o2-75", "mec_percent", 6, TABLE_4, "read"),
    label("h2o2-paa", [15, 20], "manual", TABLE_4, "read"),
    limit("h2o2-paa", "reuse_d", 14, TABLE_4, "read"),
    label("paa-02-machine", [12, 50], "machine", TABLE_4, "read"),
    label("paa-033", [7, 20], "manual", "FDA list of cleared sterilants, Dec 2023", "read"),
    limit("paa-033", "reuse_d", 5, "FDA list of cleared sterilants, Dec 2023", "read"),
    label("glut-24", [5, 35], "machine", "CDC guideline 2008, text on 2.5 % heated", "read"),
    label("glut-24", [45, 25], "manual", RECALLED, "recalled"),
    limit("glut-24", "mec_percent", 1.5, TABLE_4, "read"),
    label("improved-20", [8, 20], "manual", RECALLED, "recalled"),
    limit("improved-20", "mec_percent", 1.5, RECALLED, "recalled"),
    Check(
        "verification limits", "protein alert and action, ug/cm2", [3.0, 6.4],
        lambda: [kit("kit-protein").alert, kit("kit-protein").action], 0,
        "ISO 15883-5:2021, in a summary", "read",
    ),
    Check(
        "verification limits", "ATP action, RLU", 200, lambda: kit("kit-atp-channel").action, 0,
        "Alfa 2013, AJIC 41:249: below 200 RLU", "read",
    ),
    Check("hang time", "seven days, h", 168, hours("seven-days", "drying cabinet", True), 0, "SGNA; JBI 2015", "read"),
    Check("hang time", "high risk, h", 12, hours("twelve-hours", CABINET, True), 0, "GENCA 2010", "recalled"),
    Check("hang time", "others, h", 72, hours("twelve-hours", CABINET, False), 0, "GENCA 2010", "recalled"),
    Check("hang time", "without a cabinet, h", 3, hours("half-hour", CABINET, True), 0, "AORN 2022", "read"),
    Check("defaults", "wet leak test, s", 30, default("leak-test", "wet"), 0, "AORN newsletter 2021", "read"),
    Check("defaults", "dry leak test, s", 10, default("leak-test", "dry"), 0, "clinical blog", "read"),
    Check("defaults", "forced air, s", 600, default("dry"), 0, "HSPA summary of ANSI/AAMI ST91:2021", "read"),
    Check("defaults", "detergent flush, s", 95, default("flush"), 0, "the trade", "common practice, no source"),
    Check("defaults", "aspiration, s", 30, default("aspirate"), 0, "the trade", "common practice, no source"),
    Check(
        "trade item numbers", "check digit of 6291041500213", "3", lambda: check_digit("629104150021"), 0,
        "GS1 page on check digits", "recalled",
    ),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_a_shipped_figure_is_the_published_one(check: Check) -> None:
    check.assert_holds()
