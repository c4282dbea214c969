"""What is asked for in set-up: people, what they have shown, endoscopes, reasons."""

from __future__ import annotations

import re
from typing import Any, get_args

from django import forms

from lumenward.equipment.library import Library
from lumenward.interchange.codes import Code, read_code
from lumenward.journey.kinds.house import CompetencyRecorded
from lumenward.journey.states import PersonState
from lumenward.quantities import Refusal
from lumenward.records.roles import ROLES
from lumenward.screens.shared.desk import DeskForm, said

_SLUG = re.compile(r"^[a-z0-9][a-z0-9-]{0,39}$")
_METHODS = [(one, one) for one in get_args(CompetencyRecorded.model_fields["method"].annotation)]
_ROLES = [(role, role) for role in ROLES]


def short_name(**kwargs: Any) -> forms.CharField:
    """Return the field of an id: small letters, digits, dashes."""
    return forms.CharField(max_length=200, error_messages={"required": "Give a short name."}, **kwargs)


def checked_short(text: str) -> str:
    """Return an id, or say what one looks like."""
    if not _SLUG.match(text):
        raise forms.ValidationError("Up to 40 small letters, digits and dashes, like mira or heron-14.")
    return text


class AddPerson(DeskForm):
    """A person who may work here from now on."""

    person = short_name(label="Short name to sign in with", help_text="Small letters, like mira.")
    name = forms.CharField(
        label="Name as shown and printed", max_length=500, error_messages={"required": "Give the name."}
    )
    role = forms.ChoiceField(
        label="Role", choices=_ROLES, widget=forms.RadioSelect, error_messages={"required": "Choose a role."}
    )
    badge = forms.CharField(
        label="Badge", max_length=200, required=False, help_text="Scan it; may be given later."
    )
    password = forms.CharField(
        label="First password", max_length=200, widget=forms.PasswordInput, strip=False,
        help_text="At least 12 characters, not one of the common ones.",
        error_messages={"required": "Give a first password."},
    )  # fmt: skip
    pin = forms.CharField(
        label="PIN for signing", max_length=20, required=False, widget=forms.PasswordInput,
        help_text="4 to 8 digits; only for people who release. May be given later.",
    )  # fmt: skip
    names = {"subject": "person"}
    field_order = ["person", "name", "role", "badge", "password", "pin"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].widget.attrs.update(
            autocapitalize="off", spellcheck="false", autocomplete="off"
        )
        self.fields["password"].widget.attrs.update(autocomplete="new-password")
        self.fields["pin"].widget.attrs.update(autocomplete="off", inputmode="numeric")

    def clean_person(self) -> str:
        """Take an id only."""
        return checked_short(self.cleaned_data["person"])

    def proofs(self) -> dict[str, str]:
        """Return what proves who they are, where given."""
        given = {key: self.cleaned_data[key] for key in ("password", "badge", "pin")}
        return {key: value for key, value in given.items() if value}


