"""High-level disinfection: the right charge, warm enough, for long enough."""

from __future__ import annotations

from lumenward.equipment.fittings import Disinfectant
from lumenward.journey import clocks
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.event import Event
from lumenward.journey.legality.lots import recent_pass
from lumenward.journey.numbers import floor_s, pair_at
from lumenward.journey.states import ChargeState
from lumenward.quantities import show_duration, show_in
from lumenward.rulebook.case import Case
from lumenward.rulebook.registry import Opinion, broken, met, not_applicable, rule, unknown

_GROUP = "Disinfection"
_AGAIN = "Disinfect it again in a valid charge, in a new cycle."
_DO = "Disinfect it."


@rule(
    id="disinfection.complete", title="Disinfected to the end", group=_GROUP,
    source="CDC 2008; Rutala and Weber 2016 (read): high-level disinfection is the least for semicritical devices",
    authority="default",
)  # fmt: skip
def complete(case: Case) -> Opinion:
    pair = case.course.disinfection
    if pair is not None:
        return met(f"Disinfected; it ended {case.done(pair[1])}.", *pair)
    failed = [e for k in ("hld_ended", "machine_cycle_ended") for e in case.course.counting(k)]
    if failed and case.course.under_way is None:
        return broken(
            f"It was {failed[-1].body['result']} {case.done(failed[-1])}.",
            failed[-1],
            fix="Disinfect it again.",
        )
    return unknown("No complete disinfection is recorded.", case.course.under_way, fix=_DO)


@rule(
    id="disinfection.allowed", title="A disinfectant the IFU allows", group=_GROUP,
    source="CDC 2008 (read): the endoscope's maker decides about chemistry", authority="IFU",
)  # fmt: skip
def allowed(case: Case) -> Opinion:
    found = _chemistry(case)
    if found is None:
        return unknown("Nobody knows in what it was disinfected.", fix=_DO)
    name, chemistry, begun = found
    if chemistry not in case.model.ifu.chemistries:
        return broken(f"The IFU does not allow {name} ({chemistry}).", begun, fix=_AGAIN)
    return met(f"The IFU allows {name}.", begun)


def _chemistry(case: Case) -> tuple[str, str, Event | None] | None:
    if case.bath is not None:
        return case.bath[1].name, case.bath[1].chemistry, case.immersion
    if case.washer is not None and case.course.disinfection is not None:
        return case.washer.name, case.washer.chemistry, case.course.disinfection[0]
    return None


@rule(
    id="disinfection.contact", title="Full contact time", group=_GROUP,
    source="CDC 2008 (read): the cleared label's time, temperature and concentration", authority="label",
)  # fmt: skip
def contact(case: Case) -> Opinion:
    if case.by_machine:
        return _machine_contact(case)
    pair = case.course.disinfection
    if pair is None or case.bath is None:
        return unknown("No complete disinfection is recorded.", case.immersion, fix=_DO)
    begun, ended = pair
    floor = floor_s(
        case.model, case.policy, "hld", label=case.bath[1], temperature_c=begun.body["temperature_c"]
    )
    if floor is None:
        found = show_in(begun.body["temperature_c"], "°C")
        return unknown(f"The label lists no contact time at {found}.", begun, fix=_AGAIN)
    lasted = elapsed_s(begun.happened_at, ended.happened_at)
    sentence = f"In the disinfectant for {show_duration(lasted)}; at least {show_duration(floor.value)}."
    if lasted < floor.value:
        return broken(sentence, begun, ended, fix=_AGAIN, target=floor)
    return met(sentence, begun, ended, target=floor)


def _machine_contact(case: Case) -> Opinion:
    pair, washer = case.course.disinfection, case.washer
    if pair is None or washer is None:
        return unknown("The machine cycle is not complete.", case.course.under_way, fix="Wait for its end.")
    found = pair[1].body.get("contact_s")
    if found is None:
        return unknown(
            "The machine's contact time is not recorded.", *pair, fix="Read it from the machine's report."
        )
    sentence = (
        f"Contact for {show_duration(found)}; at least {show_duration(washer.contact_s)} ({washer.page})."
    )
    if found < washer.contact_s:
        return broken(sentence, pair[1], fix="Run the machine again, in a new cycle.")
    return met(sentence, pair[1])


