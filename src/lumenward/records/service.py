"""The one way into the ledger: who acts, may they, is it possible now; then event and projections together."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from django.db import transaction
from pydantic import ValidationError

from lumenward.journey.event import Event
from lumenward.journey.kinds import check_body
from lumenward.journey.legality import refuse
from lumenward.ledger.canonical import canonical_json
from lumenward.quantities import Refusal
from lumenward.records import accounts, ledgering
from lumenward.records.documents import check_documents
from lumenward.records.models import Conflict, RefusedAct, StoredEvent
from lumenward.records.projecting import Projector
from lumenward.records.roles import SET_UP, Actor, refuse_kind
from lumenward.records.world import StoredWorld, event_of
from lumenward.rulebook import assess

Words = Literal["recorded", "already recorded", "refused", "conflict"]
_SIGNED = "released"
_YEARS = range(2000, 2200)
_KEPT_CHARACTERS = 20_000
_LONGEST = {"act": 80, "kind": 40, "subject": 80, "person": 40, "station": 40}


@dataclass(frozen=True)
class Act:
    """What came from a station: the event's keys as they were sent, and the badge where somebody else acts.

    `signed` is set by `sign_release` alone: a release comes no other way.
    """

    said: Mapping[str, Any]
    badge: str = ""
    signed: bool = False

    @property
    def id(self) -> str:
        """The id as sent, whatever it is."""
        return str(self.said.get("id", ""))[:80]


@dataclass(frozen=True)
class Answer:
    """What became of one act. `error` is there when it was refused or is in conflict."""

    id: str
    answer: Words
    error: Refusal | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the answer for a machine."""
        plain: dict[str, Any] = {"id": self.id, "answer": self.answer}
        return plain | ({"error": self.error.as_dict()} if self.error else {})


def record(acts: Iterable[Act], session: Actor, now: datetime) -> list[Answer]:
    """Record acts in the order in which they happened, each in its own transaction; answer in the order sent.

    One refused act does not hold up the others. An answer is given only after the commit.
    """
    sent = list(acts)
    answers = {place: record_one(sent[place], session, now) for place in _in_order(sent)}
    return [answers[place] for place in range(len(sent))]


def record_one(act: Act, session: Actor, now: datetime) -> Answer:
    """Record one act in one transaction, or say why not; the refusal is kept too."""
    with ledgering.writing():
        try:
            with transaction.atomic():
                return _recorded(act, session, now)
        except Refusal as refusal:
            _keep_refusal(act, session, now, refusal)
            return Answer(act.id, "refused", refusal)


def record_many(batches: Iterable[list[tuple[Event, datetime]]]) -> int:
    """Record whole batches of (event, recorded at), one transaction a batch; return how many events.

    Same rules and projections as `record`; the people are taken at their word. The first refusal ends it, and the
    batch it came from is not recorded.
    """
    count = 0
    world = StoredWorld()
    size = ledgering.load_frontier().size
    for batch in batches:
        with ledgering.writing():
            if ledgering.load_frontier().size != size:
                world = StoredWorld()
            size = _record_batch(batch, world)
        world.forget_acts()
        count += len(batch)
    return count


def _record_batch(batch: list[tuple[Event, datetime]], world: StoredWorld) -> int:
    projector = Projector(world)
    rows: list[StoredEvent] = []
    world.look_up(event for event, _ in batch)
    size = ledgering.load_frontier().size
    for sent, recorded_at in batch:
        event, text = _checked(sent)
        problem = refuse(world, event, recorded_at, event.body) or _refuse_role(event, world)
        if problem is not None:
            raise problem
        row = ledgering.make_row(event, text, recorded_at, size + len(rows) + 1)
        projector.take_in(event_of(row), row.seq)  # as the ledger will give it back
        rows.append(row)
    if rows:
        ledgering.store(rows)
        projector.save()
    return size + len(rows)


def _refuse_role(event: Event, world: StoredWorld) -> Refusal | None:
    if event.person == SET_UP:
        return refuse_kind(SET_UP, SET_UP, event.kind)
    person = world.person(event.person)
    if person is None:
        return Refusal(
            "unknown-person", f"{event.person} is not known here.", "person", "Add the person first."
        )
    return refuse_kind(person.role, person.name, event.kind)


def _recorded(act: Act, session: Actor, now: datetime) -> Answer:
    event, text = _read(act)
    known = StoredEvent.objects.filter(pk=event.id).first()
    if known is not None and _same(known, event):
        return Answer(event.id, "already recorded")
    actor = acting(event.person, act.badge, session)
    if known is not None:
        return _conflict(known, event, session, now)
    problem = refuse_kind(actor.role, actor.name, event.kind) or _unsigned(event, act)
    world = StoredWorld()
    problem = problem or refuse(world, event, now, event.body) or _turned(world, event, now)
    if problem is not None:
        raise problem
    _append(world, event, text, now)
    return Answer(event.id, "recorded")