class Competency(DeskForm):
    """Somebody was shown competent."""

    model = forms.ChoiceField(label="For", error_messages={"required": "Choose a model."})
    valid_until = forms.DateField(
        label="Valid until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Give the last day.", "invalid": "Write the day as 2031-05-07."},
    )  # fmt: skip
    method = forms.ChoiceField(label="Shown by", choices=_METHODS)
    assessed_by = forms.ChoiceField(label="Judged by", error_messages={"required": "Choose who judged it."})

    def __init__(self, library: Library | None, people: list[PersonState], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        models = [(one.id, f"{one.name} ({one.family})") for one in (library.endoscopes if library else [])]
        self.fields["model"].choices = [("*", "every model"), *models]  # type: ignore[attr-defined]
        self.fields["assessed_by"].choices = [("", "choose"), *((one.id, one.name) for one in people)]  # type: ignore[attr-defined]

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        data = self.cleaned_data
        return {
            "model": data["model"], "valid_until": data["valid_until"].isoformat(), "method": data["method"],
            "assessed_by": data["assessed_by"],
        }  # fmt: skip


class Role(DeskForm):
    """Another role."""

    role = forms.ChoiceField(
        label="New role",
        choices=_ROLES,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a role."},
    )

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {"role": self.cleaned_data["role"]}


class Proofs(DeskForm):
    """A new password, badge or PIN; none of them goes into the ledger."""

    badge = forms.CharField(label="Badge", max_length=200, required=False, help_text="Scan it.")
    password = forms.CharField(
        label="New password", max_length=200, required=False, strip=False, widget=forms.PasswordInput
    )
    pin = forms.CharField(label="New PIN", max_length=20, required=False, widget=forms.PasswordInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].widget.attrs.update(autocomplete="new-password")
        self.fields["pin"].widget.attrs.update(autocomplete="off", inputmode="numeric")


class Leave(DeskForm):
    """The end of somebody's work here."""

    reason = forms.CharField(label="Reason, if it should stand in the record", max_length=500, required=False)

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {"reason": self.cleaned_data["reason"]} if self.cleaned_data["reason"] else {}


class Register(DeskForm):
    """An endoscope joins the fleet. A scanned GS1 label fills model and serial where these were left empty."""

    code = forms.CharField(
        label="Scan its own label", max_length=300, help_text="This code will find it at the sink, letter for letter.",
        error_messages={"required": "Scan or type the label."},
    )  # fmt: skip
    endoscope = short_name(label="Short name", help_text="For addresses and records, like heron-14.")
    name = forms.CharField(
        label="Name as shown", max_length=200, error_messages={"required": "Give the name."}
    )
    model = forms.ChoiceField(label="Model", required=False)
    serial = forms.CharField(label="Serial number", max_length=80, required=False)
    owner = forms.ChoiceField(
        label="Whose", choices=[("own", "ours"), ("loan", "on loan")], widget=forms.RadioSelect, initial="own"
    )
    names = {"subject": "endoscope"}

    def __init__(self, library: Library, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.library = library
        choices = [(one.id, f"{one.name} ({one.family})") for one in library.endoscopes]
        self.fields["model"].choices = [("", "choose, or scan a GS1 label"), *choices]  # type: ignore[attr-defined]

    def clean_endoscope(self) -> str:
        """Take an id only."""
        return checked_short(self.cleaned_data["endoscope"])

    def clean(self) -> dict[str, Any]:
        """Fill from the label what was left empty; what differs from the label is said."""
        found = super().clean() or {}
        if found.get("code"):
            self._from_label(found)
        for key, words in (("model", "Choose the model."), ("serial", "Give the serial number.")):
            if not found.get(key) and key not in self.errors:
                self.add_error(key, words)
        return found

    def _from_label(self, found: dict[str, Any]) -> None:
        try:
            code = read_code(found["code"])
        except Refusal as refusal:
            self.add_error("code", said(refusal))
            return
        found["code"] = code.plain
        read = {"model": self._model_of(code), "serial": code.serial}
        if code.gtin and not read["model"]:
            self.add_error("code", f"No model of the library has the item number {code.gtin}.")
        for key, value in read.items():
            if value and found.get(key) and found[key] != value:
                self.add_error(key, f"The label says {value}.")
            found[key] = found.get(key) or value

    def _model_of(self, code: Code) -> str:
        return next((one.id for one in self.library.endoscopes if code.gtin and one.gtin == code.gtin), "")

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {key: self.cleaned_data[key] for key in ("name", "model", "serial", "code", "owner")}


class AdoptPolicy(DeskForm):
    """Why this policy comes into force."""

    document = forms.CharField(widget=forms.HiddenInput, max_length=1_000_000)
    reason = forms.CharField(
        label="Why, in the words that will stand in the record", max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why it comes into force."},
    )  # fmt: skip


class AdoptLibrary(DeskForm):
    """A checked library on its way into force."""

    document = forms.CharField(widget=forms.HiddenInput, max_length=1_900_000)
