"""All addresses: the API, then the screens."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("api/", include("lumenward.api.urls")),
    path("", include("lumenward.screens.urls")),
]

handler400 = "lumenward.records.errors.bad_request"
handler403 = "lumenward.records.errors.forbidden"
handler404 = "lumenward.records.errors.not_found"
handler500 = "lumenward.records.errors.our_fault"
