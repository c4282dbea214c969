"""Projections thrown away and made again from the ledger."""

from __future__ import annotations

from lumenward.records.ledgering import writing
from lumenward.records.models import Projection, StoredEvent, Touch
from lumenward.records.replaying import replay


def rebuild() -> tuple[int, int]:
    """Make touches and projections again from the ledger; return (events read, states made)."""
    with writing():
        found = replay(StoredEvent.objects.order_by("seq").iterator(2000))
        Touch.objects.all().delete()
        Projection.objects.all().delete()
        Touch.objects.bulk_create(
            (
                Touch(
                    event_id=event_id, about=about, ref=ref, happened_utc=found.events[event_id].happened_at
                )
                for event_id, about, ref in sorted(found.touches)
            ),
            batch_size=2000,
        )
        Projection.objects.bulk_create(found.projections.values(), batch_size=500)
    return len(found.events), len(found.projections)
