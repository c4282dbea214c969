"""The manual, as installed: contents, pages, a search over headings."""

from __future__ import annotations

import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import may
from lumenward.screens.manual import pages
from lumenward.screens.manual.drawing import html_of

_PICTURE = re.compile(r"^[\w-]+\.png$")


@may("see")
def contents(request: HttpRequest) -> HttpResponse:
    """Show the contents, or what a search found."""
    words = request.GET.get("q", "")[:200]
    context = {"pages": list(pages.pages().values()), "words": words, "hits": pages.search(words)[:80]}
    if not words.strip():
        context["html"] = html_of(pages.index())
    return render(request, "manual/contents.html", context)


@may("see")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Show one page with its headings beside it."""
    known = pages.pages()
    if name not in known:
        hint = "Pages: " + ", ".join(known) + "."
        return refused(request, Refusal("not-found", f"The manual has no page {name[:40]!r}.", "page", hint))
    names = list(known)
    at = names.index(name)
    context = {
        "page": known[name], "html": html_of(known[name]), "pages": list(known.values()),
        "sections": [one for one in known[name].sections if one.level == 2],
        "before": known[names[at - 1]] if at else None,
        "after": known[names[at + 1]] if at + 1 < len(names) else None,
    }  # fmt: skip
    return render(request, "manual/page.html", context)


@may("see")
def picture(request: HttpRequest, name: str) -> HttpResponse:
    """Return a picture of the manual."""
    place = pages.folder() / "pictures" / name
    if not _PICTURE.match(name) or not place.is_file():
        return refused(
            request, Refusal("not-found", "The manual has no such picture.", "name", "See the manual.")
        )
    return HttpResponse(place.read_bytes(), content_type="image/png")
