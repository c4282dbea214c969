"""Addresses of the screen Shelf."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.shelf import views

app_name = "shelf"
urlpatterns = [
    path("", views.page, name="page"),
    path("<str:endoscope>/take/", views.take, name="take"),
    path("<str:endoscope>/hold/", views.hold, name="hold"),
    path("<str:endoscope>/lift/", views.lift, name="lift"),
]
