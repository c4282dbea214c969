"""The tree of commands. Each name points to a function that is imported only when it is called."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from importlib.metadata import version

from cyclopts import App

_GROUPS = {
    "person": "People who may work here: add, leave, password, pin, badge, token.",
    "library": "The equipment library: check a folder, adopt it, print its schema.",
    "policy": "The policy profile: check a file, adopt it, print its schema.",
    "demo": "The invented house: load it, remove it.",
    "bench": "Benchmarks: how fast it is here, beside a peer in the same run.",
}
_COMMANDS: dict[str, dict[str, str]] = {
    "": {
        "serve": "serving:serve",
        "migrate": "keeping:migrate",
        "status": "keeping:status",
        "check": "keeping:check",
        "rebuild": "keeping:rebuild",
        "calc": "calculating:calc",
        "evidence": "proving:evidence",
        "warm-up": "warming:warm_up",
    },
    "person": {
        **{name: f"people:{name}" for name in ("add", "leave", "password", "pin", "badge", "token")},
        "list": "people:everyone",
    },
    "library": {
        "check": "equipping:check_library",
        "adopt": "equipping:adopt_library",
        "schema": "equipping:library_schema",
    },
    "policy": {
        "check": "equipping:check_policy",
        "adopt": "equipping:adopt_policy",
        "schema": "equipping:policy_schema",
    },
    "demo": {"load": "inventing:load", "remove": "inventing:remove"},
    "bench": {"channels": "benching:channels"},
}


def build(with_words: bool) -> App:
    """Return the command tree; `with_words` imports every command at once, because help quotes them all."""
    app = App(
        name="lumenward",
        help="The bench computer of the room where flexible endoscopes are reprocessed.",
        version=lambda: version("lumenward"),
        help_format="plaintext",
    )
    for group, members in _COMMANDS.items():
        parent = app
        if group:
            parent = App(name=group, help=_GROUPS[group])
            app.command(parent)
        for name, target in members.items():
            path = f"lumenward.cli.{target}"
            parent.command(_function(path) if with_words else path, name=name)
    return app


def _function(path: str) -> Callable[..., int]:
    module, _, name = path.partition(":")
    found: Callable[..., int] = getattr(import_module(module), name)
    return found
