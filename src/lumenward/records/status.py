"""What is here, in one look."""

from __future__ import annotations

from typing import Any

from lumenward.quantities import Refusal
from lumenward.records.accounts import is_demo
from lumenward.records.ledgering import newest_head
from lumenward.records.models import Conflict, Projection, RefusedAct, StoredEvent
from lumenward.records.world import StoredWorld


def status() -> dict[str, Any]:
    """Return counts, the tree head, what is in force and the instant of the last event."""
    head = newest_head()
    last = StoredEvent.objects.order_by("-seq").values_list("recorded_at", flat=True).first()
    return {
        "events": head.size if head else 0,
        "head": f"{head.size}:{head.root}" if head else "",
        "last_recorded_at": last or "",
        "endoscopes": Projection.objects.filter(about="endoscope", active=True).count(),
        "people": Projection.objects.filter(about="person", active=True).count(),
        "refused_acts": RefusedAct.objects.count(),
        "conflicts": Conflict.objects.count(),
        "library": _in_force("library"),
        "policy": _in_force("policy"),
        "demo": is_demo(),
    }


def _in_force(what: str) -> str:
    world = StoredWorld()
    try:
        if what == "policy":
            policy = world.policy()
            return f"{policy.name}, edition {policy.edition}"
        return f"{len(world.library().endoscopes)} models"
    except Refusal:
        return "none adopted"
