"""Choosing a lot at a desk: scanned from its label or picked from those that are open."""

from __future__ import annotations

from django import forms
from django.utils import timezone

from lumenward.interchange.scanning import scan
from lumenward.journey.states import LotState
from lumenward.quantities import Refusal
from lumenward.records.world import StoredWorld
from lumenward.screens.shared.desk import said


class LotChoice:
    """The open lots of one shelf ("detergents", "disinfectants", "strips", "brushes", "kits")."""

    def __init__(self, world: StoredWorld, shelf: str) -> None:
        self.world, self.shelf = world, shelf
        self.lots = [one for one in world.lots() if one.shelf == shelf and not one.withdrawn_why]

    def choices(self) -> list[tuple[str, str]]:
        """Return the lots as choices, the last opened first."""
        names = {one.id: one.name for one in getattr(self.world.library(), self.shelf)}
        newest = sorted(self.lots, key=lambda one: (one.opened_at is not None, one.opened_at), reverse=True)
        return [
            ("", "choose"),
            *((one.id, self._words(one, names.get(one.product, one.product))) for one in newest),
        ]

    def _words(self, lot: LotState, name: str) -> str:
        over = lot.expires is not None and lot.expires < timezone.localdate()
        return f"{name}, lot {lot.lot}" + (", expired" if over else "")

    def product(self, lot_id: str) -> str:
        """Return the product of one of these lots, or nothing."""
        return next((one.product for one in self.lots if one.id == lot_id), "")

    def settle(self, form: forms.Form, scanned: str, chosen: str) -> None:
        """Put the lot that was scanned, or else the one that was chosen, under `chosen`; or the error beside them."""
        text = form.cleaned_data.get(scanned) or ""
        if text.strip():
            self._read(form, text, scanned, chosen)
        elif not form.cleaned_data.get(chosen) and chosen not in form.errors:
            form.add_error(chosen, "Scan the label or choose the lot.")

    def _read(self, form: forms.Form, text: str, scanned: str, chosen: str) -> None:
        zone = timezone.get_current_timezone_name()
        try:
            found = scan(text, "lot", self.world, lambda code: None, timezone.now(), zone)
        except Refusal as refusal:
            form.add_error(scanned, said(refusal))
            return
        if found.id not in [one.id for one in self.lots]:
            form.add_error(scanned, f"{found.label} is none of the {self.shelf}.")
            return
        form.cleaned_data[chosen] = found.id
