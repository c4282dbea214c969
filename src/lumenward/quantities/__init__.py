"""Units at the edge, SI inside; and the one shape of a refusal."""

from __future__ import annotations

from lumenward.quantities.refusal import Refusal

__all__ = ["Refusal"]
