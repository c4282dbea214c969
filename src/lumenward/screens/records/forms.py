"""What is asked for on the screen Records: which cycles; which print; what was wrong about an act."""

from __future__ import annotations

from typing import Any

from django import forms

from lumenward.interchange.cycles import Wanted

_DAY = {"type": "date"}


class Find(forms.Form):
    """Which cycles to look for; every field may stay empty."""

    endoscope = forms.CharField(label="Endoscope", max_length=80, required=False)
    person = forms.CharField(label="Person", max_length=80, required=False)
    case = forms.CharField(label="Case", max_length=200, required=False)
    first = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d")
    )
    last = forms.DateField(label="To", required=False, widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"))
    use_required_attribute = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for name in ("first", "last"):
            self.fields[name].error_messages["invalid"] = "Write a day as 2031-05-07."
        for name in ("endoscope", "person", "case"):
            self.fields[name].widget.attrs.update(autocomplete="off", spellcheck="false")

    def clean(self) -> dict[str, Any]:
        """Refuse a stretch of days that ends before it begins."""
        found = super().clean() or {}
        first, last = found.get("first"), found.get("last")
        if first and last and last < first:
            self.add_error("last", f"{last} is before {first}.")
        return found

    def wanted(self) -> Wanted:
        """Return what was asked for; fields that could not be read count as empty."""
        data = self.cleaned_data
        return Wanted(
            endoscope=data.get("endoscope", "").strip(), person=data.get("person", "").strip(),
            case=data.get("case", "").strip(), first=data.get("first"), last=data.get("last"),
        )  # fmt: skip
