"""Addresses of the door: coming in, going out, choosing who to be in the demo."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.door import views

app_name = "door"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("people-of-the-demo/", views.choose, name="choose"),
]
