"""What clocks do besides running: counters that wrap, holes, times of arrival instead of sampling.

Seconds in, seconds out, with findings. Counters of 16, 24 and 32 bits are what microcontrollers have.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import filled, resolution, smooth, window_for

_COUNTERS = [(f"a counter of {bits} bits", 2.0**bits * tick) for bits in (16, 24, 32) for tick in (1e-6, 1e-3)]
_CLOCKS = [("the seconds of a clock", 60.0), ("the minutes of a clock", 3600.0), ("a clock", 86_400.0)]
_PERIODS = [*_COUNTERS, ("a counter that ends at 65 535", 65.535), *_CLOCKS]
_ROUND = 2.5  # usual steps that the step over a wrap may take
_LEAST_STEPS = 20.0  # of a period: shorter ones could not be told from jitter
HOLE_KIND = "gap-in-log"
LEAST_HOLE_S, _HOLE_STEPS = 0.5, 6.0  # pulls are cut at such holes too
_UNEVEN = 0.8  # spread of the steps, in usual steps, of a clock that jitters
_SMOOTHER = 0.6
_EVEN_S = 1.0
_SEEN = 60_000

Rows = NDArray[np.intp]


def usual_step(seconds: FloatArray) -> float:
    """Median rising step; 1 where nothing rises."""
    steps = np.diff(seconds)
    rising = steps[steps > 0.0]
    return float(np.median(rising[:: max(1, rising.size // _SEEN)])) if rising.size else 1.0


def unwrapped(
    seconds: FloatArray, engine_speed: FloatArray | None, where: str, findings: list[Finding]
) -> FloatArray:
    """A clock that wrapped goes on without a break.

    Parameters
    ----------
    seconds : shape (rows,), without NaN
    engine_speed : numbers as written; a log that was started again does not go on at the same speed
    where, findings : what is found is added
    """
    steps = np.diff(seconds)
    if not (steps < 0.0).any():
        return seconds
    usual = usual_step(seconds)
    back = np.flatnonzero(steps < -3.0 * usual)
    near_zero = np.abs(seconds[back + 1]) <= _ROUND * usual
    back = back[near_zero & _same_speed(engine_speed, back)]
    if not back.size:
        return seconds
    best, name, period = back[:0], "", 0.0
    for candidate, length in _PERIODS:
        over = steps[back] + length
        fits = back[(over > 0.0) & (over <= _ROUND * usual)]
        closer = period and abs(np.median(steps[fits]) + length - usual) < abs(
            np.median(steps[best]) + period - usual
        ) if fits.size else False
        if length > _LEAST_STEPS * usual and (fits.size > best.size or (fits.size == best.size and closer)):
            best, name, period = fits, candidate, length
    if not best.size:
        return seconds
    laps = np.zeros(len(seconds))
    laps[best + 1] = period
    times = "once" if best.size == 1 else f"{best.size} times"
    findings.append(
        Finding(
            "clock-wrapped",
            where,
            f"The time falls back to zero after {period:.5g} s ({times}), as {name} does; it was carried on "
            "without a break.",
        )
    )
    return seconds + np.cumsum(laps)


def _same_speed(speed: FloatArray | None, rows: Rows) -> NDArray[np.bool_]:
    """Whether the engine speed goes on over a row as it does elsewhere; True where it is not known."""
    if speed is None or not np.isfinite(speed).any():
        return np.ones(len(rows), dtype=bool)
    whole = filled(speed)
    change = np.abs(np.diff(whole[:_SEEN]))
    allowed = max(4.0 * float(np.percentile(change, 95.0)), 0.03 * float(np.abs(whole[:_SEEN]).max()))
    return np.asarray(np.abs(whole[rows + 1] - whole[rows]) <= allowed)


def holes(seconds: FloatArray, joined: Rows, where: str) -> list[Finding]:
    """Where rows are missing.

    Parameters
    ----------
    seconds : rising, shape (rows,)
    joined : rows after which another run was put, or that nobody asks about; these are no holes
    where : for the finding
    """
    steps = np.diff(seconds)
    usual = usual_step(seconds)
    found = np.flatnonzero(steps > max(LEAST_HOLE_S, _HOLE_STEPS * usual))
    found = np.setdiff1d(found, joined) if found.size else found
    if not found.size:
        return []
    longest = found[np.argsort(-steps[found], kind="stable")[:5]]
    told = ", ".join(f"{steps[i]:.1f} s from {seconds[i]:.1f} s" for i in np.sort(longest))
    more = f" and {found.size - 5} more" if found.size > 5 else ""
    return [
        Finding(
            HOLE_KIND,
            where,
            f"The log has holes in time: {told}{more}; pulls end there.",
            "That is nothing if the log was stopped there or written only on demand; else look for lost data.",
        )
    ]


def steadied_clock(
    seconds: FloatArray, engine_speed: FloatArray | None, where: str, findings: list[Finding]
) -> FloatArray:
    """An uneven clock is left where it tells when samples were taken, and evened where it does not.

    Times written when the samples arrived come in bursts while the samples were even. The engine speed tells
    which: at the right times it is the smoother one.
    """
    steps = np.diff(seconds)
    seen = steps[:_SEEN]
    seen = seen[(seen >= 0.0) & (seen < LEAST_HOLE_S)]
    if seen.size < 50:
        return seconds
    usual = float(seen.mean())
    low, high = np.percentile(seen, [5.0, 95.0])
    tick = resolution(seconds[:5000])
    if high - low < max(_UNEVEN * usual, 2.5 * tick) or usual <= 0.0:
        return seconds
    even = _evened(seconds, usual)
    if engine_speed is None or not _rougher(engine_speed, seconds, even):
        return seconds
    findings.append(
        Finding(
            "jittery-clock",
            where,
            f"The times between rows vary from {1e3 * low:.0f} to {1e3 * high:.0f} ms, but the engine speed "
            "runs as if they were even: the clock tells when rows were written, not when they were "
            "measured. The rows were spread evenly.",
        )
    )
    return even


def _evened(seconds: FloatArray, usual: float) -> FloatArray:
    """Times along straight lines of about a second, each stretch between holes on its own."""
    cuts = np.flatnonzero(np.diff(seconds) > max(LEAST_HOLE_S, _HOLE_STEPS * usual)) + 1
    even = seconds.copy()
    for first, last in zip([0, *cuts.tolist()], [*cuts.tolist(), len(seconds)], strict=True):
        if last - first > 4:
            piece = seconds[first:last]
            even[first:last] = smooth(piece, window_for(_EVEN_S, usual, last - first), 1)
    return np.asarray(np.maximum.accumulate(even))


def _rougher(speed: FloatArray, clock: FloatArray, even: FloatArray) -> bool:
    """Whether the engine speed bends clearly more from row to row on the clock than at even times."""
    whole = filled(speed[:_SEEN])
    if not np.isfinite(whole).all():
        return False
    # Noise hides the difference where the engine speed stands.
    w = 10
    moving = np.zeros(len(whole), dtype=bool)
    change = np.abs(whole[2 * w :] - whole[: -2 * w])
    moving[w : len(whole) - w] = change > 0.5 * float(np.percentile(change, 90.0))
    rows = np.flatnonzero(moving[1:-1]) + 1
    if rows.size < 30:
        return False
    return _bend(whole, even, rows) < _SMOOTHER * _bend(whole, clock, rows)


def _bend(values: FloatArray, time: FloatArray, rows: Rows) -> float:
    """Usual distance of a sample from the line between its neighbours."""
    before, at, after = time[rows - 1], time[rows], time[rows + 1]
    share = (at - before) / np.maximum(after - before, 1e-9)
    line = values[rows - 1] + share * (values[rows + 1] - values[rows - 1])
    return float(np.mean(np.abs(values[rows] - line)))
