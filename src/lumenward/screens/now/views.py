"""The screen Now: what needs hands next, and what is running out of time."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from lumenward.records.roles import may
from lumenward.screens.now.board import board


@may("see")
def page(request: HttpRequest) -> HttpResponse:
    """The page as a whole; it asks for the strip again by itself."""
    return render(request, "now/page.html", {"board": board(timezone.now())})


@may("see")
def strip(request: HttpRequest) -> HttpResponse:
    """Only what changes with time."""
    return render(request, "now/strip.html", {"board": board(timezone.now())})
