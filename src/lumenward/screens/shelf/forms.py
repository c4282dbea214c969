"""What is asked for on the screen Shelf."""

from __future__ import annotations

from typing import get_args

from django import forms

from lumenward.journey.kinds.disinfection import Held
from lumenward.screens.shared.desk import DeskForm

REASONS = [(one, one) for one in get_args(Held.model_fields["reason"].annotation)]


class Take(DeskForm):
    """For which case it leaves the shelf, and where it goes."""

    case = forms.CharField(
        label="Case", max_length=80, help_text="The reference of the case, scanned or typed; never a name.",
        error_messages={"required": "Say for which case it is taken."},
    )  # fmt: skip
    room = forms.CharField(label="Room", max_length=80, required=False)

    def body(self) -> dict[str, str]:
        """Return the body of the act."""
        return {key: self.cleaned_data[key] for key in ("case", "room") if self.cleaned_data[key]}


class Hold(DeskForm):
    """Why nobody may use it."""

    reason = forms.ChoiceField(
        label="Why it is held",
        choices=[("", "choose"), *REASONS],
        error_messages={"required": "Choose the reason."},
    )
    note = forms.CharField(
        label="Note", max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was seen or heard, for whoever lifts the hold.",
    )  # fmt: skip

    def body(self) -> dict[str, str]:
        """Return the body of the act."""
        return {key: self.cleaned_data[key] for key in ("reason", "note") if self.cleaned_data[key]}


class Lift(DeskForm):
    """Why the hold is over."""

    reason = forms.CharField(
        label="Why it may go on", max_length=500, widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why the hold is over."},
    )  # fmt: skip

    def body(self) -> dict[str, str]:
        """Return the body of the act."""
        return {"reason": self.cleaned_data["reason"]}
