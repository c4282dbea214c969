"""The form that corrects an act: one field for each value of its body, read from the schema of its kind."""

from __future__ import annotations

import types
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from django import forms
from pydantic.fields import FieldInfo

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS
from lumenward.journey.states import World
from lumenward.quantities import Refusal
from lumenward.screens.shared.desk import DeskForm, Quantity

UNITS = {
    "_c": "°C", "_kpa": "kPa", "_ml": "mL", "_l": "L", "_ppm": "ppm", "_s": "s", "_percent": "%",
}  # fmt: skip
_LABELS = {
    "where": "where the leak is", "case": "case", "water_l": "water", "dose_ml": "dose", "passes": "strokes",
    "low_ppm": "concentration, lowest", "high_ppm": "concentration, highest", "read_after_s": "read after",
    "bladder_cancer_history": "history of bladder cancer",
}  # fmt: skip
_LINKS = frozenset(
    {"started", "batches", "verdict", "verdict_digest", "turns"}
)  # refer to other acts: not retyped
_SHELVES = {
    "detergent": ("detergents",), "cabinet": ("cabinets",), "dryer": ("dryers",), "kit": ("kits",),
    "meter": ("meters",), "pump": ("pumps",), "washer": ("washers",), "water": ("waters",), "basin": ("basins",),
    "disinfectant": ("disinfectants",), "vessel": ("sinks", "containers"),
}  # fmt: skip
YES_NO = (("yes", "yes"), ("no", "no"))
_KEEP, _WITHDRAW = "mend", "withdraw"


class YesNo(forms.ChoiceField):
    """A fact that is so or not."""


class Correction(DeskForm):
    """What was wrong about one act, and why. What is corrected stays in the record, struck through."""

    how = forms.ChoiceField(
        label="What is wrong",
        choices=((_KEEP, "It happened, but a value is wrong"), (_WITHDRAW, "It did not happen")),
        widget=forms.RadioSelect,
        initial=_KEEP,
    )
    reason = forms.CharField(
        label="Reason",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It stands in the record beside the act, with your name.",
        error_messages={"required": "Say why: the reason stands beside the correction."},
    )

    def __init__(self, event: Event, world: World, endoscope: str, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.event = event
        self.keys: dict[str, str] = {}
        reason = self.fields.pop("reason")
        schema = KINDS[event.kind].body.model_fields
        for key, info in schema.items():
            made = _field(key, info, event.body.get(key), world, _model(world, endoscope))
            if made is not None:
                self.fields[f"new_{key}"] = made
                self.keys[key] = f"new_{key}"
        self.fields["reason"] = reason
        self.names = {f"new_body.{key}": name for key, name in self.keys.items()} | self.keys

    def clean(self) -> dict[str, Any]:
        """Refuse a correction that changes nothing."""
        found = super().clean() or {}
        if not self.errors and found.get("how") == _KEEP and self.new_body() == self.event.body:
            self.add_error(None, "Nothing was changed: change the value that is wrong.")
        return found

    def body(self) -> dict[str, Any]:
        """Return the body of the correction."""
        plain = {"event": self.event.id, "reason": self.cleaned_data["reason"]}
        return plain if self.cleaned_data["how"] == _WITHDRAW else plain | {"new_body": self.new_body()}

    def new_body(self) -> dict[str, Any]:
        """Return the act's body with what was typed in place of what was there."""
        found = {key: value for key, value in self.event.body.items() if key not in self.keys}
        for key, name in self.keys.items():
            value = _plain(self.cleaned_data.get(name), self.fields[name])
            if value not in (None, "", []):
                found[key] = value
        return found


def _model(world: World, endoscope: str) -> EndoscopeModel | None:
    found = world.endoscope(endoscope)
    try:
        return world.library().model(found.model) if found else None
    except Refusal:
        return None


def _field(
    key: str, info: FieldInfo, value: Any, world: World, model: EndoscopeModel | None
) -> forms.Field | None:
    if key in _LINKS:
        return None
    label = _label(key)
    kind = _bare(info.annotation)
    common: dict[str, Any] = {"label": label, "required": False, "initial": value}
    if get_origin(kind) is Literal:
        return _choice([(one, one) for one in get_args(kind)], common, info.is_required())
    if kind is bool:
        words = None if value is None else "yes" if value else "no"
        return YesNo(choices=_choices(list(YES_NO), words, True), **common | {"initial": words})
    if kind in (int, float):
        return Quantity(_unit(key), **common)
    if kind is str:
        return _words(key, value, common, world)
    if get_origin(kind) is list and key in ("channels", "ports", "clamped") and model is not None:
        things = model.channels if key == "channels" else model.ports
        known = [(one.id, one.name) for one in things]
        return forms.MultipleChoiceField(choices=known, widget=forms.CheckboxSelectMultiple, **common)
    return None


def _words(key: str, value: Any, common: dict[str, Any], world: World) -> forms.Field:
    shelves = _SHELVES.get(key)
    if shelves is not None:
        known = [(one.id, one.name) for shelf in shelves for one in getattr(world.library(), shelf)]
        return _choice(known, common, True)
    if key in ("lot", "brush_lot", "strip_lot"):
        lots = [(one.id, f"{one.lot}, {one.product}") for one in world.lots()]
        return _choice(lots, common, value is not None)
    return forms.CharField(max_length=500, **common)


def _choice(known: list[tuple[str, str]], common: dict[str, Any], required: bool) -> forms.Field:
    return forms.ChoiceField(choices=_choices(known, common.get("initial"), required), **common)


def _choices(known: list[tuple[str, str]], given: Any, required: bool) -> list[tuple[str, str]]:
    if given is not None and given not in [one for one, _ in known]:
        known = [(given, str(given)), *known]
    return known if required and given is not None else [("", "not stated"), *known]


def _plain(value: Any, field: forms.Field) -> Any:
    """Return a form's value as the body keeps it."""
    if isinstance(field, YesNo):
        return {"yes": True, "no": False}.get(value)
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _bare(annotation: Any) -> Any:
    """Return a type without its marks and without "or nothing"."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        kinds = [one for one in get_args(annotation) if one is not type(None)]
        return _bare(kinds[0]) if len(kinds) == 1 else annotation
    return annotation


def _unit(key: str) -> str:
    return next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")


def _label(key: str) -> str:
    plain = key
    for ending in UNITS:
        plain = plain.removesuffix(ending)
    return _LABELS.get(key, plain.replace("_", " ")).capitalize()
