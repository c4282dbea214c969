"""Addresses of the screen Now."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.now import views

app_name = "now"
urlpatterns = [
    path("", views.page, name="page"),
    path("now/", views.page, name="now"),
    path("now/strip/", views.strip, name="strip"),
]
