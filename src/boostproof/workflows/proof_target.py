"""What boost is wanted of the car of a case, as the proof of a repair needs it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.quantity import Quantity
from boostproof.workflows.target_told import gauge, logged_boost, wanted_boost

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.proof.model import Target
    from boostproof.recording.model import Pull

_RPM = 30.0 / np.pi
_GRID = np.arange(500.0, 12_001.0, 50.0)


def target_of(car: CarSpec, before: Sequence[Pull], after: Sequence[Pull]) -> Target | None:
    """The target of ``limits.target`` over engine speed, on each side's own day; None where it is not known.

    A tolerance that was written is that of the car; without one 7 kPa, the difference that one would act on (common
    practice, no source). Rows say from which engine speed the boost is wanted: the lowest of them.
    """
    from boostproof.proof.model import Target

    wanted = car.limits.target
    levels = [_mean([_wanted(wanted, pull) for pull in side]) for side in (before, after)]
    if levels[0] is None or levels[1] is None:
        return None
    return Target(_GRID, levels[0] / 1e3, levels[1] / 1e3, _tolerance(wanted) / 1e3, _from(wanted))


def stop_of(car: CarSpec, pulls: Sequence[Pull]) -> float | None:
    """Stop boost on the day of some pulls [kPa gauge]; None where it is not known."""
    stop = car.limits.stop
    if stop is None:
        return None
    return gauge(stop, max(pull.recording.barometer.value for pull in pulls)) / 1e3


def _wanted(wanted: object, pull: Pull) -> NDArray[np.float64] | None:
    """Pa gauge over the grid."""
    if wanted == "as logged":
        return _as_logged(pull)
    return wanted_boost(wanted, _GRID / _RPM, pull)


def _as_logged(pull: Pull) -> NDArray[np.float64] | None:
    target = logged_boost(pull)
    if target is None:
        return None
    rows = slice(pull.start, pull.stop)
    boost = target[rows]
    speed = pull.recording.channels["engine_speed"].values[rows] * _RPM
    known = np.isfinite(boost) & np.isfinite(speed)
    if known.sum() < 2:
        return None
    order = np.argsort(speed[known], kind="stable")
    return np.asarray(np.interp(_GRID, speed[known][order], boost[known][order]))


def _mean(curves: Sequence[NDArray[np.float64] | None]) -> NDArray[np.float64] | None:
    known = [curve for curve in curves if curve is not None]
    return np.mean(known, axis=0) if len(known) == len(curves) else None


def _tolerance(wanted: object) -> float:
    """How far a sound car may lie from the target [Pa]."""
    from boostproof.recording.pulls.comparison import MATTERS

    told = [wanted] if isinstance(wanted, Quantity) else []
    if isinstance(wanted, tuple):
        told = [row.boost for row in wanted if row.boost is not None]
    widths = [_width(boost) for boost in told if boost.form != "exact"]
    if any(boost.form == "exact" for boost in told) or not widths:
        widths.append(1e3 * MATTERS)
    return max(widths)


def _width(boost: Quantity) -> float:
    from boostproof.recording.pulls.comparison import MATTERS

    half = 0.5 * (boost.high - boost.low)
    return max(half, 1e3 * MATTERS) if boost.form == "about" else half


def _from(wanted: object) -> float | None:
    if not isinstance(wanted, tuple):
        return None
    speeds = [row.rpm.value * _RPM for row in wanted if row.rpm is not None and row.boost is not None]
    return min(speeds, default=None)
