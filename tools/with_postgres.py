"""Run one command with a throw-away PostgreSQL server; its URL is in LUMENWARD_TEST_DATABASE.

The server listens on loopback only, lives in a temporary folder, runs as the user postgres when we are root
(PostgreSQL refuses to run as root), and is stopped and removed afterwards.
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path


def binaries() -> Path:
    """Return the newest installed server's folder of programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found:
        sys.exit("with_postgres: no PostgreSQL server is installed.")
    return found[-1].parent


def as_postgres(command: list[str]) -> list[str]:
    """Return the command, run as the user postgres when we are root."""
    if os.geteuid() != 0:
        return command
    user = pwd.getpwnam("postgres")
    return ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--init-groups", *command]


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def start(programs: Path, folder: Path, port: int) -> subprocess.Popen[bytes]:
    """Make a cluster in `folder` and start it."""
    data = folder / "data"
    make = [
        str(programs / "initdb"),
        "-D",
        str(data),
        "-U",
        "lumenward",
        "-A",
        "trust",
        "-E",
        "UTF8",
        "--no-sync",
    ]
    subprocess.run(as_postgres(make), check=True, cwd="/", stdout=subprocess.DEVNULL)
    options = {
        "listen_addresses": "127.0.0.1",
        "port": str(port),
        "unix_socket_directories": "",
        "fsync": "off",
        "max_connections": "120",
    }
    serve = [str(programs / "postgres"), "-D", str(data), *(f"--{k}={v}" for k, v in options.items())]
    return subprocess.Popen(as_postgres(serve), cwd="/", stderr=subprocess.DEVNULL)


def wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    """Return when the server accepts connections."""
    for _ in range(200):
        if server.poll() is not None:
            sys.exit("with_postgres: the server stopped at once.")
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    sys.exit("with_postgres: the server did not answer in 20 s.")


def main() -> int:
    """Run the command after `--` and return its exit code."""
    command = sys.argv[sys.argv.index("--") + 1 :] if "--" in sys.argv else []
    if not command:
        sys.exit("usage: with_postgres.py -- COMMAND [ARG ...]")
    programs, folder, port = binaries(), Path(tempfile.mkdtemp(prefix="lumenward-pg-")), free_port()
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    server = start(programs, folder, port)
    try:
        wait_for(port, server)
        url = f"postgresql://lumenward@127.0.0.1:{port}/postgres"
        return subprocess.run(
            command, env={**os.environ, "LUMENWARD_TEST_DATABASE": url}, check=False
        ).returncode
    finally:
        server.terminate()
        server.wait(20)
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
