"""What is wrong with a document, and where: the raw material of a loader's refusal."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Finding:
    """One fault. `path` leads to it from the top of the document; `message` names what was found and allowed."""

    code: str
    path: Path
    message: str
    hint: str = ""

    def under(self, *front: str | int) -> Finding:
        """Return the same finding seen from further up."""
        return Finding(self.code, (*front, *self.path), self.message, self.hint)


def dotted(path: Path) -> str:
    """Return a path as people write it.

    >>> dotted(("tubes", 2, "bore_mm"))
    'tubes[2].bore_mm'
    """
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}"
    return text.lstrip(".")


def shown(value: object) -> str:
    """Return a value as found, cut to a length a sentence can bear.

    >>> shown("x" * 80)[-5:]
    "xxx…'"
    """
    text = repr(value)
    if len(text) <= 60:
        return text
    return text[:57] + ("…'" if text.startswith("'") else "…")


def one_of(known: Iterable[str], found: str) -> str:
    """Return the hint that names the nearest of the known words, or all of them.

    >>> one_of(["pump-1", "pump-2"], "pmup-1")
    'Did you mean pump-1? Known: pump-1, pump-2.'
    """
    words = sorted(set(known))
    near = difflib.get_close_matches(found, words, 1)
    listed = f"Known: {', '.join(words)}." if words else "There is none yet."
    return f"Did you mean {near[0]}? {listed}" if near else listed
