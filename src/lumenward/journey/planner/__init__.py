"""From what a house owns and has decided to the plan of one endoscope's cycle.

`order.py` lists the builders in the order of the work, `steps/` holds one module a group, `bench.py` what they read,
`computed.py` the seam to the hydraulics. A stated number comes from `journey/numbers.py`.
"""

from __future__ import annotations

from lumenward.journey.planner.making import make_plan

__all__ = ["make_plan"]
