"""The fields of the sign-in page."""

from __future__ import annotations

from django import forms


class SignIn(forms.Form):
    """A person's short name and password."""

    person = forms.CharField(label="Your short name", max_length=40)
    password = forms.CharField(label="Password", max_length=200, widget=forms.PasswordInput, strip=False)

    person.widget.attrs.update(autocomplete="username", autocapitalize="off", spellcheck="false")
    password.widget.attrs.update(autocomplete="current-password")
