"""Addresses of the screen Set-up."""

from __future__ import annotations

from django.urls import path

from lumenward.screens.setup import adopting, endoscopes, equipment, people, views

app_name = "setup"
urlpatterns = [
    path("", views.page, name="page"),
    path("people/", people.listing, name="people"),
    path("people/add/", people.add, name="add-person"),
    path("people/<slug:person>/", people.one, name="person"),
    path("people/<slug:person>/competency/", people.competency, name="competency"),
    path("people/<slug:person>/role/", people.role, name="role"),
    path("people/<slug:person>/proofs/", people.proofs, name="proofs"),
    path("people/<slug:person>/leave/", people.leave, name="leave"),
    path("endoscopes/", endoscopes.listing, name="endoscopes"),
    path("endoscopes/register/", endoscopes.register, name="register"),
    path("equipment/", equipment.library, name="library"),
    path("equipment/models/<slug:model>/", equipment.model, name="model"),
    path("equipment/adopt/", adopting.library, name="adopt-library"),
    path("equipment/adopt/confirmed/", adopting.library_confirmed, name="adopt-library-confirmed"),
    path("policy/", adopting.policy, name="policy"),
    path("policy/preview/", adopting.policy_preview, name="preview-policy"),
    path("policy/adopt/", adopting.policy_confirmed, name="adopt-policy"),
]
