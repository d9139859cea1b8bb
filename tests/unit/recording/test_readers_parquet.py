"""Parquet, written by polars: values, losses and clocks by type, and damaged files."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostproof.errors import InputError
from boostproof.recording import read_recording
from boostproof.recording.model import Column, Table
from boostproof.recording.readers.parquet import read_parquet

NAN = np.nan


def _read(folder: Path, columns: dict[str, object] | pl.DataFrame, name: str = "log.parquet") -> Table:
    frame = columns if isinstance(columns, pl.DataFrame) else pl.DataFrame(columns, strict=False)
    frame.write_parquet(folder / name)
    return read_parquet(folder / name)


def _only(table: Table) -> Column:
    (column,) = table.columns
    return column


@pytest.mark.parametrize(
    ("values", "kind", "expected", "lost"),
    [
        ([1, None, -3], pl.Int8, [1, NAN, -3], 1),
        ([2**63, 5, None], pl.UInt64, [2.0**63, 5, NAN], 1),
        ([0.1, NAN, None], pl.Float64, [0.1, NAN, NAN], 2),
        ([0.5, np.inf, -1e30], pl.Float32, [0.5, NAN, NAN], 2),
        (["1.25", None, "-0.50"], pl.Decimal(10, 2), [1.25, NAN, -0.5], 1),
        ([True, False, None], pl.Boolean, [1, 0, NAN], 1),
        ([None, None, None], pl.Null, [NAN, NAN, NAN], 3),
        (["12,5", "---", "3,25"], pl.String, [12.5, NAN, 3.25], 1),
        (["1.5", "x", "2.5"], pl.String, [1.5, NAN, 2.5], 1),
        (["on", "off", None], pl.Categorical, [1, 0, NAN], 1),
        (["0:59.5", "1:00.0", None], pl.String, [59.5, 60, NAN], 1),
    ],
)
def test_each_type(
    tmp_path: Path, values: list[object], kind: pl.DataType, expected: list[float], lost: int
) -> None:
    series = pl.Series("a", values, dtype=pl.String).cast(kind) if isinstance(values[0], str) else None
    frame = pl.DataFrame([pl.Series("a", values, dtype=kind) if series is None else series])
    column = _only(_read(tmp_path, frame))
    np.testing.assert_array_equal(column.values, expected)
    assert (column.lost_cells, column.values.dtype) == (lost, np.float64)


@pytest.mark.parametrize("unit", ["ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "UTC"])
def test_points_in_time_go_on_over_midnight(tmp_path: Path, unit: str, zone: str | None) -> None:
    start = dt.datetime(2025, 3, 12, 23, 59, 59, 500_000)
    times = [start + dt.timedelta(milliseconds=250 * i) for i in range(4)]
    series = pl.Series("t", [*times, None], dtype=pl.Datetime(unit)).dt.replace_time_zone(zone)  # type: ignore[arg-type]
    column = _only(_read(tmp_path, pl.DataFrame([series])))
    np.testing.assert_allclose(column.values, [86399.5, 86399.75, 86400.0, 86400.25, NAN], atol=1e-9)
    assert column.clock and column.lost_cells == 1


def test_spans_times_of_day_and_dates(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        {
            "span": [dt.timedelta(seconds=0.1), dt.timedelta(hours=30), None],
            "day": [dt.time(23, 59, 59), None, dt.time(0, 0, 1, 500_000)],
            "date": [dt.date(2025, 3, 12)] * 3,
        },
    )
    span, day, date = table.columns
    np.testing.assert_allclose(span.values, [0.1, 108_000.0, NAN])
    np.testing.assert_allclose(day.values, [86399.0, NAN, 86401.5])
    assert span.clock and day.clock
    assert date.lost_cells == 3 and not date.clock


def test_what_is_no_single_value_is_left_out_and_said(tmp_path: Path) -> None:
    table = _read(tmp_path, {"rpm": [1, 2], "list": [[1], [2, 3]], "pair": [{"a": 1}, {"a": 2}], "raw": [b"a", b"b"]})
    assert [c.header for c in table.columns] == ["rpm"]
    (finding,) = table.findings
    assert finding.kind == "nested-columns" and "(list, pair, raw)" in finding.says


def test_lost_cells_are_said_once(tmp_path: Path) -> None:
    table = _read(tmp_path, {"rpm": [1, None, 3, 4], "boost [psi]": [1.0, 2.0, NAN, 4.0], "x": ["1", "2", "3", "?"]})
    (finding,) = table.findings
    assert "3 cells" in finding.says and "rpm 1, boost [psi] 1, x 1" in finding.says


def test_a_name_that_looks_like_a_pattern_and_headers_alike(tmp_path: Path) -> None:
    table = _read(tmp_path, {"a  b": [1.0], "a b": [2.0], "": [3.0]}, "log [1] day=3.parquet")
    assert [c.header for c in table.columns] == ["a b", "a b (2)", "column 3"]
    assert [c.values[0] for c in table.columns] == [1.0, 2.0, 3.0]
    assert (table.file, table.kind) == ("log [1] day=3.parquet", "parquet")


@pytest.mark.parametrize("columns", [{"a": []}, {}, {"a": [[1]]}])
def test_a_file_without_numbers(tmp_path: Path, columns: dict[str, object]) -> None:
    with pytest.raises(InputError, match="no rows of numbers") as error:
        _read(tmp_path, columns)
    assert error.value.kind == "no-numbers"


def test_a_small_file_of_very_many_rows_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    frame = pl.select(a=pl.repeat(0, 70_000_000, dtype=pl.Int8))
    frame.write_parquet(tmp_path / "log.parquet")
    assert (tmp_path / "log.parquet").stat().st_size < 1_000_000
    with pytest.raises(InputError, match="70,000,000 rows") as error:
        read_parquet(tmp_path / "log.parquet")
    assert error.value.kind == "too-large"


@pytest.mark.parametrize("seed", range(40))
def test_damage_is_told_or_harmless(tmp_path: Path, seed: int) -> None:
    """Bytes changed, or the end cut off: our error or a table, and nothing else."""
    path = tmp_path / "log.parquet"
    pl.DataFrame({"a": range(500), "b": [i * i % 97 / 7 for i in range(500)], "c": ["x", "1"] * 250}).write_parquet(path)
    draw = random.Random(seed)
    data = bytearray(path.read_bytes())
    if seed % 4 == 0:
        data = data[: draw.randrange(4, len(data))]
    for _ in range(10):
        data[draw.randrange(4, len(data))] = draw.randrange(256)
    path.write_bytes(data)
    try:
        assert read_parquet(path).rows > 0
    except InputError as error:
        assert error.kind in {"damaged-file", "too-large", "no-numbers"}
        assert error.where == "log.parquet" and error.do.endswith(".")


def test_a_whole_log(tmp_path: Path) -> None:
    start = dt.datetime(2025, 3, 12, 18, 0)
    rows = range(300)
    frame = pl.DataFrame(
        {
            "Time": [start + dt.timedelta(milliseconds=50 * i) for i in rows],
            "Engine Speed [rpm]": [1500 + 15 * i for i in rows],
            "Boost [psi]": [i / 25 for i in rows],
        }
    )
    frame.write_parquet(tmp_path / "log.parquet")
    recording = read_recording(tmp_path / "log.parquet")
    assert (recording.kind, recording.rate_hz) == ("parquet", pytest.approx(20.0))
    assert recording.channels["boost"].values[-1] == pytest.approx(299 / 25 * 6894.757, rel=1e-6)


_CELL = st.one_of(st.none(), st.floats(-1e18, 1e18), st.just(NAN))


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 4).flatmap(lambda n: st.lists(st.lists(_CELL, min_size=n, max_size=n), min_size=1, max_size=30)))
def test_any_table_comes_back(tmp_path_factory: pytest.TempPathFactory, rows: list[list[float | None]]) -> None:
    path = tmp_path_factory.getbasetemp() / "round.parquet"
    frame = pl.DataFrame(rows, schema=[f"c{i}" for i in range(len(rows[0]))], orient="row", strict=False).cast(pl.Float64)
    frame.write_parquet(path)
    table = read_parquet(path)
    assert table.rows == len(rows)
    for column, cells in zip(table.columns, zip(*rows, strict=True), strict=True):
        expected = np.array([NAN if cell is None else cell for cell in cells])
        np.testing.assert_array_equal(column.values, expected)
        assert column.lost_cells == np.count_nonzero(np.isnan(expected))
