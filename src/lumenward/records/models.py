"""The tables: the ledger and what is folded from it, refusals and conflicts, accounts.

`StoredEvent` is append-only: its rows are made by `ledgering.append` alone and are never changed or deleted.
"""

from __future__ import annotations

from typing import Any, NoReturn

from django.conf import settings
from django.db import models


class AppendOnly(models.QuerySet["StoredEvent"]):
    """Rows of the ledger can be read and added, nothing else."""

    def update(self, **kwargs: Any) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only: record a correction instead.")

    def delete(self) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only: record a correction instead.")


class StoredEvent(models.Model):
    """One leaf of the ledger. `seq` counts from 1 without a gap; leaf index = seq - 1."""

    id = models.CharField(primary_key=True, max_length=36)
    seq = models.BigIntegerField(unique=True)
    kind = models.CharField(max_length=40, db_index=True)
    version = models.PositiveSmallIntegerField()
    subject = models.CharField(max_length=80, db_index=True)
    cycle = models.CharField(max_length=36, blank=True)
    person = models.CharField(max_length=40)
    station = models.CharField(max_length=40)
    happened_at = models.CharField(max_length=40)
    happened_utc = models.DateTimeField(db_index=True)
    recorded_at = models.CharField(max_length=40)
    body = models.TextField()
    leaf = models.CharField(max_length=64)

    objects = AppendOnly.as_manager()

    class Meta:
        indexes = [models.Index(fields=["kind", "happened_utc"], name="event_kind_time")]

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Insert; an existing row is never saved again."""
        if not self._state.adding:
            raise TypeError("The ledger is append-only: record a correction instead.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only: record a correction instead.")


class Touch(models.Model):
    """An event changes the state of one thing: `about` its kind, `ref` its id."""

    event = models.ForeignKey(StoredEvent, on_delete=models.CASCADE, related_name="touches")
    about = models.CharField(max_length=20)
    ref = models.CharField(max_length=80)
    happened_utc = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["about", "ref", "event"], name="touch_once")]
        indexes = [models.Index(fields=["about", "ref", "happened_utc"], name="touch_in_order")]


class Projection(models.Model):
    """The state of one thing, folded from the events that touch it; `seq` is the newest of them in the ledger."""

    about = models.CharField(max_length=20)
    ref = models.CharField(max_length=80)
    state = models.TextField()
    latest = models.CharField(max_length=80)  # instant (UTC) and id of the newest event, sortable as text
    active = models.BooleanField()  # exists and is not used up
    seq = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["about", "ref"], name="one_state")]


class TreeHead(models.Model):
    """The tree after the last event of one day (UTC); the newest row is the tree now."""

    day = models.DateField(unique=True)
    size = models.BigIntegerField()
    root = models.CharField(max_length=64)
    at = models.CharField(max_length=40)
    frontier = models.TextField()


class Conflict(models.Model):
    """An act that came with the id of another one: kept and shown, never in the ledger."""

    event = models.ForeignKey(StoredEvent, on_delete=models.CASCADE, related_name="conflicts")
    content = models.TextField()
    digest = models.CharField(max_length=64)
    sent_by = models.CharField(max_length=40)
    received_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["event", "digest"], name="conflict_once")]


class RefusedAct(models.Model):
    """An act that was not recorded, and the sentence why."""

    act = models.CharField(max_length=80, db_index=True)
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=80)
    person = models.CharField(max_length=40)
    station = models.CharField(max_length=40)
    sent_by = models.CharField(max_length=40)
    received_at = models.DateTimeField(db_index=True)
    code = models.CharField(max_length=40)
    message = models.TextField()
    field = models.CharField(max_length=80, blank=True)
    content = models.TextField()


class Person(models.Model):
    """The account of one person. Name, role and competencies are in the ledger; here is what proves who acts."""

    id = models.CharField(primary_key=True, max_length=40)
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="person"
    )
    badge = models.CharField(max_length=80, unique=True, null=True)
    pin_hash = models.CharField(max_length=200, blank=True)
    pin_failures = models.PositiveSmallIntegerField(default=0)
    pin_locked_until = models.DateTimeField(null=True)


class Token(models.Model):
    """A key for a machine that acts for one person: only its digest is kept."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="tokens")
    name = models.CharField(max_length=40)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField()
