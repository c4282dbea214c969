"""What every request passes: size limit, headers, who it comes from."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponseBase

from lumenward.quantities import Refusal
from lumenward.records import accounts, errors

Handler = Callable[[HttpRequest], HttpResponseBase]

POLICY = "; ".join(
    (
        "default-src 'self'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:", "font-src 'self'",
        "connect-src 'self'", "worker-src 'self'", "manifest-src 'self'", "object-src 'none'", "base-uri 'none'",
        "form-action 'self'", "frame-ancestors 'none'",
    )
)  # fmt: skip
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def guard(handler: Handler) -> Handler:
    """Refuse what is too large before it is read, keep answers out of caches, give /api/ one error shape."""

    def handle(request: HttpRequest) -> HttpResponseBase:
        response = _within_limit(request) or handler(request)
        if errors.for_machines(request) and response.status_code >= 400 and not _is_json(response):
            response = _shaped(request, response)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if not request.path.startswith(f"/{settings.STATIC_URL.strip('/')}/"):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    return handle


def _within_limit(request: HttpRequest) -> HttpResponseBase | None:
    try:
        size = int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return errors.refused(request, errors.SENTENCES[400], 400)
    if size <= settings.LUMENWARD_BODY_LIMIT:
        return None
    refusal = Refusal(
        "too-large",
        f"The request has {size} bytes; at most {settings.LUMENWARD_BODY_LIMIT} are taken.",
        "",
        errors.SENTENCES[413].hint,
    )
    return errors.refused(request, refusal, 413)


def _is_json(response: HttpResponseBase) -> bool:
    return response.headers.get("Content-Type", "").startswith("application/json")


def _shaped(request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    known = errors.SENTENCES.get(response.status_code, errors.SENTENCES[400])
    shaped = errors.refused(request, known, response.status_code)
    if "Allow" in response.headers:
        shaped.headers["Allow"] = response.headers["Allow"]
    return shaped


def people(handler: Handler) -> Handler:
    """Say who the request comes from (`request.actor`); who has left is signed out at once."""

    def handle(request: HttpRequest) -> HttpResponseBase:
        request.actor = accounts.actor_of_user(request.user)  # type: ignore[attr-defined]
        if request.user.is_authenticated and request.actor is None:  # type: ignore[attr-defined]
            logout(request)
        return handler(request)

    return handle
