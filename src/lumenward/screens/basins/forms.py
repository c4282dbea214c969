"""What is asked for at the basins: what was poured, how the test came out, why it is emptied."""

from __future__ import annotations

from typing import Any, get_args

from django import forms

from lumenward.journey.kinds.supplies import ChargeDiscarded
from lumenward.records.world import StoredWorld
from lumenward.screens.shared.desk import DeskForm, HouseTime, Quantity
from lumenward.screens.shared.lots import LotChoice

RESULTS = (("pass", "It passed"), ("fail", "It failed"))
REASONS = [(one, one) for one in get_args(ChargeDiscarded.model_fields["reason"].annotation)]


class Pour(DeskForm):
    """What went into the basin."""

    scanned = forms.CharField(label="Scan the bottle", max_length=300, required=False)
    lot = forms.ChoiceField(label="or choose the lot", required=False)
    volume_l = Quantity("L", label="Volume poured", error_messages={"required": "Say how much was poured."})
    temperature_c = Quantity("°C", label="Temperature", required=False, help_text="May stay empty.")
    when = HouseTime(label="When, if not now")
    names = {"code": "scanned", "happened_at": "when"}

    def __init__(self, world: StoredWorld, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = LotChoice(world, "disinfectants")
        self.fields["lot"].choices = self.lots.choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Find the lot that was scanned or chosen."""
        found = super().clean() or {}
        self.lots.settle(self, "scanned", "lot")
        return found

    def body(self) -> dict[str, Any]:
        """Return the body of the act, without the basin."""
        data = self.cleaned_data
        made = {
            "lot": data["lot"],
            "disinfectant": self.lots.product(data["lot"]),
            "volume_l": data["volume_l"],
        }
        return made | ({"temperature_c": data["temperature_c"]} if data["temperature_c"] is not None else {})


class Test(DeskForm):
    """How the concentration test came out."""

    scanned = forms.CharField(label="Scan the bottle of strips", max_length=300, required=False)
    strip_lot = forms.ChoiceField(label="or choose the strips", required=False)
    read_after_s = Quantity(
        "s", label="Read after", error_messages={"required": "Say after how long it was read."}
    )
    result = forms.ChoiceField(
        label="What the strip shows", choices=RESULTS, widget=forms.RadioSelect,
        error_messages={"required": "Say whether it passed."},
    )  # fmt: skip
    percent = Quantity("%", label="Concentration, if a figure was read", required=False)
    temperature_c = Quantity("°C", label="Temperature of the charge", required=False)
    when = HouseTime(label="When, if not now")
    names = {"code": "scanned", "happened_at": "when"}

    def __init__(self, world: StoredWorld, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = LotChoice(world, "strips")
        self.fields["strip_lot"].choices = self.lots.choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Find the strips that were scanned or chosen."""
        found = super().clean() or {}
        self.lots.settle(self, "scanned", "strip_lot")
        return found

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        keys = ("strip_lot", "read_after_s", "result", "percent", "temperature_c")
        return {key: self.cleaned_data[key] for key in keys if self.cleaned_data[key] is not None}


class Empty(DeskForm):
    """Why the charge is emptied."""

    reason = forms.ChoiceField(
        label="Why it is emptied",
        choices=[("", "choose"), *REASONS],
        error_messages={"required": "Choose the reason."},
    )
    note = forms.CharField(label="Note", max_length=500, required=False)
    when = HouseTime(label="When, if not now")
    names = {"happened_at": "when"}

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {key: self.cleaned_data[key] for key in ("reason", "note") if self.cleaned_data[key]}
