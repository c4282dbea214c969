"""Policy profiles: shipped ones are whole and name their sources; wrong ones are refused at their line."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest

import lumenward
from lumenward.equipment import loader
from lumenward.equipment.defaults import COMMON, DEFAULTS
from lumenward.equipment.policy import Policy
from lumenward.equipment.sanity import check_digit
from lumenward.equipment.steps import STEPS, UNITS_OF
from lumenward.journey.target import NEVER_DEFAULT
from lumenward.quantities import Refusal

HOME = Path(lumenward.__file__).parent
DEMO = HOME / "demo" / "policy.toml"
SHIPPED = loader.shipped_policies()
EVERY = [*SHIPPED.values(), loader.load_policy(DEMO)]
KNOWN = re.compile(
    r"\((read|read in a summary|recalled, (high|medium) confidence)\)|common practice, no source"
)
PLACES = set(product(("drying cabinet", "ventilated cabinet", "transport tray"), (True, False)))


def hours(policy: Policy, cabinet: str, high_risk: bool) -> float:
    return next(h.hours for h in policy.hang_times if (h.cabinet, h.high_risk) == (cabinet, high_risk))


def sources(policy: Policy) -> list[str]:
    own = [policy.delay.source, *(h.source for h in policy.hang_times), *(s.page for s in policy.states)]
    named = [value for key, value in policy.model_dump().items() if key.endswith("_source") and value]
    return own + named


def test_three_profiles_stand_beside_each_other_and_none_shares_an_id() -> None:
    assert set(SHIPPED) == {"seven-days", "half-hour", "twelve-hours"}
    assert len({policy.id for policy in EVERY}) == 4


@pytest.mark.parametrize("policy", EVERY, ids=lambda p: p.id)
def test_a_profile_says_a_hang_time_for_each_place_and_risk(policy: Policy) -> None:
    assert {(h.cabinet, h.high_risk) for h in policy.hang_times} == PLACES


@pytest.mark.parametrize("policy", SHIPPED.values(), ids=lambda p: p.id)
def test_every_number_of_a_shipped_profile_says_how_it_is_known(policy: Policy) -> None:
    unsaid = [source for source in sources(policy) if not KNOWN.search(source)]
    assert unsaid == []


def test_the_profiles_carry_the_figures_of_their_documents() -> None:
    seven, half, twelve = (SHIPPED[name] for name in ("seven-days", "half-hour", "twelve-hours"))
    assert (seven.delay.limit_min, seven.delay.soon_min) == (60, 45)
    assert hours(seven, "drying cabinet", True) == 7 * 24
    assert half.delay.limit_min == 30
    assert (hours(half, "ventilated cabinet", False), hours(half, "drying cabinet", False)) == (3, 72)
    assert (hours(twelve, "ventilated cabinet", True), hours(twelve, "ventilated cabinet", False)) == (12, 72)


@pytest.mark.parametrize("policy", EVERY, ids=lambda p: p.id)
def test_a_stored_policy_document_gives_back_the_same_policy(policy: Policy) -> None:
    again = loader.policy_from_document(loader.as_document(policy))
    assert again == policy
    assert loader.digest(again) == loader.digest(policy)


@pytest.mark.parametrize(
    ("old", "new", "code", "field", "words"),
    [
        ("limit_min = 60", "limit_min = 0", "too-low", "delay.limit_min", "above 0"),
        ("soon_min = 45", "soon_min = 75", "contradiction", "delay.soon_min", "after the limit, 60 min"),
        ("alcohol = false", 'alcohol = "no"', "wrong-type", "alcohol", "true or false"),
        ("high_risk = false", "high_risk = true", "duplicate", "hang_times[1].cabinet", "there twice"),
        ('jurisdiction = "US-type"', "", "missing", "jurisdiction", "'jurisdiction' is missing"),
        (
            'mec_test = "each use"',
            'mec_test = "weekly"',
            "not-allowed",
            "mec_test",
            "'each use' or 'each day'",
        ),
        (
            "cleaning_attempts = 2",
            "cleaning_attempts = 2.5",
            "wrong-type",
            "cleaning_attempts",
            "a whole number",
        ),
        ("cleaning_attempts = 2", "cleaning_attempt = 2", "missing", "cleaning_attempts", "is missing"),
        (
            'release_roles = ["technician"',
            'release_roles = ["viewer"',
            "not-allowed",
            "release_roles[0]",
            "viewer",
        ),
        ('step = "flush"', 'step = "flsh"', "unknown-step", "states[4].step", "Did you mean flush?"),
        ('connector_set_source = "c', 'x = "c', "unknown-key", "x", "no key 'x'"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_a_wrong_policy_is_refused_at_its_line(
    tmp_path: Path, old: str, new: str, code: str, field: str, words: str
) -> None:
    path = tmp_path / "policy.toml"
    text = DEMO.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(Refusal) as caught:
        loader.load_policy(path)
    refusal = caught.value
    assert (refusal.code, refusal.field) == (code, field)
    assert re.match(r"policy\.toml:\d+: ", refusal.message)
    assert words in f"{refusal.message} {refusal.hint}"


def test_a_missing_policy_file_is_refused() -> None:
    with pytest.raises(Refusal, match="cannot be read"):
        loader.load_policy(Path("nowhere.toml"))


def test_a_default_never_touches_what_could_hurt() -> None:
    assert {one.quantity for one in DEFAULTS} == {"duration", "count"}
    assert not NEVER_DEFAULT & {one.quantity for one in DEFAULTS}


def test_defaults_are_the_common_practice_of_the_trade() -> None:
    found = {(one.step, one.method): (one.value, one.unit) for one in DEFAULTS}
    assert found == {
        ("leak-test", "wet"): (30, "s"),
        ("leak-test", "dry"): (10, "s"),
        ("clean", None): (300, "s"),
        ("aspirate", None): (30, "s"),
        ("flush", None): (95, "s"),
        ("rinse", None): (95, "s"),
        ("purge", None): (2, "times"),
        ("dry", None): (600, "s"),
        ("delay", None): (60, "min"),
    }
    assert [one.step for one in DEFAULTS if one.page == COMMON] == ["aspirate", "flush", "rinse", "purge"]
    assert all(one.step in STEPS and one.unit in UNITS_OF[one.quantity] for one in DEFAULTS)


# GTIN check digits: the first is the sample number of GS1's public documentation (recalled), the second the worked
# example of the check-digit page, 629104150021 -> 3 (recalled).
@pytest.mark.parametrize(("digits", "check"), [("0950110153000", "3"), ("0629104150021", "3")])
def test_a_check_digit_is_that_of_the_standard(digits: str, check: str) -> None:
    assert check_digit(digits) == check
