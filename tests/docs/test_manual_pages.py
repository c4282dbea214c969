"""The manual as the tool serves it: every page, its links, its search, and nothing the page policy refuses."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.test import Client

from lumenward.screens.manual import pages
from lumenward.screens.manual.drawing import html_of
from lumenward.screens.manual.pages import Page

SignIn = Callable[[str], Client]


def text_of(answer: Any) -> str:
    return str(answer.content.decode())


def test_every_page_is_served_and_its_links_lead_somewhere(client_as: SignIn) -> None:
    client = client_as("viewer")
    bodies = {f"/manual/{name}/": text_of(client.get(f"/manual/{name}/")) for name in pages.pages()}
    bodies["/manual/"] = text_of(client.get("/manual/"))
    for address, body in bodies.items():
        assert body.count("<h1") == 1, address
        for href in re.findall(r'href="(/manual/[^"#?]*)(?:#([^"]*))?"', body):
            assert href[0] in bodies, (address, href)
            assert not href[1] or f'id="{href[1]}"' in bodies[href[0]], (address, href)


def test_no_page_carries_a_style_or_raw_html() -> None:
    page = Page(
        "x",
        "# T\n\n<script>alert(1)</script>\n\n| a | b |\n|---|--:|\n| 1 | 2 |\n\n[x](javascript:alert(1))\n",
    )
    html = html_of(page)
    assert "<script>" not in html
    assert "style=" not in html
    assert '<td class="number">' in html
    assert 'href="javascript' not in html
    assert all("style=" not in html_of(one) for one in pages.pages().values())


def test_a_heading_inside_a_code_block_is_none() -> None:
    page = Page("x", "# T\n\n```\n# not a heading\n```\n\n## Real\n\ntext\n\n## Real\n")
    assert [section.anchor for section in page.sections] == ["t", "real", "real-2"]
    assert 'id="real-2"' in html_of(page)


def test_a_search_finds_headings_first_and_then_text(client_as: SignIn) -> None:
    hits = pages.search("hang time")
    assert hits[0].page.name == "rules"
    assert "hang time" in hits[0].section.title.lower()
    page = text_of(client_as("viewer").get("/manual/", {"q": "hang time"}))
    assert f"#{hits[0].section.anchor}" in page
    assert "Nothing speaks of" in text_of(client_as("viewer").get("/manual/", {"q": "zeppelin <b>"}))
    assert pages.search("  ") == []


def test_what_is_not_there_is_said_and_strangers_stay_outside(client_as: SignIn) -> None:
    client = client_as("viewer")
    assert client.get("/manual/unicorns/").status_code == 404
    for name in ("none.png", "..%2Fwhy.md", "why.md"):
        assert client.get(f"/manual/pictures/{name}").status_code == 404
    for address in ("/manual/", "/manual/rules/", "/manual/pictures/sink.png"):
        assert client_as("stranger").get(address).headers["Location"].startswith("/sign-in/")