@rule(
    id="disinfection.temperature", title="At the label's temperature", group=_GROUP,
    source="the disinfectant's label; only its listed pairs are valid", authority="label",
)  # fmt: skip
def temperature(case: Case) -> Opinion:
    if case.by_machine:
        return _machine_temperature(case)
    begun = case.immersion
    if begun is None or case.bath is None:
        return unknown("No disinfection is recorded.", fix=_DO)
    pair = pair_at(case.bath[1], "manual", begun.body["temperature_c"])
    start = show_in(begun.body["temperature_c"], "°C")
    if pair is None:
        return broken(f"{start} at the start is in none of the label's pairs.", begun, fix=_AGAIN)
    window = f"{show_in(pair.temperature_low_c, '°C')} to {show_in(pair.temperature_high_c, '°C')}"
    ended = case.course.disinfection[1] if case.course.disinfection else None
    if ended is None:
        return unknown(
            f"{start} at the start; the end is not recorded. Allowed: {window}.",
            begun,
            fix="Measure at the end.",
        )
    end = show_in(ended.body["temperature_c"], "°C")
    sentence = f"{start} at the start, {end} at the end; allowed: {window}."
    if not pair.temperature_low_c <= ended.body["temperature_c"] <= pair.temperature_high_c:
        return broken(sentence, begun, ended, fix=_AGAIN)
    return met(sentence, begun, ended)


def _machine_temperature(case: Case) -> Opinion:
    pair, washer = case.course.disinfection, case.washer
    if pair is None or washer is None:
        return unknown("The machine cycle is not complete.", case.course.under_way, fix="Wait for its end.")
    found = pair[1].body.get("temperature_c")
    if found is None:
        return unknown(
            "The machine's temperature is not recorded.", *pair, fix="Read it from the machine's report."
        )
    sentence = f"{show_in(found, '°C')}; at least {show_in(washer.contact_c, '°C')} ({washer.page})."
    if found < washer.contact_c:
        return broken(sentence, pair[1], fix="Run the machine again, in a new cycle.")
    return met(sentence, pair[1])


@rule(
    id="disinfection.filled", title="Every channel filled or connected", group=_GROUP,
    source="CDC 2008 (read): fill every channel, immerse fully", authority="default",
)  # fmt: skip
def filled(case: Case) -> Opinion:
    if not case.model.channels:
        return not_applicable(f"The {case.model.name} has no channel.")
    begun = case.course.disinfection[0] if case.course.disinfection else case.course.under_way
    if begun is None:
        return unknown("No disinfection is recorded.", fix=_DO)
    key, words = ("connected_all", "connected") if case.by_machine else ("channels_filled", "filled")
    if not begun.body[key]:
        return broken(f"Not every channel was {words}.", begun, fix=_AGAIN)
    return met(f"Every channel was {words}.", begun)


@rule(
    id="disinfection.concentration", title="The charge passed its test", group=_GROUP,
    source="AAMI ST58/ST91 (recalled): a passing test before each use, or as the policy says", authority="policy",
)  # fmt: skip
def concentration(case: Case) -> Opinion:
    if case.by_machine:
        return _dose_confirmed(case)
    if case.immersion is None or case.bath is None:
        return unknown("No disinfection is recorded.", fix=_DO)
    charge, label = case.bath
    if label.mec_percent is None:
        return not_applicable(f"The label of {label.name} asks for no test.")
    return _tested(case, charge, case.immersion)


def _tested(case: Case, charge: ChargeState, begun: Event) -> Opinion:
    tests = [t for t in charge.tests if elapsed_s(t.at, begun.happened_at) >= 0]
    if tests and tests[-1].result == "fail":
        return broken(
            f"The charge had failed at {case.clock(tests[-1].at)}.", tests[-1].event, begun, fix=_AGAIN
        )
    covering = recent_pass(case.policy.mec_test, charge, begun.happened_at)
    if covering is not None:
        return met(
            f"The charge passed at {case.clock(tests[-1].at)} ({case.policy.mec_test}).", covering, begun
        )
    since = "for this load" if case.policy.mec_test == "each use" else "on that day"
    return unknown(f"No passing test of the charge is recorded {since}.", begun, fix=_AGAIN)


