"""Markdown to HTML: no raw HTML, no inline style, headings with addresses, links that stay in the manual."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from django.urls import reverse
from django.utils.safestring import SafeString
from markdown_it import MarkdownIt
from markdown_it.token import Token

from lumenward.screens.manual.pages import Page

_MARKDOWN = MarkdownIt("commonmark", {"html": False}).enable("table")
_PAGE = re.compile(r"^(?:docs/)?([a-z0-9-]+)\.md(#.*)?$")
_PICTURE = re.compile(r"^(?:docs/)?pictures/([\w.-]+)$")

_REACHABLE = (  # what scrolls sideways on a phone can be reached by keyboard
    ("<pre>", '<pre tabindex="0">'),
    ("<table>", '<div class="scrolls" tabindex="0" role="region" aria-label="Table"><table>'),
    ("</table>", "</table></div>"),
)


def html_of(page: Page) -> SafeString:
    """Return a page as HTML; raw HTML in it is shown as text."""
    tokens = _MARKDOWN.parse(page.text)
    anchors = iter(section.anchor for section in page.sections)
    for token in _every(tokens):
        _mend(token, anchors)
    written: str = _MARKDOWN.renderer.render(tokens, _MARKDOWN.options, {})
    for plain, reachable in _REACHABLE:
        written = written.replace(plain, reachable)
    return SafeString(written)  # nosec B703


def _every(tokens: Sequence[Token]) -> Iterator[Token]:
    for token in tokens:
        yield token
        yield from _every(token.children or [])


def _mend(token: Token, anchors: Iterator[str]) -> None:
    if token.type == "heading_open":
        token.attrSet("id", next(anchors, "part"))
    elif token.type in ("th_open", "td_open") and token.attrs.pop("style", ""):
        token.attrSet("class", "number")
    elif token.type == "link_open":
        token.attrSet("href", _address(str(token.attrGet("href") or "")))
    elif token.type == "image":
        token.attrSet("src", _picture(str(token.attrGet("src") or "")))
    elif token.type == "fence":
        token.info = ""


def _address(href: str) -> str:
    found = _PAGE.match(href)
    if not found:
        return href
    if found[1] == "index":
        return reverse("manual:contents")
    return reverse("manual:page", args=[found[1]]) + (found[2] or "")


def _picture(src: str) -> str:
    found = _PICTURE.match(src)
    return reverse("manual:picture", args=[found[1]]) if found else src
