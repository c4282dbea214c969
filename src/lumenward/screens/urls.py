"""Addresses of every screen: one slice each."""

from __future__ import annotations

from django.urls import include, path

SLICES = (
    ("", "door"),
    ("", "now"),
    ("sink/", "sink"),
    ("basins/", "basins"),
    ("supplies/", "supplies"),
    ("shelf/", "shelf"),
    ("records/", "records"),
    ("setup/", "setup"),
    ("channels/", "channels"),
    ("calculations/", "calculations"),
    ("manual/", "manual"),
)

urlpatterns = [path(door, include(f"lumenward.screens.{name}.urls")) for door, name in SLICES]
