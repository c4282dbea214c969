"""All addresses: the API, then the screens."""

from __future__ import annotations

from importlib.util import find_spec

from django.urls import include, path

urlpatterns = [
    path(door, include(room))
    for door, room in (("api/", "lumenward.api.urls"), ("", "lumenward.screens.urls"))
    if find_spec(room)
]

handler400 = "lumenward.records.errors.bad_request"
handler403 = "lumenward.records.errors.forbidden"
handler404 = "lumenward.records.errors.not_found"
handler500 = "lumenward.records.errors.our_fault"
