"""A process that has loaded everything once and forks a server whenever it is told to: quick to kill and to replace.

A line on standard input forks one server on the given port; its process id is printed. The server is the product's
own WSGI application on the product's own database; only the socket loop is the standard library's.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from socketserver import TCPServer, ThreadingMixIn
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

from django.urls import get_resolver

from lumenward.records.wsgi import application


class Server(ThreadingMixIn, WSGIServer):
    """One thread a request."""

    daemon_threads = True

    def server_bind(self) -> None:
        """Bind without asking a name server what we are called."""
        TCPServer.server_bind(self)
        self.server_name, self.server_port = "localhost", int(self.server_address[1])
        self.setup_environ()


class Quiet(WSGIRequestHandler):
    """No line in the log for a request."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""


def serve(port: int) -> None:
    """Serve until killed; the one before may still be dying on the same port."""
    while True:
        try:
            server = make_server("127.0.0.1", port, application, server_class=Server, handler_class=Quiet)
        except OSError:
            time.sleep(0.005)
        else:
            server.serve_forever()


def main(port: int) -> None:
    """Fork a server for each line; reap those that were killed."""
    get_resolver().check()  # loads every view
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            serve(port)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]))
