"""Which pulls of a recording tell something: those that only repeat another are left out of the simulation.

Pulls of one car share the error that no model is free of, so that a repeat narrows noise only, and noise is the
smaller part after two of them. What is kept is one stretch of pulls that follow each other, since pressure trapped
in one pull shapes the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.bins import BIN
from boostproof.diagnosis.evidence.drive import Driven

if TYPE_CHECKING:
    from boostproof.recording.model import Pull

_LEAST = 2  # pulls that are kept where there are as many: one may have caught a gust, a slip, a lift
_ALIKE = 3.0e3  # Pa, root mean square over bins up to which a pull repeats another
_ANYWHERE = 7.0e3  # Pa, likewise at the worst bin

_SPOOLING = 0.35  # share of the longer pull's span of engine speed in which boost is still on its way

Curve = dict[int, float]  # number of the bin of engine speed -> mean boost [Pa gauge]


def telling(driven: Sequence[Driven]) -> list[Driven]:
    """The recordings with the pulls that tell something; other set-ups and openings at a held speed stay whole."""
    found = [d for d in driven if d.configuration.as_found and len(d.pulls) > _LEAST and not d.held]
    return [d._replace(pulls=_stretch(d)) if any(d is f for f in found) else d for d in driven]


def _stretch(driven: Driven) -> tuple[Pull, ...]:
    """The shortest run of pulls that holds the highest one and all that differ from those in it."""
    curves = [_curve(driven, pull) for pull in driven.pulls]
    count = len(curves)
    top = max(range(count), key=lambda k: (max(curves[k], default=0), k))
    first = max(0, min(top - (_LEAST - 1), count - _LEAST))
    last = max(top, first + _LEAST - 1)
    while True:
        kept = curves[first : last + 1]
        other = [k for k in range(count) if not first <= k <= last and not any(_repeats(curves[k], c) for c in kept)]
        if not other:
            return driven.pulls[first : last + 1]
        nearest = min(other, key=lambda k: min(abs(k - first), abs(k - last)))
        first, last = min(first, nearest), max(last, nearest)


def _repeats(curve: Curve, other: Curve) -> bool:
    """Whether a curve shows nothing that another does not; how it spools up hangs on what was before the pull."""
    if not curve:
        return True
    spooled = min(curve) + _SPOOLING * (max(*curve, *other) - min(curve))
    shown = [b for b in curve if b > spooled]
    if any(b not in other for b in shown):
        return False
    apart: Array = np.array([curve[b] - other[b] for b in shown])
    return bool(len(apart) == 0 or (np.sqrt(np.mean(apart**2)) < _ALIKE and np.abs(apart).max() < _ANYWHERE))


def _curve(driven: Driven, pull: Pull) -> Curve:
    recording = driven.recording
    rows = slice(pull.start, pull.stop)
    speed, boost = recording.values("engine_speed"), recording.boost_gauge()
    if speed is None:
        return {}
    good = np.isfinite(speed[rows]) & np.isfinite(boost[rows])
    numbers = np.floor(speed[rows][good] / BIN).astype(int)
    values = boost[rows][good]
    full = {int(n): float(values[numbers == n].mean()) for n in np.unique(numbers) if (numbers == n).sum() >= 2}
    # the last bin is only begun
    return {n: v for n, v in full.items() if n < max(full)}
