"""`lumenward serve`: the web server."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated

from cyclopts import Parameter
from cyclopts.validators import Number

from lumenward.cli.warming import keep_compiled_in
from lumenward.quantities import Refusal
from lumenward.records import environment

AHEAD_AFTER_S = 10.0  # the first pages come first
_WARM_UP = (sys.executable, "-c", "from lumenward.cli import main; main()", "warm-up", "--beside")


def serve(
    *,
    host: str = "127.0.0.1",
    port: Annotated[int, Parameter(validator=Number(gte=1, lte=65535))] = 8000,
    workers: Annotated[int, Parameter(validator=Number(gte=1, lte=64))] = 1,
    threads: Annotated[int, Parameter(validator=Number(gte=1, lte=256))] = 64,
    quiet: bool = False,
) -> int:
    """Serve the pages and the API until stopped. On SQLite one worker process is the rule.

    Example: lumenward serve --port 8000

    Parameters
    ----------
    host
        the address to listen at; the loopback address is reached from this machine alone.
    port
        the port to listen at.
    workers
        processes; more than one needs PostgreSQL.
    threads
        threads of one process.
    quiet
        print nothing.
    """
    home = environment.home()
    environment.prepare(home)
    if workers > 1 and environment.database("LUMENWARD_DATABASE", home)["ENGINE"].endswith("sqlite3"):
        message = f"{workers} worker processes were asked for; SQLite serves one."
        raise Refusal("too-many-workers", message, "workers", "Use --workers 1, or PostgreSQL.")
    _refuse_taken(host, port)
    if not quiet:
        print(f"Lumenward is served at http://{host}:{port}/ (stop: Ctrl-C)", flush=True)
    keep_compiled_in(home / "compiled")
    with made_ahead():
        _granian(host, port, workers, threads)
    return 0


def _refuse_taken(host: str, port: int) -> None:
    """Refuse a place where something listens already: the server's own sockets would share it without a word."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        socket.create_server((host, port), family=family).close()
    except OSError as error:
        message = f"Nothing can listen at {host}:{port}: {(error.strerror or str(error)).lower()}."
        hint = "Stop what listens there, or say another --port (for ./go demo: LUMENWARD_PORT)."
        raise Refusal("port-taken", message, "port", hint) from None


@contextmanager
def made_ahead(after_s: float = AHEAD_AFTER_S) -> Iterator[None]:
    """Run `lumenward warm-up` beside, in a process of its own; whatever becomes of it, the server goes on."""
    ending = threading.Event()
    beside = threading.Thread(target=_make_ahead, args=(ending, after_s), daemon=True)
    beside.start()
    try:
        yield
    finally:
        ending.set()
        beside.join(timeout=2)


def _make_ahead(ending: threading.Event, after_s: float) -> None:
    if ending.wait(after_s):
        return
    try:
        process = subprocess.Popen(_WARM_UP, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
    except OSError as error:
        print(f"Nothing is made ahead: {error.strerror}.", file=sys.stderr)
        return
    while process.poll() is None and not ending.wait(1.0):
        pass
    if process.poll() is None:
        process.terminate()
    process.wait()


def _granian(host: str, port: int, workers: int, threads: int) -> None:
    from granian import Granian
    from granian.constants import Interfaces
    from granian.log import LogLevels

    Granian(
        "lumenward.records.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=threads,
        workers_kill_timeout=2,
        websockets=False,
        log_access=False,
        log_level=LogLevels.error,  # a warning is given for every number of threads
    ).serve()
