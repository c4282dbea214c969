"""Addresses of the screen Supplies."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.supplies import views

app_name = "supplies"
urlpatterns = [
    path("", views.page, name="page"),
    path("lots/open/", views.open_lot, name="open-lot"),
    path("lots/<str:lot>/strips/", views.check_strips, name="check-strips"),
    path("lots/<str:lot>/withdraw/", views.withdraw, name="withdraw"),
    path("sets/open/", views.open_set, name="open-set"),
    path("sets/<str:which>/discard/", views.discard_set, name="discard-set"),
]
