"""The pages of the manual: the same files as in the source tree, taken from where this program is installed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import lumenward

ORDER = (
    "first-cycle", "screens", "cautions", "records", "rules", "policies", "equipment", "calculations", "evidence",
    "units", "commands", "settings", "events", "errors", "architecture", "why",
)  # fmt: skip
"""The order of the contents; a page that is not named here stands last."""

_HEADING = re.compile(r"^(#{1,4})\s+(.+?)\s*$")
_COMMENT = re.compile(r"^<!--.*-->\n", re.MULTILINE)
_FENCE = re.compile(r"^\s*```")


def folder() -> Path:
    """Return where the manual is: inside the installed package, else in the source tree."""
    inside = Path(lumenward.__file__).parent / "manual"
    return inside if inside.is_dir() else Path(lumenward.__file__).parents[2] / "docs"


@dataclass(frozen=True)
class Section:
    """One heading with the text under it, up to the next heading."""

    level: int
    title: str
    anchor: str
    text: str


@dataclass(frozen=True)
class Page:
    """One page: its name in addresses, its text."""

    name: str
    text: str

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """Return the headings in order; a `#` inside a code block is none."""
        found: list[tuple[int, str, list[str]]] = []
        fenced = False
        for line in self.text.splitlines():
            fenced ^= bool(_FENCE.match(line))
            heading = None if fenced else _HEADING.match(line)
            if heading:
                found.append((len(heading[1]), plain(heading[2]), []))
            elif found:
                found[-1][2].append(line)
        used: dict[str, int] = {}
        return tuple(
            Section(level, title, _anchor(title, used), "\n".join(body)) for level, title, body in found
        )

    @property
    def title(self) -> str:
        """Return the first heading."""
        return self.sections[0].title if self.sections else self.name

    @property
    def lead(self) -> str:
        """Return the first paragraph under the title."""
        text = self.sections[0].text.strip() if self.sections else ""
        return plain(" ".join(text.split("\n\n")[0].split()))


@dataclass(frozen=True)
class Hit:
    """One heading that a search found."""

    page: Page
    section: Section


def plain(text: str) -> str:
    """Return a line of Markdown without its marks.

    >>> plain("`lumenward calc` and [the **rules**](rules.md)")
    'lumenward calc and the rules'
    """
    return re.sub(r"[`*]", "", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text))


def slug(title: str) -> str:
    """Return a heading as the part of an address behind the #.

    >>> slug("`sequence.order`: the steps came in their order")
    'sequence-order-the-steps-came-in-their-order'
    """
    return re.sub(r"[^a-z0-9_]+", "-", plain(title).lower()).strip("-") or "part"


def _anchor(title: str, used: dict[str, int]) -> str:
    found = slug(title)
    used[found] = used.get(found, 0) + 1
    return found if used[found] == 1 else f"{found}-{used[found]}"


@cache
def _read(place: Path) -> dict[str, Page]:
    found = {path.stem: _page(path) for path in sorted(place.glob("*.md"))}
    found.pop("index", None)
    order = [*(name for name in ORDER if name in found), *(name for name in found if name not in ORDER)]
    return {name: found[name] for name in order}


def pages() -> dict[str, Page]:
    """Return every page by name, in the order of the contents."""
    return _read(folder())


def index() -> Page:
    """Return the first page."""
    return _page(folder() / "index.md")


def _page(path: Path) -> Page:
    return Page(path.stem, _COMMENT.sub("", path.read_text("utf-8")))


def search(words: str) -> list[Hit]:
    """Return the headings that hold every word, then the sections whose text does."""
    wanted = words.lower().split()
    if not wanted:
        return []
    titled, told = [], []
    for page in pages().values():
        for section in page.sections:
            heading = f"{page.title} {section.title}".lower()
            if all(word in heading for word in wanted):
                titled.append(Hit(page, section))
            elif all(word in f"{heading} {section.text.lower()}" for word in wanted):
                told.append(Hit(page, section))
    return [*titled, *told]
