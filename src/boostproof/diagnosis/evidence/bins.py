"""Bins in which a recording is compared: of engine speed in a pull, of time after an opening at a held speed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.pulls.held import Held

if TYPE_CHECKING:
    from boostproof.recording.model import Pull

FloatArray = NDArray[np.float64]

BIN = 250.0 * np.pi / 30.0  # rad/s
SETTLE = 0.45  # s after the throttle opens that no bin uses
HELD_FROM, HELD_LEVEL = 0.2, 1.2  # s after such an opening: first bin, and from where on they are long
HELD_BIN, HELD_LONG_BIN, HELD_KEPT = 0.1, 0.3, 4.0  # s; what comes later shows no more than the level again


@dataclass(frozen=True)
class Bin:
    """One bin of engine speed of one pull: where it is simulated and what was measured there.

    Attributes
    ----------
    pull : number of the pull, from 0
    slot : row of the kernel's output
    engine_speed : mean over the bin [rad/s]
    start, stop : rows of the recording
    recording : number of the recording, from 0
    ambient : pressure of the air around [Pa abs]
    configuration : number of the set-up, from 0
    after : since the throttle was opened, of a bin at a held speed [s]; None for one of rising speed
    """

    pull: int
    slot: int
    engine_speed: float
    start: int
    stop: int
    recording: int = 0
    ambient: float = 101325.0
    configuration: int = 0
    after: float | None = None


def bins_of(
    time: FloatArray,
    speed: FloatArray,
    pulls: Sequence[Pull | Held],
    middle: FloatArray,
    inputs: FloatArray,
) -> tuple[NDArray[np.int32], tuple[Bin, ...]]:
    """Bins of all pulls of a recording.

    Parameters
    ----------
    time, speed : of the recording's rows [s], [rad/s]
    pulls : rising pulls and openings at a held speed, in order of time
    middle : of the driven steps [s]
    inputs : (steps, inputs) as `system.INPUTS`

    Returns
    -------
    output slot of every step or -1, (steps,); the bins, one per slot
    """
    record = np.full(len(middle), -1, np.int32)
    bins: list[Bin] = []
    for number, pull in enumerate(pulls):
        held = isinstance(pull, Held)
        parts = _parts_by_time if held else _parts_by_speed
        for measured, driven in parts(time, speed, pull, middle, inputs):
            record[driven] = len(bins)
            bins.append(
                Bin(
                    number,
                    len(bins),
                    float(inputs[driven, 0].mean()),
                    int(measured[0]),
                    int(measured[-1]) + 1,
                    ambient=float(inputs[driven[0], 4]),
                    after=float(middle[driven].mean() - time[pull.start]) if held else None,
                )
            )
    return record, tuple(bins)


_Parts = Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]


def _parts_by_speed(
    time: FloatArray, speed: FloatArray, pull: Pull | Held, middle: FloatArray, inputs: FloatArray
) -> _Parts:
    """Rows measured and steps driven in every bin of engine speed of a pull."""
    rows = np.arange(pull.start, pull.stop)
    rows = rows[time[rows] > time[pull.start] + SETTLE]
    if len(rows) < 4:
        return
    low, high = float(speed[rows].min()), float(speed[rows].max())
    count = max(2, round((high - low) / BIN))  # a pull cut short still shows whether boost rises
    edges = np.linspace(low, high, count + 1)
    inside = (middle > time[pull.start] + SETTLE) & (middle < time[pull.stop - 1])
    for a, b in pairwise(edges):
        measured = rows[(speed[rows] >= a) & (speed[rows] <= b)]
        driven = np.flatnonzero(inside & (inputs[:, 0] >= a) & (inputs[:, 0] <= b))
        if len(measured) >= 2 and len(driven) >= 2:
            yield measured, driven


def _parts_by_time(
    time: FloatArray, speed: FloatArray, held: Pull | Held, middle: FloatArray, inputs: FloatArray
) -> _Parts:
    """Rows measured and steps driven in every bin of time since the throttle was opened."""
    rows = np.arange(held.start, held.stop)
    since, driven_since = time[rows] - time[held.start], middle - time[held.start]
    end = min(float(since[-1]), HELD_KEPT)
    width = max(HELD_BIN, 2.5 * end / max(int(np.count_nonzero(since <= end)), 1))
    short = np.arange(HELD_FROM, min(HELD_LEVEL, end), width)
    edges = np.concatenate([short, np.arange(short[-1] + width, end, max(HELD_LONG_BIN, width)), [end]])
    for a, b in pairwise(edges):
        measured = rows[(since >= a) & (since < b)]
        driven = np.flatnonzero((driven_since >= a) & (driven_since < b))
        if len(measured) >= 2 and len(driven) >= 2:
            yield measured, driven
