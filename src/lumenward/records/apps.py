"""The Django app of this room."""

from __future__ import annotations

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Holds every table of the product."""

    name = "lumenward.records"
    label = "records"
    verbose_name = "Records"
