"""Forms of the desk screens: typed values are kept, a refusal stands beside its field, one form is one act."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.http import HttpRequest, QueryDict
from django.utils import timezone

from lumenward.ledger.uuid7 import make_id
from lumenward.quantities import Refusal, parse_in, parse_number
from lumenward.records.models import StoredEvent
from lumenward.records.roles import actor_of, not_signed_in
from lumenward.records.service import Act, record_one

STATION = "desk"


class Quantity(forms.CharField):
    """A number with its unit, typed as people write it: decimal comma or point, the unit or none."""

    def __init__(self, unit: str = "", **kwargs: Any) -> None:
        super().__init__(max_length=200, **kwargs)
        self.unit = unit
        self.widget.attrs.update(inputmode="decimal", autocomplete="off")

    def clean(self, value: Any) -> Any:
        """Return the number in this field's unit, None where nothing was typed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_in(text, self.unit) if self.unit else parse_number(text)
        except Refusal as refusal:
            raise forms.ValidationError(said(refusal)) from None


class HouseTime(forms.CharField):
    """An instant on the house's wall clock; nothing typed means now."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"})
        super().__init__(required=False, max_length=40, widget=widget, **kwargs)

    def clean(self, value: Any) -> Any:
        """Return the instant with the house's offset, or None."""
        text = super().clean(value)
        if not text:
            return None
        try:
            found = datetime.fromisoformat(text)
        except ValueError:
            raise forms.ValidationError("Write it as 2031-05-07 14:30, or leave it empty for now.") from None
        return found if found.tzinfo else timezone.make_aware(found)


class DeskForm(forms.Form):
    """A form that becomes one act. `act` is the act's id: the same form sent twice is recorded once."""

    act = forms.CharField(max_length=36, required=False, widget=forms.HiddenInput)
    use_required_attribute = False
    names: dict[str, str] = {}  # field named by a refusal -> field of this form, where they differ

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.fields["act"].initial = new_id()

    @property
    def act_id(self) -> str:
        """The id this form's act is recorded under."""
        return str(self.cleaned_data.get("act") or new_id())

    def body(self) -> dict[str, Any]:
        """Return the body of the act this form becomes; a form of secrets has none, so there is no default."""
        raise TypeError(f"{type(self).__name__} does not become an act")

    def refuse(self, refusal: Refusal) -> None:
        """Put a refusal beside the field it speaks of, or above all of them."""
        short = refusal.field.removeprefix("body.")
        name = self.names.get(short, short)
        self.add_error(name if name in self.fields and name != "act" else None, said(refusal))


def sent(request: HttpRequest) -> QueryDict | None:
    """Return what was sent, an empty form too; None where the page was only asked for."""
    return request.POST if request.method == "POST" else None


def new_id() -> str:
    """Return a fresh id for an act of now."""
    return str(make_id(int(timezone.now().timestamp() * 1000)))


def said(refusal: Refusal) -> str:
    """Return a refusal as one text: what is wrong, then what to do."""
    return f"{refusal.message} {refusal.hint}".strip()


def record_here(
    request: HttpRequest, form: DeskForm, kind: str, subject: str, body: dict[str, Any], *, cycle: str = "",
    at: datetime | None = None,
) -> bool:  # fmt: skip
    """Record one act of the signed-in person at the desk; False, with the sentence in the form, where it is refused.

    An empty `subject` stands for the act's own id.
    """
    actor = actor_of(request)
    if actor is None:
        form.refuse(not_signed_in())
        return False
    now = timezone.now()
    act_id = form.act_id
    known = StoredEvent.objects.filter(pk=act_id).first()
    if known is not None and (known.kind, known.person, known.subject) == (kind, actor.id, subject or act_id):
        return True
    said_at = timezone.localtime(at or now).isoformat()
    act = {
        "id": act_id, "kind": kind, "version": 1, "subject": subject or act_id, "cycle": cycle, "person": actor.id,
        "station": STATION, "happened_at": said_at, "body": body,
    }  # fmt: skip
    answer = record_one(Act(act), actor, now)
    if answer.error is not None:
        form.refuse(answer.error)
    return answer.error is None
