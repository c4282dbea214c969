"""A diagnosis in sentences: what fits, what cannot be told apart, what to read next."""

from __future__ import annotations

from collections.abc import Sequence

from lumenward.hydraulics.diagnosis import SURE, Diagnosis
from lumenward.hydraulics.faults import Hypothesis
from lumenward.hydraulics.next_reading import Candidate

WORTH_BITS = 0.05
_SAID = {"block": "{} is blocked", "partial": "{} is partly blocked", "disconnected": "{} is off its port"}
_MOST_NAMED = 6


def sentence(hypothesis: Hypothesis) -> str:
    """Return a hypothesis as words.

    >>> from lumenward.hydraulics.faults import Fault
    >>> sentence((Fault("block", "air"), Fault("partial", "water")))
    'air is blocked and water is partly blocked'
    """
    return " and ".join(_SAID[f.kind].format(f.at) for f in hypothesis) or "nothing is wrong"


def summary(found: Diagnosis) -> str:
    """Return what the readings say, and plainly when they cannot tell."""
    if not found.explained:
        return (
            f"None of the faults considered explains these readings: the best lies {found.misfit:.0f} standard "
            "deviations off. Read again, and look for air, leaking caps, or another connector set."
        )
    top, probability = found.classes[0]
    hypotheses = [found.table.rig.hypotheses[h] for h in top]
    simplest = [h for h in hypotheses if len(h) <= max(len(hypotheses[0]), 1)]
    percent = f"{100 * probability:.0f} %"
    if not hypotheses[0] and len(hypotheses) > 1:
        return (
            f"These readings cannot tell whether anything is wrong: in order reads like {_list(hypotheses[1:])} "
            f"({percent} together)."
        )
    said = f"Most probable ({percent}): {sentence(hypotheses[0])}."
    if len(simplest) > 1:
        said += f" These readings cannot tell that from: {_list(simplest[1:])}."
    elif len(hypotheses) > 1:
        said += f" Nor can they tell that from: {_list(hypotheses[1:])}."
    if probability < SURE:
        said += f" They cannot decide: {_rest(found)}."
    return said


def advice(found: Diagnosis, candidates: Sequence[Candidate], open_bits: float) -> str:
    """Return the next reading worth taking as a sentence, or why none is."""
    if not found.explained:
        return "Take the same readings again before anything else."
    if not candidates:
        return "Every reading in reach has been taken; what is still open cannot be told by them."
    best = candidates[0]
    if best.bits < WORTH_BITS:
        end = (
            "the faults in one class read alike everywhere"
            if len(found.classes[0][0]) > 1
            else "it is settled"
        )
        return f"No further reading is expected to tell more: {end}."
    return (
        f"Next, open {_ports(best.open, found.table.rig.ports)} and read {_what(best.what)}: expected to settle "
        f"{best.bits:.1f} of the {open_bits:.1f} bits still open."
    )


def _rest(found: Diagnosis) -> str:
    others = [
        f"{sentence(found.table.rig.hypotheses[group[0]])} ({100 * p:.0f} %)"
        for group, p in found.classes[1:4]
    ]
    return "also possible are " + ", ".join(others)


def _list(hypotheses: Sequence[Hypothesis]) -> str:
    named = [sentence(h) for h in hypotheses[:_MOST_NAMED]]
    more = len(hypotheses) - len(named)
    return "; ".join(named) + (f"; and {more} more" if more else "")


def _ports(opened: Sequence[str], every: Sequence[str]) -> str:
    if len(opened) == len(every):
        return "all ports"
    return "only " + ", ".join(opened)


def _what(names: Sequence[str]) -> str:
    said = {"flow": "total flow", "pressure": "pressure"}
    return " and ".join(said.get(name, f"a cup at the outlet of {name}") for name in names)
