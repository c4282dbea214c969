"""The shell: the same capabilities as the pages, for people who type and for scripts."""

from __future__ import annotations


def main() -> None:
    """Run the command line and leave with its exit code."""
    import sys

    from lumenward.cli.shell import run

    sys.exit(run(sys.argv[1:]))
