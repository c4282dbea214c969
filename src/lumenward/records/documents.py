"""Adopted documents: valid as a whole, and named by their own digest."""

from __future__ import annotations

from lumenward.equipment.loader import digest, library_from_document, policy_from_document
from lumenward.journey.event import Event
from lumenward.quantities import Refusal


def check_documents(event: Event) -> None:
    """Raise a Refusal if an adopted document is not valid or does not have the digest beside it."""
    if event.kind == "library_adopted":
        _same_digest(event, digest(library_from_document(event.body["document"])))
    elif event.kind == "policy_adopted":
        _same_digest(event, digest(policy_from_document(event.body["document"])))


def _same_digest(event: Event, found: str) -> None:
    if event.body["digest"] != found:
        message = f"The document's digest is {found[:12]}…, not {event.body['digest'][:12]}…."
        raise Refusal("wrong-digest", message, "body.digest", "Send the digest of this document.")