def _turned(world: StoredWorld, event: Event, now: datetime) -> Refusal | None:
    """Refuse to take for a patient what was released on facts that have changed since: a charge that failed later."""
    if event.kind != "taken_for_use":
        return None
    against = assess(world, event.subject, event.cycle, now).against
    if not against:
        return None
    return Refusal(
        "verdict-turned",
        f"Something came up after its release: {against[0].sentence}",
        "subject",
        against[0].fix or "Hold it until that is settled; take another endoscope.",
    )


def _append(world: StoredWorld, event: Event, text: bytes, now: datetime) -> None:
    seq = ledgering.load_frontier().size + 1
    row = ledgering.make_row(event, text, now, seq)
    projector = Projector(world)
    projector.take_in(event_of(row), seq)  # as the ledger will give it back
    ledgering.store([row])
    projector.save()
    if event.kind == "person_left":
        accounts.close_account(event.subject)


def _read(act: Act) -> tuple[Event, bytes]:
    try:
        event = Event.model_validate(dict(act.said))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise Refusal(
            "bad-act", f"{where or 'The act'}: {first['msg']}.", where, "See the API's schema."
        ) from None
    return _checked(event)


def _checked(event: Event) -> tuple[Event, bytes]:
    """Return the event as its kind's schema keeps it, and the canonical text of its body."""
    if event.happened_at.year not in _YEARS:
        message = f"The year {event.happened_at.year} cannot be meant."
        raise Refusal("bad-time", message, "happened_at", "Check the date, and this station's clock.")
    body = check_body(event)
    text = ledgering.body_text(body)  # what has no exact JSON form cannot be proved later
    checked = event.model_copy(update={"body": body})
    check_documents(checked)
    return checked, text


def acting(person: str, badge: str, session: Actor) -> Actor:
    """Return who acts: the signed-in person, or whoever's badge was scanned; refuse anybody else."""
    if person == session.id:
        return session
    actor = accounts.actor_of_badge(badge)
    if actor is None or actor.id != person:
        raise Refusal(
            "not-you",
            f"{session.name} is signed in; for {person} to act their badge must be scanned.",
            "person",
            "Scan the badge of the person who acts.",
        )
    return actor


def _unsigned(event: Event, act: Act) -> Refusal | None:
    if event.kind != _SIGNED or act.signed:
        return None
    return Refusal(
        "needs-signature", "A release needs the PIN of the person who signs.", "kind", "Use the release."
    )


def _same(row: StoredEvent, event: Event) -> bool:
    return canonical_json(ledgering.content(event_of(row))) == canonical_json(ledgering.content(event))


def _conflict(row: StoredEvent, event: Event, session: Actor, now: datetime) -> Answer:
    text = canonical_json(ledgering.content(event)).decode()
    digest = hashlib.sha256(text.encode()).hexdigest()
    Conflict.objects.get_or_create(
        event=row, digest=digest, defaults={"content": text, "sent_by": session.id, "received_at": now}
    )
    error = Refusal(
        "conflict",
        f"Another act was recorded under this id ({row.kind.replace('_', ' ')}); this one is kept beside it.",
        "id",
        "Record it again under a new id, or correct the recorded one.",
    )
    return Answer(event.id, "conflict", error)


def _keep_refusal(act: Act, session: Actor, now: datetime, refusal: Refusal) -> None:
    said = {key: _plain(act.said.get(key, ""))[:longest] for key, longest in _LONGEST.items() if key != "act"}
    RefusedAct.objects.create(
        act=_plain(act.id),
        **said,
        sent_by=session.id,
        received_at=now,
        code=refusal.code,
        message=refusal.message[:2000],
        field=refusal.field[:80],
        content=_plain(repr(dict(act.said)))[:_KEPT_CHARACTERS],
    )


def _plain(value: object) -> str:
    """Return text that every database can hold."""
    return str(value).replace("\x00", "�").encode("utf-8", "replace").decode()


def _in_order(acts: list[Act]) -> list[int]:
    def place(index: int) -> tuple[float, str, int]:
        act = acts[index]
        try:
            instant = datetime.fromisoformat(str(act.said.get("happened_at"))).timestamp()
        except (ValueError, OverflowError, OSError):
            instant = float("inf")
        return instant, act.id, index

    return sorted(range(len(acts)), key=place)