def _dose_confirmed(case: Case) -> Opinion:
    pair = case.course.disinfection
    found = pair[1].body.get("dose_confirmed") if pair else None
    if pair is None or found is None:
        return unknown(
            "Nothing says that the machine dosed.", case.course.under_way, fix="Read it from the report."
        )
    if not found:
        return broken(
            "The machine did not confirm its dose.", pair[1], fix="Run the machine again, in a new cycle."
        )
    return met("The machine confirmed its dose.", pair[1])


@rule(
    id="disinfection.reuse-life", title="Within the charge's reuse life", group=_GROUP,
    source="CDC 2008 and labels (recalled): discard at its end even if the test passes", authority="label",
)  # fmt: skip
def reuse_life(case: Case) -> Opinion:
    if case.by_machine:
        return not_applicable("The machine doses for itself.")
    if case.immersion is None or case.bath is None:
        return unknown("No disinfection is recorded.", fix=_DO)
    charge, label = case.bath
    if label.single_use:
        return _first_use(charge, case.immersion)
    if charge.poured_at is None or label.reuse_d is None:
        return unknown(
            f"No label value entered: {label.name} states no reuse life.", case.immersion, fix="Enter it."
        )
    return _young(case, charge, label, case.immersion)


def _first_use(charge: ChargeState, begun: Event) -> Opinion:
    earlier = [stay for stay in charge.stays if elapsed_s(stay.start, begun.happened_at) > 0]
    if earlier:
        return broken("The charge is for single use and had served.", begun, fix=_AGAIN)
    return met("The charge served this endoscope alone.", begun)


def _young(case: Case, charge: ChargeState, label: Disinfectant, begun: Event) -> Opinion:
    assert charge.poured_at is not None
    clock = clocks.reuse(label, charge.poured_at)
    age = show_duration(elapsed_s(charge.poured_at, begun.happened_at))
    sentence = f"The charge was {age} old; the label allows {label.reuse_d:g} days."
    if clock is not None and clock.word(begun.happened_at) == "late":
        return broken(sentence, charge.id, begun, fix=_AGAIN)
    return met(sentence, charge.id, begun)


@rule(
    id="disinfection.present-charge", title="The charge had not been emptied", group=_GROUP,
    source="house rule: a charge ends when it is emptied", authority="default",
)  # fmt: skip
def present_charge(case: Case) -> Opinion:
    if case.by_machine:
        return not_applicable("It was not disinfected in a basin.")
    if case.immersion is None or case.bath is None:
        return unknown("No disinfection is recorded.", fix=_DO)
    emptied = case.bath[0].discarded_at
    end = case.course.disinfection[1] if case.course.disinfection else case.immersion
    if emptied is not None and elapsed_s(emptied, end.happened_at) > 0:
        return broken(f"The charge had been emptied at {case.clock(emptied)}.", case.immersion, fix=_AGAIN)
    return met(f"The charge in {case.bath[0].basin} was the present one.", case.bath[0].id, case.immersion)


@rule(
    id="disinfection.bladder-history", title="No OPA where bladder cancer was", group=_GROUP,
    source="label and FDA (recalled); case report (read): severe reactions after repeated cystoscopy",
    authority="label",
)  # fmt: skip
def bladder_history(case: Case) -> Opinion:
    if not case.model.urological:
        return not_applicable("It is no urological endoscope.")
    if case.by_machine:
        return not_applicable("It was not disinfected in a basin.")
    if case.bath is None:
        return unknown("Nobody knows in what it was disinfected.", fix=_DO)
    label = case.bath[1]
    if not label.forbidden_for_urology:
        return met(f"{label.name} is not forbidden for urological endoscopes.", case.immersion)
    opening = case.course.opening
    answer = opening.body.get("bladder_cancer_history") if opening else None
    if answer == "yes":
        return broken(
            f"{label.name} where bladder cancer is known.",
            opening,
            case.immersion,
            fix="Use another disinfectant.",
        )
    if answer != "no":
        return unknown(
            "Nobody asked about bladder cancer.",
            opening,
            case.immersion,
            fix="Ask, or use another disinfectant.",
        )
    return met(f"{label.name}; asked, and no history of bladder cancer.", opening, case.immersion)
