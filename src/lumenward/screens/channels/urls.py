"""Addresses of the screen Channels."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.channels import views

app_name = "channels"
urlpatterns = [
    path("", views.models, name="list"),
    path("<slug:model>/", views.page, name="page"),
    path("<slug:model>/figures/", views.figures, name="figures"),
    path("<slug:model>/find/", views.find, name="find"),
]
