"""Lumenward: the bench computer of the room where flexible endoscopes are reprocessed."""

__version__ = "0.1.0"
