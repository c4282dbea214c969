"""Lets the tests of this room import the invented unit."""

from __future__ import annotations

import sys
from pathlib import Path

HOUSE = str(Path(__file__).parents[1] / "house")
if HOUSE not in sys.path:
    sys.path.insert(0, HOUSE)
