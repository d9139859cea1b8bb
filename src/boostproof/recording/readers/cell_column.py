"""One column of a sheet, whose cells are numbers, texts, switches or times, gathered into numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.readers.cells import DAY, Numbers, clock_numbers, plain_numbers, read_numbers
from boostproof.recording.readers.layout import Decimal

if TYPE_CHECKING:
    import polars as pl

Cell = int | float | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta
_PLAIN = {float, int, bool}
_FIRST_DAY = dt.datetime(1899, 12, 30)  # on which the spreadsheets' count of days begins


def cell_text(cell: Cell) -> str:
    """A cell on one line, in a form in which a text table would hold it."""
    if isinstance(cell, str):
        return " ".join(cell.split())
    if isinstance(cell, bool):
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.isoformat(" ")
    if isinstance(cell, dt.timedelta):
        seconds = cell.total_seconds()
        return f"{seconds // 3600:.0f}:{seconds // 60 % 60:02.0f}:{seconds // 1 % 60:02.0f}"
    if isinstance(cell, (dt.date, dt.time)):
        return cell.isoformat()
    return repr(cell)


class CellColumn:
    """A column that grows chunk by chunk."""

    def __init__(self) -> None:
        self._stored: list[FloatArray] = []
        self._texts: list[tuple[int, str]] = []
        self._times: list[tuple[int, float]] = []
        self._only_dates = True
        self._rows = 0

    def add(self, cells: Sequence[Cell]) -> None:
        """Append the cells of the next rows; empty ones are empty texts."""
        if set(map(type, cells)) <= _PLAIN:
            self._stored.append(np.array(cells, dtype=np.float64))
        else:
            self._stored.append(np.array([self._one(row, c) for row, c in enumerate(cells, self._rows)]))
        self._rows += len(cells)

    def _one(self, row: int, cell: Cell) -> float:
        """The cell as a plain number, NaN for all else, which is kept apart."""
        if isinstance(cell, str):
            if cell:
                self._texts.append((row, cell))
        elif isinstance(cell, (dt.date, dt.time, dt.timedelta)):
            self._only_dates &= isinstance(cell, dt.date) and not isinstance(cell, dt.datetime)
            self._times.append((row, _seconds(cell)))
        else:
            return float(cell)
        return np.nan

    def text(self) -> pl.Series:
        """The texts of the column, null elsewhere."""
        import polars as pl

        if not self._texts:
            return pl.Series([None], dtype=pl.String).new_from_index(0, self._rows)
        cells: list[str | None] = [None] * self._rows
        for row, cell in self._texts:
            cells[row] = cell
        return pl.Series(cells, dtype=pl.String)

    def numbers(self, text: pl.Series, decimal: Decimal) -> Numbers:
        """The column as numbers; what most of its cells are decides whether it is a clock.

        Parameters
        ----------
        text : what `text` gave
        decimal : decimal mark of the sheet's texts
        """
        stored = np.concatenate([np.zeros(0), *self._stored])
        told = int(np.count_nonzero(np.isfinite(stored)))
        read = read_numbers(text, decimal) if self._texts else Numbers(np.full(self._rows, np.nan), self._rows)
        read_clocks = self._rows - read.lost if read.clock else 0
        if (self._times or read_clocks) and len(self._times) + read_clocks > told:
            return clock_numbers(self._clock(read if read.clock else None))
        if told and read.clock:
            return plain_numbers(stored)
        merged = plain_numbers(np.where(np.isnan(stored), read.values, stored))
        return Numbers(merged.values, merged.lost, read.unit)

    def _clock(self, read: Numbers | None) -> FloatArray:
        """Seconds of a clock: since the first day's midnight where the cells tell the day."""
        seconds = np.full(self._rows, np.nan) if read is None else read.values.copy()
        if self._times and not self._only_dates:
            first = self._times[0][1]
            midnight = first // DAY * DAY if first >= 2 * DAY else 0.0
            rows, times = zip(*self._times, strict=True)
            seconds[list(rows)] = np.array(times) - midnight
        return seconds


def _seconds(cell: dt.date | dt.time | dt.timedelta) -> float:
    """Seconds since the day on which the sheet's count begins; of the day, or of the span."""
    if isinstance(cell, dt.time):
        return cell.hour * 3600.0 + cell.minute * 60.0 + cell.second + cell.microsecond * 1e-6
    if isinstance(cell, dt.timedelta):
        return cell.total_seconds()
    if not isinstance(cell, dt.datetime):
        cell = dt.datetime(cell.year, cell.month, cell.day)
    return (cell.replace(tzinfo=None) - _FIRST_DAY).total_seconds()
