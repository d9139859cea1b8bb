"""Parquet: columns of typed values, read through polars."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Column, FloatArray, Table
from boostproof.recording.readers.body import lost_cells
from boostproof.recording.readers.cells import DAY, Numbers, clock_numbers, plain_numbers, read_numbers
from boostproof.recording.readers.layout import find_decimal, numbered
from boostproof.recording.readers.limits import check_numbers, open_problem

if TYPE_CHECKING:
    import polars as pl

_SAMPLE = 400
_TICKS = {"ms": 1e3, "us": 1e6, "ns": 1e9}  # of polars' time units, in a second


def read_parquet(path: Path) -> Table:
    """Read a Parquet file.

    Parameters
    ----------
    path : the file

    Returns
    -------
    Table
        Numbers as float64, switches as 0 and 1, texts read like the cells of a text table, points in time
        and spans as seconds of a clock; columns that hold anything else are left out with a finding.

    Raises
    ------
    InputError
        If the file cannot be opened, is damaged, too large, or holds no rows or no column of numbers.
    """
    where = path.name
    frame, left_out = _read_frame(path, where)
    findings = [_left_out(left_out, where)] if left_out else []
    if frame.height == 0 or frame.width == 0:
        raise InputError(
            "The file holds no rows of numbers.",
            kind="no-numbers",
            where=where,
            do="Record or export the log again.",
        )
    columns = []
    for header, series in zip(numbered(frame.columns), frame.iter_columns(), strict=True):
        read = _numbers(series)
        columns.append(Column(header, read.unit, read.values, read.lost, read.clock))
    findings += lost_cells(columns, frame.height, where)
    return Table(where, "parquet", frame.height, tuple(columns), tuple(findings))


def _read_frame(path: Path, where: str) -> tuple[pl.DataFrame, list[str]]:
    """Columns that hold one plain value per row, and the names of the others."""
    import polars as pl
    from polars.exceptions import PanicException, PolarsError

    try:
        lazy = pl.scan_parquet(path, glob=False, hive_partitioning=False)
        schema = lazy.collect_schema()
        nested = [name for name, kind in schema.items() if not _is_plain(kind)]
        plain = [name for name in schema.names() if name not in set(nested)]
        # Equal values are stored once, so that a small file may unpack to any length.
        check_numbers(int(lazy.select(pl.len()).collect().item()), len(plain), where)
        return lazy.select(plain).collect(), nested
    except OSError as error:
        raise open_problem(path, error) from error
    except (PolarsError, PanicException) as error:
        raise InputError(
            "The file begins as a Parquet file, but it is damaged or incomplete.",
            kind="damaged-file",
            where=where,
            do="Copy or export it again.",
        ) from error


def _is_plain(kind: pl.DataType) -> bool:
    import polars as pl

    return not (kind.is_nested() or kind in (pl.Binary, pl.Object))


def _left_out(names: list[str], where: str) -> Finding:
    named = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
    return Finding(
        "nested-columns",
        where,
        f"Columns that hold lists, groups or raw bytes instead of one value a row were left out ({named}).",
        "If one of them is needed, export it as a column of numbers.",
    )


def _numbers(series: pl.Series) -> Numbers:
    """One column as numbers, by its type."""
    import polars as pl

    kind = series.dtype
    if kind in (pl.String, pl.Categorical, pl.Enum):
        cells = series.cast(pl.String)
        sample = cells.drop_nulls().head(_SAMPLE).str.strip_chars().to_list()
        return read_numbers(cells, find_decimal([sample]))
    if isinstance(kind, pl.Datetime):
        return clock_numbers(_since_first_midnight(series.to_physical(), _TICKS[kind.time_unit]))
    if isinstance(kind, pl.Duration):
        seconds = _float(series.to_physical()) / _TICKS[kind.time_unit]
        return Numbers(seconds, int(np.count_nonzero(np.isnan(seconds))), clock=True)
    if kind == pl.Time:
        return clock_numbers(_float(series.to_physical()) / _TICKS["ns"])
    if kind.is_numeric() or kind in (pl.Boolean, pl.Null):
        return plain_numbers(_float(series))
    # A date alone tells no time; it is lost here as it is in a text table.
    return plain_numbers(np.full(len(series), np.nan))


def _float(series: pl.Series) -> FloatArray:
    import polars as pl

    return series.cast(pl.Float64).to_numpy().astype(np.float64, copy=False)


def _since_first_midnight(ticks: pl.Series, per_second: float) -> FloatArray:
    """Whole ticks since 1970 as seconds since midnight of the first day, subtracted before rounding."""
    known = ticks.drop_nulls()
    day = int(per_second * DAY)
    first = int(known[0]) // day * day if len(known) else 0
    return _float(ticks - first) / per_second
