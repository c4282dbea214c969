"""`migrate`, `status`, `check`, `rebuild`: looking after what is stored."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from lumenward.cli.shell import DONE, FOUND, say, start_django

Json = Annotated[bool, Parameter(name="--json", negative="")]


def migrate(*, as_json: Json = False) -> int:
    """Bring the database to this version; nothing happens when it is there already.

    Example: lumenward migrate
    """
    start_django()
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.recorder import MigrationRecorder

    before = MigrationRecorder(connection).applied_migrations()
    call_command("migrate", verbosity=0, interactive=False)
    done = len(MigrationRecorder(connection).applied_migrations()) - len(before)
    say({"migrations": done}, f"{done} migrations applied." if done else "Nothing to do.", as_json)
    return DONE


def status(*, as_json: Json = False) -> int:
    """Say in one look what is here: events, tree head, people, policy, library, last event.

    Example: lumenward status --json
    """
    start_django()
    from lumenward.records.status import status as look

    found = look()
    say(found, "\n".join(f"{key.replace('_', ' ')}: {value}" for key, value in found.items()), as_json)
    return DONE


def check(*, head: list[str] | None = None, as_json: Json = False) -> int:
    """Verify everything stored: leaf hashes, tree, heads, projections, references. Exit 1 on any finding.

    Example: lumenward check --head 1200:4d1f…

    Parameters
    ----------
    head
        a tree head kept elsewhere, SIZE:ROOT (printed on records and by `status`); may be said several times.
    """
    start_django()
    from lumenward.records.check import check_all, outside_heads

    report = check_all(outside_heads(head or []))
    lines = [f"{finding.severity}: {finding.message}" for finding in report.findings]
    words = f"{report.events} events, tree head {report.events}:{report.root}: "
    words += "nothing found." if report.sound else f"{len(lines)} findings."
    say(report.as_dict(), "\n".join([*lines, words]), as_json)
    return DONE if report.sound else FOUND


def rebuild(*, as_json: Json = False) -> int:
    """Throw the projections away and make them again from the ledger.

    Example: lumenward rebuild
    """
    start_django()
    from lumenward.records.rebuild import rebuild as again

    events, states = again()
    say({"events": events, "states": states}, f"{states} states made from {events} events.", as_json)
    return DONE
