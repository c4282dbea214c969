"""Addresses of the screen Basins."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.basins import views

app_name = "basins"
urlpatterns = [
    path("", views.page, name="page"),
    path("<str:basin>/pour/", views.pour, name="pour"),
    path("charges/<uuid:charge>/test/", views.test, name="test"),
    path("charges/<uuid:charge>/empty/", views.empty, name="empty"),
]
