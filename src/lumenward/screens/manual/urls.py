"""Addresses of the manual."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.manual import views

app_name = "manual"
urlpatterns = [
    path("", views.contents, name="contents"),
    path("pictures/<str:name>", views.picture, name="picture"),
    path("<slug:name>/", views.page, name="page"),
]
