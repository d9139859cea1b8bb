"""What the driver does in a recording: engine speed made calm, the lever that tells full load, and where.

Pure: arrays of a recording in, arrays out. Pulls and the checks of the drive line start from here.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.driving.load import (
    FULL_SHARE,
    LEAST_FULL,
    Lever,
    held_back,
    lever_of,
    load_of,
)
from boostproof.recording.made_once import made_once, unwritable
from boostproof.recording.model import FloatArray, Recording
from boostproof.recording.rows import step_of
from boostproof.recording.signals.glitches import calm_pressure, engine_speed, pressure_window
from boostproof.recording.signals.smooth import filled, noise_gain, noise_of, smooth, window_for

RPM = 30.0 / np.pi
_DROP, _LEAST_DROP = 0.04, 150.0  # fall of engine speed that parts two gears: share, rpm
_CALM_RPM = 25.0  # noise that smoothing brings engine speed down to, within half a second
_LOADED = -10.0  # kPa gauge; at full load the manifold is below the air around by the filter alone
_RUNNING, _FALLS, _WELL_UP = 700.0, 800.0, 0.3  # rpm, rpm, share of the highest boost

Rows = NDArray[np.bool_]


@dataclass(frozen=True)
class Driving:
    """A recording made ready.

    Attributes
    ----------
    recording : as read
    step : seconds between rows (median)
    rpm : engine speed without holes or glitches [rpm], shape (rows,)
    lost : rows at which the log does not tell it
    calm : the same smoothed, over ``window`` samples; ``noise`` is the sd left [rpm]
    drop : fall of engine speed that parts two pulls, at least [rpm]
    boost : kPa gauge without holes, None where no manifold channel is there
    lever : pedal or plate, None where neither tells
    full : rows of full throttle; without a lever those of an engine under load
    told : full throttle was told by a lever that opened far enough, not by boost
    held : rows at which the plate alone stands back while boost is at its target (part of ``full``)
    """

    recording: Recording = field(repr=False)
    step: float
    rpm: FloatArray = field(repr=False)
    lost: Rows = field(repr=False)
    calm: FloatArray = field(repr=False)
    window: int
    noise: float
    drop: float
    boost: FloatArray | None = field(repr=False)
    lever: Lever | None = field(repr=False)
    full: Rows = field(repr=False)
    told: bool
    held: Rows = field(repr=False)

    @property
    def time(self) -> FloatArray:
        """Seconds of each row."""
        return self.recording.time

    @cached_property
    def raw_noise(self) -> float:
        """Sd of single samples of engine speed [rpm]."""
        return self.noise / noise_gain(self.window, 1)

    def runs(self) -> list[tuple[int, int]]:
        """(first, one past last) of every stretch of full throttle, cut at holes in the log."""
        return [] if self.lever is not None and not self.told else pieces(self.full, self.time, self.step)


def driving_of(recording: Recording) -> Driving | None:
    """The recording made ready; None where it has no time or too little engine speed to tell anything."""
    ready = made_once(recording, "driving", lambda: _made_ready(recording))
    return None if ready is None else Driving(recording, **ready)


def _made_ready(recording: Recording) -> dict[str, Any] | None:
    """All fields of `Driving` but the recording."""
    step = usual_step(recording)
    rpm, lost = speed_of(recording)
    if len(rpm) < 4 or not np.isfinite(rpm).any() or not recording.time_known:
        return None
    boost = boost_of(recording)
    calm, window, noise = _calm(rpm, step)
    lever = lever_of(recording, step, boost)
    held = np.zeros(len(rpm), dtype=bool)
    if lever is not None:
        full = closed(lever.opening >= FULL_SHARE * lever.level - lever.slack, step)
        if lever.name == "throttle" and boost is not None:
            held = held_back(recording, lever, full, boost, calm, step)
        full = full | held
    else:
        load = boost if boost is not None else load_of(recording, rpm)
        least = 0.0 if boost is None else _least_load(boost, calm)
        full = (
            np.zeros(len(rpm), dtype=bool) if load is None else closed((load > least) & (rpm > 1000.0), step)
        )
    return {
        "step": step,
        "rpm": rpm,
        "lost": lost,
        "calm": unwritable(calm),
        "window": window,
        "noise": noise,
        "drop": max(_LEAST_DROP, 7.0 * noise),
        "boost": boost,
        "lever": lever,
        "full": unwritable(full),
        "told": lever is not None and lever.level >= LEAST_FULL,
        "held": unwritable(held),
    }


def usual_step(recording: Recording) -> float:
    """Seconds between its rows (median)."""
    return made_once(recording, "step", lambda: step_of(recording.time))


def speed_of(recording: Recording) -> tuple[FloatArray, Rows]:
    """Engine speed of the whole recording without holes or glitches [rpm], and the rows at which the log does not tell it."""

    def made() -> tuple[FloatArray, Rows]:
        rpm, lost = engine_speed(recording.channels["engine_speed"].values * RPM, usual_step(recording))
        return unwritable(rpm), unwritable(lost)

    return made_once(recording, "speed", made)


def _least_load(boost: FloatArray, rpm: FloatArray) -> float:
    """Boost from which an engine counts as under load where nothing tells the driver's foot [kPa gauge].

    An engine whose manifold shows no vacuum although its speed falls at times has no throttle plate: there only
    boost that is well up tells load.
    """
    running = rpm > _RUNNING
    if not running.any() or float(boost[running].min()) < _LOADED:
        return _LOADED
    fallen = np.maximum.accumulate(rpm) - rpm
    return _WELL_UP * float(np.percentile(boost[running], 99.0)) if float(fallen[running].max()) > _FALLS else _LOADED


def boost_of(recording: Recording) -> FloatArray | None:
    """Boost in kPa gauge without holes, None where no manifold channel is there."""
    if not {"boost", "manifold_pressure"} & set(recording.channels):
        return None
    boost = calm_boost(recording, usual_step(recording))
    return boost if np.isfinite(boost).all() else None


def calm_boost(recording: Recording, step: float) -> FloatArray:
    """Boost of the whole recording without holes, and without glitches where it tells time [kPa gauge].

    Parameters
    ----------
    recording : with a manifold channel
    step : s between the samples that are looked at
    """

    def made() -> FloatArray:
        boost = filled(recording.boost_gauge() / 1e3)
        return unwritable(calm_pressure(boost, step) if recording.time_known else boost)

    return made_once(recording, ("boost", pressure_window(step)), made)


def _calm(rpm: FloatArray, step: float) -> tuple[FloatArray, int, float]:
    """Engine speed smoothed as much as its noise asks for, over how many samples, and the sd left [rpm]."""
    running = rpm[rpm > 500.0]
    noise = noise_of(running) if running.size > 8 else 0.0
    seconds = min(max(0.12, (noise / _CALM_RPM) ** 2 * step), 0.5)
    window = window_for(seconds, step, len(rpm))
    return smooth(rpm, window, 1), window, noise * noise_gain(window, 1)


def runs_of(rows: Rows) -> list[tuple[int, int]]:
    """(first, one past last) of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(np.int8)))
    return list(zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True))


