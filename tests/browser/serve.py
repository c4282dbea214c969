"""The house's own server in a process whose clock can be set forward: a line with seconds on stdin moves it on.

Floors are real time and are never shortened. So that a test need not wait for them, the whole process (and the
browser beside it) goes forward in time together.
"""

from __future__ import annotations

import os
import sys
import threading
from datetime import UTC, datetime, timedelta
from socketserver import ThreadingMixIn
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

import time_machine


class Server(ThreadingMixIn, WSGIServer):
    """One thread a request."""

    daemon_threads = True
    request_queue_size = 64


class Quiet(WSGIRequestHandler):
    """No line in the log for a request."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""


def serve() -> None:
    """Serve until the pipe closes."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lumenward.records.settings")
    import django

    django.setup()
    from django.core.wsgi import get_wsgi_application

    server = make_server("127.0.0.1", 0, get_wsgi_application(), server_class=Server, handler_class=Quiet)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    sys.stdout.write(f"{server.server_port}\n")
    sys.stdout.flush()
    traveller = None
    for line in sys.stdin:
        if traveller is not None:
            now = datetime.now(UTC)
            traveller.stop()
        else:
            now = datetime.now(UTC)
        traveller = time_machine.travel(now + timedelta(seconds=float(line)), tick=True)
        traveller.start()
        sys.stdout.write("moved\n")
        sys.stdout.flush()


if __name__ == "__main__":
    serve()
