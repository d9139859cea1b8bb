"""Full load: what pedal or plate tell, and where neither was logged, what boost and mixture tell."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.recording.model import FloatArray, Recording
from boostproof.recording.signals.glitches import steadied
from boostproof.recording.signals.smooth import filled, noise_of

FULL_SHARE = 0.95  # of the channel's own full-load level (formats.md)
LEAST_FULL = 0.6  # a highest throttle below this is no full load, whatever its own scale
_CALM_OPENING = 0.02  # share of the opening that noise may take without being smoothed away
_TAIL = 1.2  # s before the end of a span in which a lift is looked for
_AFTER = 0.5  # s after it in which boost must have gone
_GONE = 0.6  # of the highest boost of the tail: what falls below this has collapsed
_KEPT = 0.06
_LEAST_KPA = 4.0
# Petrol engines are run rich at full load and near lambda 1 below it; common practice, no source.
_LEAN, _RICH, _APART = 0.95, 0.92, 0.08
_STOICHIOMETRIC_PETROL = 14.7  # kg/kg, for loggers that state the air-fuel ratio; common practice


def opening_of(
    recording: Recording, step: float, boost: FloatArray | None
) -> tuple[FloatArray, float] | None:
    """Pedal, else plate, and what its noise may take off a full opening.

    None where neither is told, or where it stands wide open throughout and boost can tell instead: either
    the log holds nothing but full load, or the channel is stuck.
    """
    for name in ("pedal", "throttle"):
        values = recording.values(name)
        if values is None or not np.isfinite(values).any():
            continue
        opening = filled(values)
        # A median over a quarter second keeps a share of the noise, and the held level is its upper edge.
        slack = 2.0 * noise_of(opening)
        if slack > _CALM_OPENING:
            opening = steadied(opening, step)
        level = held_level(opening, step)
        stands_open = level >= LEAST_FULL and float(np.percentile(opening, 1.0)) >= FULL_SHARE * level
        if boost is None or not stands_open:
            return opening, slack if slack > _CALM_OPENING else 0.0
    return None


def held_level(opening: FloatArray, step: float) -> float:
    """Highest opening that is held for about a third of a second: a single spike is no full load."""
    count = int(min(max(3, round(0.3 / step)), max(len(opening) // 4, 1)))
    lowest = opening.copy()
    width = 1
    while width < count:
        shift = min(width, count - width)
        lowest = np.minimum(lowest[:-shift], lowest[shift:])
        width += shift
    return float(lowest.max()) if lowest.size else float(opening.max())


def before_lift(start: int, stop: int, time: FloatArray, boost: FloatArray) -> int:
    """Row (exclusive) before which a span that boost told ends, so that the lift is no part of it.

    Parameters
    ----------
    start, stop : rows of the span
    time : s
    boost : kPa gauge, without holes

    Returns
    -------
    int
        ``stop`` where boost does not collapse at the end.
    """
    first = max(start, int(np.searchsorted(time, time[stop - 1] - _TAIL)))
    beyond = min(len(time), int(np.searchsorted(time, time[stop - 1] + _AFTER)) + 1)
    tail = boost[first:stop]
    highest = float(tail.max())
    if highest <= 0.0 or float(boost[first + int(np.argmax(tail)) : beyond].min()) > _GONE * highest:
        return stop
    kept = max(_LEAST_KPA, _KEPT * highest, 4.0 * noise_of(boost[start:stop]))
    last = first + int(np.flatnonzero(tail >= highest - kept)[-1])
    return last + 1


def by_mixture(recording: Recording, spans: Sequence[tuple[int, int]]) -> list[bool]:
    """Whether each span is at full load, by its mixture against the richest one; True where it cannot tell.

    Boost does not tell: a gate that holds the pressure before the throttle gives a half-open plate nearly
    the same boost.
    """
    mixture = recording.values("lambda")
    if mixture is None:
        ratio = recording.values("air_fuel_ratio")
        mixture = None if ratio is None else ratio / _STOICHIOMETRIC_PETROL
    if mixture is None or len(spans) < 2:
        return [True] * len(spans)
    # The first half holds the spool, during which the mixture is still on its way.
    usual = np.array([_median(mixture[(start + stop) // 2 : stop]) for start, stop in spans])
    if not np.isfinite(usual).any() or np.nanmin(usual) > _RICH:
        return [True] * len(spans)
    lean = (usual > _LEAN) & (usual - np.nanmin(usual) > _APART)
    return [not bool(part) for part in lean]


def _median(values: FloatArray) -> float:
    finite = values[np.isfinite(values)]
    return float(np.median(finite)) if finite.size else float("nan")
