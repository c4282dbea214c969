"""Who stands before the API: a key in the Authorization header, or the session of a signed-in page."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from ninja.errors import HttpError
from ninja.security import APIKeyCookie, HttpBearer

from lumenward.records import accounts
from lumenward.records.roles import Actor, actor_of, no_right


class Key(HttpBearer):
    """A machine's key, made by `lumenward person token`."""

    def authenticate(self, request: HttpRequest, token: str) -> Actor | None:
        return accounts.actor_of_token(token, datetime.now(UTC))


class Session(APIKeyCookie):
    """The session of a page. A stranger is told so before the proof of origin (CSRF) is asked for."""

    param_name = settings.SESSION_COOKIE_NAME

    def __call__(self, request: HttpRequest) -> Any:
        return super().__call__(request) if actor_of(request) is not None else None

    def authenticate(self, request: HttpRequest, key: str | None) -> Actor | None:
        return actor_of(request)


def must(request: HttpRequest, what: str) -> Actor:
    """Return who asks, or raise the Refusal that their role does not allow `what`."""
    actor = getattr(request, "auth", None)
    if not isinstance(actor, Actor):
        raise HttpError(401, "Unauthorized")
    if not actor.may(what):
        raise no_right(actor, what)
    return actor
