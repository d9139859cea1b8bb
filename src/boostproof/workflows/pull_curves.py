"""Boost of pulls over engine speeds that they share, and the boost wanted there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.workflows.recordings_seen import PullSeen

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TargetBand:
    """Boost wanted over engine speed, with its tolerance [rpm, kPa gauge]."""

    low: Array = field(repr=False)
    wanted: Array = field(repr=False)
    high: Array = field(repr=False)


def target_band(wanted: Any, rpm: Array, barometer: float) -> TargetBand | None:
    """The target of car.toml at engine speeds.

    Parameters
    ----------
    wanted : ``limits.target``, as one boost or in rows over engine speed
    rpm : engine speeds
    barometer : Pa abs, for a target written as absolute pressure

    Returns
    -------
    TargetBand or None
        Two standard deviations to either side; None where no target is written.
    """
    from boostproof.workflows.target_told import rows_of, wanted_at

    speed = rpm * np.pi / 30.0
    middle = wanted_at(wanted, speed, barometer)
    if middle is None:
        return None
    rows = rows_of(wanted)
    if rows:
        doubt = np.interp(speed, [at for at, _ in rows], [2.0 * boost.sd for _, boost in rows])
    else:
        doubt = np.full(len(rpm), 2.0 * wanted.sd)
    return TargetBand((middle - doubt) / 1e3, middle / 1e3, (middle + doubt) / 1e3)


def shared_speeds(pulls: Sequence[PullSeen]) -> Array:
    """Engine speeds every 25 rpm over all pulls that can be drawn [rpm]."""
    from boostproof.workflows.over_speed import speeds

    return speeds([(float(p.rpm[0]), float(p.rpm[-1])) for p in pulls if len(p.rpm)])


def on_shared(pull: PullSeen, values: Array, grid: Array) -> Array:
    """A curve of a pull on the engine speeds of all, NaN outside."""
    out = np.full(len(grid), np.nan)
    if len(pull.rpm) and len(grid):
        first = round((pull.rpm[0] - grid[0]) / (grid[1] - grid[0])) if len(grid) > 1 else 0
        out[first : first + len(values)] = values[: len(grid) - first]
    return out


def round_speeds(pulls: Sequence[PullSeen], step: float) -> Array:
    """Multiples of a step over all pulls that can be drawn [rpm]."""
    some = [pull for pull in pulls if len(pull.rpm)]
    first = step * np.ceil(min(pull.rpm[0] for pull in some) / step)
    return np.arange(first, max(pull.rpm[-1] for pull in some) + 1.0, step)


def boost_at(pull: PullSeen, rpm: float) -> tuple[float, float] | None:
    """Boost of a pull at an engine speed and its sd [kPa gauge]; None where it was not driven."""
    boost, sd = (float(np.interp(rpm, pull.rpm, v, np.nan, np.nan)) for v in (pull.boost, pull.sd))
    return (boost, sd) if np.isfinite(boost) else None
