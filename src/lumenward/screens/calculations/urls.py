"""Addresses of the calculations."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.calculations import views

app_name = "calculations"
urlpatterns = [
    path("", views.listing, name="list"),
    path("<slug:name>/", views.page, name="page"),
    path("<slug:name>/from-json/", views.from_json, name="from-json"),
    path("<slug:name>/picture.<slug:kind>", views.picture, name="picture"),
]
