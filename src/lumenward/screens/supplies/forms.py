"""What is asked for about supplies: a lot's label, how strips were proved, a connector set."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from lumenward.interchange.codes import Code, read_code
from lumenward.quantities import Refusal
from lumenward.records.world import StoredWorld
from lumenward.screens.shared.desk import DeskForm, Quantity, said
from lumenward.screens.supplies.board import SHELVES

_DAY = {"type": "date"}


class OpenLot(DeskForm):
    """A bottle or box as its label says it. A scanned GS1 label fills what was left empty."""

    code = forms.CharField(
        label="Scan the label", max_length=300, required=False,
        help_text="A GS1 label gives product, lot and expiry; the fields below fill by themselves.",
    )  # fmt: skip
    product = forms.ChoiceField(label="Product", required=False)
    lot = forms.CharField(label="Lot", max_length=40, required=False)
    expires = forms.DateField(
        label="To be used by", required=False, widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day as 2031-05-07."},
    )  # fmt: skip
    names = {"subject": "lot"}

    def __init__(self, world: StoredWorld, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        library = world.library()
        self.products = {one.id: (shelf, one) for shelf in SHELVES for one in getattr(library, shelf)}
        groups = [
            (title, [(one.id, one.name) for one in getattr(library, shelf)])
            for shelf, title in SHELVES.items()
            if getattr(library, shelf)
        ]
        self.fields["product"].choices = [("", "choose"), *groups]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Fill from the label, refuse what differs from it, ask for what is missing."""
        found = super().clean() or {}
        if found.get("code"):
            self._from_label(found)
        for key, words in (
            ("product", "Choose the product."),
            ("lot", "Type the lot."),
            ("expires", "Give the day."),
        ):
            if not found.get(key) and key not in self.errors:
                self.add_error(key, f"{words} It stands on the label.")
        return found

    def _from_label(self, found: dict[str, Any]) -> None:
        try:
            code = read_code(found["code"])
        except Refusal as refusal:
            self.add_error("code", said(refusal))
            return
        read = {"product": self._product_of(code), "lot": code.lot, "expires": code.expiry}
        if code.gtin and not read["product"]:
            self.add_error("code", f"The library has no product with the item number {code.gtin}.")
        for key, value in read.items():
            if value and found.get(key) and found[key] != value:
                self.add_error(key, f"The label says {value}.")
            found[key] = found.get(key) or value

    def _product_of(self, code: Code) -> str:
        for product_id, (_, product) in self.products.items():
            if (code.gtin and getattr(product, "gtin", "") == code.gtin) or product.code == code.plain:
                return str(product_id)
        return ""

    @property
    def subject(self) -> str:
        """The lot's id: its product and its number."""
        tail = re.sub(r"[^a-z0-9]+", "-", self.cleaned_data["lot"].lower()).strip("-")
        return f"{self.cleaned_data['product']}-{tail or 'lot'}"[:80]

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        data = self.cleaned_data
        plain = {
            "product": data["product"], "shelf": self.products[data["product"]][0], "lot": data["lot"],
            "expires": data["expires"].isoformat(),
        }  # fmt: skip
        return plain


class CheckStrips(DeskForm):
    """How the new bottle was proved."""

    full_strength_passed = Quantity(
        label="Strips that passed in full strength", error_messages={"required": "Say how many passed."},
        help_text="Three strips in undiluted disinfectant: all must pass.",
    )  # fmt: skip
    diluted_failed = Quantity(
        label="Strips that failed in diluted disinfectant", error_messages={"required": "Say how many failed."},
        help_text="Three strips in disinfectant diluted below its least strength: all must fail.",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Take whole numbers from 0 to 10 only."""
        found = super().clean() or {}
        for key in ("full_strength_passed", "diluted_failed"):
            value = found.get(key)
            if value is not None and (value != int(value) or not 0 <= value <= 10):
                self.add_error(key, "A whole number from 0 to 10.")
        return found

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {key: int(self.cleaned_data[key]) for key in ("full_strength_passed", "diluted_failed")}


class Reason(DeskForm):
    """Why something is not used any more."""

    reason = forms.CharField(
        label="Reason", max_length=500, widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why."},
    )  # fmt: skip

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {"reason": self.cleaned_data["reason"]}


class OpenSet(DeskForm):
    """A connector set that comes into use."""

    kind = forms.ChoiceField(label="Kind of set", error_messages={"required": "Choose the kind of set."})
    code = forms.CharField(
        label="Its own label", max_length=80, help_text="Scan or type the label on the set itself.",
        error_messages={"required": "Scan or type the label of this set."},
    )  # fmt: skip
    names = {"subject": "code"}

    def __init__(self, world: StoredWorld, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(one.id, one.name) for one in world.library().connector_sets]
        self.fields["kind"].choices = [("", "choose"), *kinds]  # type: ignore[attr-defined]

    @property
    def subject(self) -> str:
        """The set's id: its label."""
        return re.sub(r"[^a-z0-9]+", "-", self.cleaned_data["code"].lower()).strip("-")[:80] or "set"

    def body(self) -> dict[str, Any]:
        """Return the body of the act."""
        return {"kind": self.cleaned_data["kind"], "code": self.cleaned_data["code"]}
