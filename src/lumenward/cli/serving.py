"""`lumenward serve`: the web server."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter
from cyclopts.validators import Number

from lumenward.quantities import Refusal
from lumenward.records import environment


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
    if not quiet:
        print(f"Lumenward is served at http://{host}:{port}/ (stop: Ctrl-C)", flush=True)
    _granian(host, port, workers, threads)
    return 0


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
        log_level=LogLevels.warning,
    ).serve()
