"""Height above the sea, which satellite receivers log: it tells the air around where no barometer does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.recording.columns.matching import Seen
from boostproof.units import get_unit

_LOWEST, _HIGHEST = -420.0, 5000.0  # m; roads
_MIDDLE = (2.0, 98.0)
_LARGEST_CHANGE = 600.0  # m in one log; more is a receiver that searches


def altitude_of(seen: Sequence[Seen]) -> float | None:
    """Median altitude of a recording [m], None where no column tells it.

    Parameters
    ----------
    seen : every column of the table; one that says altitude and no unit is taken in metres
    """
    for one in seen:
        for reading in one.readings:
            unit = reading.unit
            if "ALTITUDE" not in reading.concepts or not one.some.size:
                continue
            if unit is not None and unit.dimension != "length":
                continue
            metres = one.some * (unit or get_unit("m", "length")).factor
            low, high = np.percentile(metres, _MIDDLE)
            if low > _LOWEST and high < _HIGHEST and high - low < _LARGEST_CHANGE and np.any(metres != 0.0):
                return float(np.median(metres))
    return None
