"""Addresses of the screen Records."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.records import views

app_name = "records"
urlpatterns = [
    path("", views.listing, name="list"),
    path("all.csv", views.export_csv, name="csv"),
    path("all.json", views.export_json, name="json"),
    path("<uuid:cycle>/", views.one, name="one"),
    path("<uuid:cycle>.pdf", views.one_pdf, name="pdf"),
    path("<uuid:cycle>.json", views.one_json, name="one-json"),
    path("<uuid:cycle>/acts/<uuid:act>/", views.correct, name="correct"),
]
