"""Addresses of the sink."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.sink import views

app_name = "sink"
urlpatterns = [
    path("", views.stations, name="stations"),
    path("bench-card/", views.bench_card, name="bench-card"),
    path("<slug:station>/", views.waiting, name="waiting"),
    path("<slug:station>/<slug:endoscope>/", views.work, name="work"),
]
