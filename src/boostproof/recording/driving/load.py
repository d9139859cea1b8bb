"""Full load: what pedal or plate tell, and where neither was logged, what boost and mixture tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

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
DEEP_SHARE = 0.70  # of the plate's own full level; below it no engine is at full load, whoever closed it
_AT_TARGET = 5.0  # kPa below its target at which boost counts as there
_HELD_S = 0.3  # s; a lift passes the same openings faster
_FLOORED_S = 0.5
_IN_VACUUM = -12.0  # kPa gauge; filter and inlet take less than that off at full throttle
_LOADED_SHARE = 0.45  # of the highest torque or air per turn; both fall by less over a full-load run
_OWN_SCALE_UNITS = frozenset({"V", "mV", "deg", "rad"})


@dataclass(frozen=True)
class Lever:
    """What tells the driver's wish: pedal, else plate.

    Attributes
    ----------
    name : "pedal" or "throttle"
    opening : share, shape (rows,), without holes
    slack : what its noise may take off a full opening
    level : the opening that is held at full throttle: the channel's own scale
    own_scale : logged in volts or degrees, so that its highest value is 1 whatever it meant
    """

    name: str
    opening: FloatArray = field(repr=False)
    slack: float
    level: float
    own_scale: bool


def lever_of(recording: Recording, step: float, boost: FloatArray | None) -> Lever | None:
    """Pedal, else plate.

    None where neither is told, or where it stands wide open throughout and boost can tell instead: either
    the log holds nothing but full load, or the channel is stuck. A wide-open switch is a lever too: it
    reads 0 or 1.
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
            slack = slack if slack > _CALM_OPENING else 0.0
            own_scale = recording.channels[name].unit in _OWN_SCALE_UNITS
            return Lever(name, opening, slack, level, own_scale)
    return None


def held_back(
    recording: Recording,
    lever: Lever,
    full: NDArray[np.bool_],
    boost: FloatArray,
    rpm: FloatArray,
    step: float,
) -> NDArray[np.bool_]:
    """Rows at which the plate closes part of the way although the driver most likely did not lift.

    The plate comes from full throttle and stays between 70 and 95 % of it for 0.3 s or more, boost is at its
    target or above, and the engine speed goes on rising: the engine computer limits torque. Without a
    target nothing tells that from a driver who eases off, and such rows are no full load.

    Parameters
    ----------
    recording : for the boost target
    lever : the plate
    full : rows of full throttle
    boost, rpm : kPa gauge and rpm, without holes
    step : s between rows
    """
    held = np.zeros(len(full), dtype=bool)
    channel = recording.channels.get("boost_target")
    if channel is None or channel.reference is None:
        return held
    target = filled(recording.pressure_gauge("boost_target") / 1e3)
    if not np.isfinite(target).all():
        return held
    back = (lever.opening >= DEEP_SHARE * lever.level) & ~full
    back &= (target > 10.0) & (boost >= target - _AT_TARGET)
    floored = max(2, round(_FLOORED_S / step))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], back, [False]]).astype(np.int8)))
    for first, last in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
        long = last - first >= max(3, round(_HELD_S / step))
        if long and first >= floored and full[first - floored : first].all() and rpm[last - 1] > rpm[first]:
            held[first:last] = True
    return held


def load_of(recording: Recording, rpm: FloatArray) -> FloatArray | None:
    """Above zero where torque, else air per turn, says that the engine is under load; None without either.

    For logs with neither lever nor boost. Where boost is logged neither adds to it: a boost fault takes
    both away, and would pass for part load.
    """
    for name in ("torque", "air_flow"):
        values = recording.values(name)
        if values is None or not np.isfinite(values).any():
            continue
        load = filled(values)
        if name == "air_flow":
            load = load / np.maximum(rpm, 500.0)
        highest = float(np.percentile(load, 99.0))
        if highest > 0.0:
            return np.asarray(load - _LOADED_SHARE * highest)
    return None


def by_vacuum(lever: Lever, boost: FloatArray | None, spans: Sequence[tuple[int, int]]) -> list[bool]:
    """Whether each span that a lever told is at full load, by the pressure behind the plate.

    A pedal or plate in volts or degrees is its own scale: in a log without any full throttle its highest
    value looks like one. Behind a plate that is wide open there is no vacuum.
    """
    if boost is None or not lever.own_scale:
        return [True] * len(spans)
    return [float(np.median(boost[start:stop])) > _IN_VACUUM for start, stop in spans]


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
