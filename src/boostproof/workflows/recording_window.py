"""A window of one recording, thinned for a plot; from its channels as they are kept in Parquet, read once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.workflows.plot_block import Block, Line, kept_rows

Array = NDArray[np.floating[Any]]

POINTS = 1_500  # of each channel; a tablet has no more pixels across
_MOST = 256e6  # bytes of channels held in memory
_HOLE, _LEAST_HOLE = 8.0, 0.5  # usual steps, s: longer without a sample is a hole


class KeptChannels:
    """Channels of the recordings looked at last, so that a zoom reads no file.

    A table is named by what it holds and never changes, so that nothing here grows old.
    """

    def __init__(self, most: float = _MOST) -> None:
        self._most = most
        self._held: OrderedDict[tuple[str, str], Array] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, table: Path, names: Iterable[str]) -> dict[str, Array]:
        """Channels of a table by name, those that it holds."""
        wanted = list(dict.fromkeys(names))
        found = self._known(table, wanted)
        missing = [name for name in wanted if name not in found]
        if missing:
            found |= self._read(table, missing)
        return {name: found[name] for name in wanted if name in found}

    def hold(self, table: Path, channels: Mapping[str, Array]) -> dict[str, Array]:
        """Hold channels of a table that are at hand, in SI, so that they need not be read from it; those that are held."""
        found: dict[str, Array] = {}
        for name, values in channels.items():
            found[name] = values.astype(np.float64) if name == "time" else values.astype(np.float32)
        with self._lock:
            for name, values in found.items():
                self._held[str(table), name] = values
            while len(self._held) > 1 and sum(v.nbytes for v in self._held.values()) > self._most:
                self._held.popitem(last=False)
        return found

    def _known(self, table: Path, names: Sequence[str]) -> dict[str, Array]:
        found = {}
        with self._lock:
            for name in names:
                key = (str(table), name)
                if key in self._held:
                    self._held.move_to_end(key)
                    found[name] = self._held[key]
        return found

    def _read(self, table: Path, names: Sequence[str]) -> dict[str, Array]:
        import polars as pl

        there = set(pl.read_parquet_schema(table))
        wanted = [name for name in names if name in there]
        if not wanted:
            return {}
        frame = pl.read_parquet(table, columns=wanted)
        return self.hold(table, {name: frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy() for name in wanted})


CHANNELS = KeptChannels()


def window(
    table: Path,
    channels: Sequence[str],
    *,
    from_s: float | None = None,
    to_s: float | None = None,
    points: int = POINTS,
    kept: KeptChannels = CHANNELS,
) -> Block:
    """A stretch of a recording.

    Parameters
    ----------
    table : Parquet of the recording's channels in SI, with its ``time``
    channels : our names; those that the recording does not hold are left out
    from_s, to_s : seconds in the recording's time; left out, its ends
    points : about how many samples of each channel are kept

    Returns
    -------
    Block
        Over time [s], in SI; ``about`` tells the ends of the whole recording, ``from_s`` and ``to_s``.
    """
    found = kept.of(table, ["time", *channels])
    time = found.pop("time")
    if not len(time):
        return Block(time, tuple(Line(name, values) for name, values in found.items()), {"from_s": 0.0, "to_s": 0.0})
    # One sample beyond either end, so that a line runs to the edge of its panel.
    first = 0 if from_s is None else max(int(np.searchsorted(time, from_s)) - 1, 0)
    last = len(time) if to_s is None else min(int(np.searchsorted(time, to_s, side="right")) + 1, len(time))
    last = max(last, first + 1)
    rows = first + kept_rows([v[first:last] for v in found.values()], last - first, points)
    holes = _holes(time, rows)
    at = np.insert(time[rows], holes, 0.5 * (time[rows][holes - 1] + time[rows][holes]))
    return Block(
        at,
        tuple(Line(name, np.insert(values[rows], holes, np.nan)) for name, values in found.items()),
        {"from_s": float(time[0]), "to_s": float(time[-1])},
    )


def _holes(time: Array, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Places among the rows before which the logger stood still, so that no line is drawn across."""
    steps = np.diff(time)
    usual = float(np.median(steps)) if len(steps) else 0.0
    behind = np.flatnonzero(steps > max(_HOLE * usual, _LEAST_HOLE)) + 1  # first row after each hole
    return np.unique(np.searchsorted(rows, behind[(behind > rows[0]) & (behind <= rows[-1])]))