def closed(rows: Rows, step: float) -> Rows:
    """Holes of up to a tenth of a second filled: a flicker of the channel is no lift."""
    whole = rows.copy()
    longest = max(1, round(0.1 / step))
    for first, last in runs_of(~rows):
        if first > 0 and last < len(rows) and last - first <= longest:
            whole[first:last] = True
    return whole


def holes_of(time: FloatArray, step: float) -> NDArray[np.intp]:
    """Rows that come after a hole in the log."""
    return np.asarray(np.flatnonzero(np.diff(time) > max(0.5, 6.0 * step)) + 1)


def pieces(rows: Rows, time: FloatArray, step: float) -> list[tuple[int, int]]:
    """Runs of True, cut at holes in the log."""
    holes = holes_of(time, step)
    found: list[tuple[int, int]] = []
    for first, last in runs_of(rows):
        inside = holes[np.searchsorted(holes, first, side="right") : np.searchsorted(holes, last)]
        cuts = [first, *inside.tolist(), last]
        found += itertools.pairwise(cuts)
    return found


@dataclass(frozen=True)
class Rise:
    """One gear: engine speed rising from row ``start`` to ``stop`` (exclusive).

    Attributes
    ----------
    fallen : first row at which the engine speed has clearly fallen after it, None where it never does
    after : row of the lowest engine speed after that, where the next gear starts; the end of the run where
        there is no fall
    """

    start: int
    stop: int
    fallen: int | None
    after: int


def rises(first: int, last: int, time: FloatArray, rpm: FloatArray, drop: float) -> list[Rise]:
    """Rows of full throttle parted where the engine speed falls by 4 %, and ``drop`` rpm at least."""
    found: list[Rise] = []
    start = first
    while start < last - 3:
        piece = rpm[start:last]
        highest = np.maximum.accumulate(piece)
        fallen = np.flatnonzero(highest - piece > np.maximum(_DROP * highest, drop))
        if not fallen.size:
            found.append(Rise(start, last, None, last))
            break
        after = start + int(fallen[0])
        until = min(last, int(np.searchsorted(time, time[after] + 1.0)))
        bottom = after + int(np.argmin(rpm[after : max(until, after + 1)]))
        found.append(Rise(start, start + int(np.argmax(piece[: fallen[0]])) + 1, after, bottom))
        # The next gear starts where the engine speed has come down to.
        start = after + 1 if bottom <= after and bottom <= first else bottom
    return found
