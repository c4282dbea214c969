"""A record as a tagged PDF (PDF/UA-1) with its typeface inside, made without a word to any other machine."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from django.utils.html import escape

from lumenward.interchange.record_parts import CycleRecord
from lumenward.interchange.record_sheet import css, sheet
from lumenward.quantities import Refusal

PAPERS = {"A4": "210mm 297mm", "Letter": "8.5in 11in"}
FONTS = Path(str(files("lumenward"))) / "screens" / "shared" / "static" / "shared" / "fonts"
_FACES = (("latin-ext", "normal"), ("latin", "normal"), ("latin-ext", "italic"), ("latin", "italic"))


def record_pdf(record: CycleRecord, paper: str = "A4") -> bytes:
    """Return the record as PDF on A4 or Letter.

    Raises Refusal `unknown-paper`, and `no-pdf` where this machine lacks the libraries that draw text.
    """
    if paper not in PAPERS:
        raise Refusal(
            "unknown-paper", f"There is no paper {paper[:20]!r}.", "paper", f"Allowed: {', '.join(PAPERS)}."
        )
    engine = _engine()
    fonts = engine.text.fonts.FontConfiguration()
    page = engine.HTML(string=_page(record), url_fetcher=_nothing_from_outside(engine))
    style = engine.CSS(
        string=_faces() + css() + _frame(record, paper),
        font_config=fonts,
        url_fetcher=_nothing_from_outside(engine),
    )
    made: bytes = page.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1")
    return made


def _engine() -> Any:
    try:
        import weasyprint
        import weasyprint.text.fonts
    except (ImportError, OSError) as error:
        first = (str(error).splitlines() or ["unknown"])[0][:200]
        raise Refusal(
            "no-pdf",
            f"This machine cannot make PDF files: a library that draws text is missing ({first}).",
            "",
            "Print the page from the browser, or install libpango-1.0-0, libpangoft2-1.0-0 and libharfbuzz-subset0.",
        ) from None
    return weasyprint


def _nothing_from_outside(engine: Any) -> Any:
    return engine.urls.URLFetcher(allowed_protocols=("data", "file"), allow_redirects=False)


def _page(record: CycleRecord) -> str:
    title = f"{record.name}, cycle {record.cycle}"
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="author" content="{escape(record.unit)}"><meta name="generator" content="Lumenward"></head>'
        f"<body>{sheet(record)}</body></html>"
    )


def _frame(record: CycleRecord, paper: str) -> str:
    marked = " · DEMO, invented" if record.demo else ""
    left = f"{record.name} · {record.unit}{marked} · code "
    small = "font-size: 7.5pt; font-family: 'Atkinson Hyperlegible Next', 'DejaVu Sans', sans-serif;"
    return (
        f"@page {{ size: {PAPERS[paper]}; margin: 14mm 14mm 16mm;"
        f" @bottom-left {{ content: {_text(left)} string(code); {small} width: 80%; }}"
        f' @bottom-right {{ content: "page " counter(page) " of " counter(pages); {small} width: 20%; }} }}'
    )


def _text(words: str) -> str:
    """Return words as a CSS string: everything but letters, digits and spaces is escaped."""
    return '"' + "".join(c if c.isalnum() or c == " " else f"\\{ord(c):x} " for c in words) + '"'


@cache
def _faces() -> str:
    return "".join(
        f'@font-face {{ font-family: "Atkinson Hyperlegible Next"; font-weight: {weight}; font-style: {style};'
        f" src: url({(FONTS / f'atkinson-hyperlegible-next-{part}-wght-{style}.woff2').as_uri()});{_range(part)} }}"
        for part, style in _FACES
        for weight in ("normal", "bold")
    )


def _range(part: str) -> str:
    if part == "latin":
        return ""
    return " unicode-range: U+0100-02BA, U+1E00-1E9F, U+20A0-20AB, U+2C60-2C7F, U+A720-A7FF;"
