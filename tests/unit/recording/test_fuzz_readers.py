"""Every reader on tables drawn at random and on damaged files: nothing crashes, nothing is lost in silence.

Nothing lost in silence means: of the numbers written every one stands at its place in the table; or its cell is
counted in the column's lost cells; or a finding counts it.
"""

from __future__ import annotations

import gzip
import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.unit.recording.drawn_tables import (
    Damage,
    Sheet,
    Style,
    as_parquet,
    as_sheet,
    as_text,
    damaged,
    damages,
    sheets,
    styles,
    too_long,
)

from boostproof.errors import InputError
from boostproof.recording.model import Column, Table
from boostproof.recording.readers import read_table
from boostproof.recording.readers.apart import read_table_apart

SECONDS = 5  # for one small file
drawn = settings(
    max_examples=100,
    deadline=1000 * SECONDS,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def _counted(table: Table, kind: str) -> int:
    """The first number that a finding tells, 0 where there is no such finding."""
    told = [finding.says for finding in table.findings if finding.kind == kind]
    assert len(told) <= 1
    return int(re.findall(r"\d+", told[0])[0]) if told else 0


def _whole(table: Table) -> None:
    """What holds of every table: columns of one length, lost cells counted, headers that differ."""
    assert table.rows > 0
    for column in table.columns:
        assert column.values.shape == (table.rows,) and not np.isinf(column.values).any()
        if column.samples is None and table.kind != "candump":
            assert column.lost_cells == np.isnan(column.values).sum()
    assert len({column.header for column in table.columns}) == len(table.columns)
    assert all(finding.says.strip().endswith(".") for finding in table.findings)


def _nothing_lost(table: Table, sheet: Sheet) -> None:
    """Rows that hold a number are there, every number at its place, all else counted as lost."""
    _whole(table)
    kept = sheet.numbers[np.isfinite(sheet.numbers).any(axis=1)]
    assert table.rows == len(kept)
    for place, column in enumerate(table.columns):
        np.testing.assert_array_equal(column.values, kept[:, place], err_msg=column.header)
        assert column.lost_cells == np.isnan(kept[:, place]).sum()
    assert np.isnan(kept[:, len(table.columns) :]).all()


@settings(drawn, max_examples=250)
@given(data=st.data(), style=styles())
def test_text_loses_nothing_in_silence(tmp_path: Path, data: st.DataObject, style: Style) -> None:
    sheet = data.draw(sheets(style))
    (tmp_path / "log.csv").write_bytes(as_text(sheet, style))
    table = read_table(tmp_path / "log.csv")
    _nothing_lost(table, sheet)
    assert _counted(table, "long-lines") == too_long(sheet, style)


@settings(drawn, max_examples=60)
@given(sheet=sheets())
def test_a_sheet_loses_nothing_in_silence(tmp_path: Path, sheet: Sheet) -> None:
    (tmp_path / "log.xlsx").write_bytes(as_sheet(sheet))
    rounded = np.array([[float(f"{value:.16G}") for value in row] for row in sheet.numbers])
    _nothing_lost(read_table(tmp_path / "log.xlsx"), Sheet(sheet.headers, sheet.units, sheet.cells, rounded))


@settings(drawn, max_examples=60)
@given(data=st.data(), sheet=sheets())
def test_parquet_loses_nothing_in_silence(tmp_path: Path, data: st.DataObject, sheet: Sheet) -> None:
    kinds = [data.draw(st.sampled_from(["Float64", "Float32", "Int32", "text"])) for _ in sheet.headers]
    content, held = as_parquet(sheet, kinds)
    (tmp_path / "log").write_bytes(content)
    table = read_table(tmp_path / "log")
    _whole(table)
    for place, column in enumerate(table.columns):
        np.testing.assert_array_equal(column.values, held[:, place], err_msg=f"{kinds[place]} {column.header}")


# -- channels of several rates ------------------------------------------------------------------------------


@st.composite
def _clocks(draw: st.DrawFn) -> list[tuple[list[float], list[list[int]]]]:
    """Groups of channels: steps of a clock in milliseconds, some not forward, and whole numbers of 16 bits."""
    groups = []
    for _ in range(draw(st.integers(1, 3))):
        usual = draw(st.sampled_from([4, 10, 50]))
        steps = draw(st.lists(st.sampled_from([usual, usual, usual, 2 * usual, 0, -usual]), min_size=4, max_size=30))
        count = draw(st.integers(1, 3))
        raw = st.lists(st.integers(0, 65_535), min_size=len(steps), max_size=len(steps))
        groups.append(([0.001 * t for t in np.cumsum([usual, *steps[1:]]).tolist()], [draw(raw) for _ in range(count)]))
    return groups


def _goes_on(time: list[float]) -> list[bool]:
    """Samples that are later than all before them."""
    return [all(t > earlier for earlier in time[:index]) for index, t in enumerate(time)]


def _samples(table: Table, column: Column) -> tuple[np.ndarray, np.ndarray]:
    if column.samples is not None:
        return column.samples.time, column.samples.values
    told = np.isfinite(column.values)
    return table.columns[0].values[told], column.values[told]


def _all_samples(table: Table, groups: list[tuple[list[float], list[list[int]]]], shift: float = 0.0) -> None:
    """Every sample is there at its time, or counted as one whose clock does not go on."""
    _whole(table)
    columns = {column.header: column for column in table.columns}
    behind = 0
    for number, (time, channels) in enumerate(groups):
        on = np.array(_goes_on(time))
        behind += int(np.count_nonzero(~on))
        for place, values in enumerate(channels):
            found_time, found = _samples(table, columns[f"g{number}c{place}"])
            np.testing.assert_array_equal(found, np.array(values, dtype=float)[on])
            np.testing.assert_allclose(found_time, np.array(time)[on] - shift, atol=2e-6)
    assert _counted(table, "time-not-rising") == behind


@settings(drawn, max_examples=25)
@given(groups=_clocks(), version=st.sampled_from(["3.30", "4.10"]))
def test_a_measurement_file_loses_nothing_in_silence(
    tmp_path: Path, groups: list[tuple[list[float], list[list[int]]]], version: str
) -> None:
    asammdf = pytest.importorskip("asammdf", reason="asammdf needs zstd, which has no wheel for this Python here")
    mdf = asammdf.MDF(version=version)
    for number, (time, channels) in enumerate(groups):
        made = [
            asammdf.Signal(np.array(v, dtype=np.uint16), np.array(time), name=f"g{number}c{place}")
            for place, v in enumerate(channels)
        ]
        mdf.append(made, common_timebase=True)
    path = Path(mdf.save(tmp_path / "log.mf4", overwrite=True))
    mdf.close()
    _all_samples(read_table(path), groups)


@settings(drawn, max_examples=60)
@given(groups=_clocks(), broken=st.lists(st.sampled_from(["(1.0) can0 064#0102030", "(1.0) can0 064#R", "x"]), max_size=4))
def test_a_bus_log_loses_nothing_in_silence(
    tmp_path: Path, groups: list[tuple[list[float], list[list[int]]]], broken: list[str]
) -> None:
    """One message for each group; the log is written in the order of its frames, as a bus has one clock."""
    pytest.importorskip("cantools", reason="the extra [can] is not installed")
    groups = [(sorted(time), channels) for time, channels in groups]
    first = min(time[0] for time, _ in groups)
    frames, dbc = [], 'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\n'
    for number, (time, channels) in enumerate(groups):
        dbc += f"BO_ {100 + number} G{number}: 8 ECU\n"
        dbc += "".join(f' SG_ g{number}c{p} : {16 * p}|16@1+ (1,0) [0|0] "" ECU\n' for p in range(len(channels)))
        for index, t in enumerate(time):
            data = b"".join(values[index].to_bytes(2, "little") for values in channels)
            frames.append((t, f"({1e9 + t:.6f}) can0 {100 + number:03X}#{data.hex().upper()}"))
    lines = [line for _, line in sorted(frames, key=lambda frame: frame[0])]
    for place, line in enumerate(broken):
        lines.insert(3 * place + 3, line)
    (tmp_path / "bus.log").write_text("\n".join(lines), encoding="ascii")
    (tmp_path / "car.dbc").write_text(dbc, encoding="ascii")
    table = read_table(tmp_path / "bus.log")
    _all_samples(table, groups, shift=first)
    assert _counted(table, "other-lines") == sum(not line.endswith("#R") for line in broken)


# -- damaged files -------------------------------------------------------------------------------------------

ROWS = "".join(f"{k / 10:.1f};{900 + 37 * k};{k % 7}.5;{'on' if k % 2 else 'off'}\n" for k in range(40))
CSV = ("Session;one\n\ntime s;rpm;boost psi;switch\n" + ROWS).encode()
FRAMES = "".join(f"(1436509052.{k:06d}) can0 1{k % 9}3#DEADBEEF{k:02d}\n" for k in range(0, 40_000, 1000)).encode()
DBC = 'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\nBO_ 291 E: 8 ECU\n SG_ rpm : 0|16@1+ (0.25,0) [0|0] "rpm" ECU\n'


def _parquet() -> bytes:
    import polars as pl

    stream = io.BytesIO()
    frame = pl.DataFrame({"t": [k / 10 for k in range(30)], "rpm": range(30), "w": ["1,5", "x", None] * 10})
    frame.with_columns(at=pl.col("rpm").cast(pl.Datetime("us"))).write_parquet(stream, compression="uncompressed")
    return stream.getvalue()


def _spreadsheet() -> bytes:
    """Not compressed, so that damage reaches the cells."""
    import xlsxwriter

    stream, plain = io.BytesIO(), io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        page = book.add_worksheet()
        for row, line in enumerate(CSV.decode().split("\n")):
            page.write_row(row, 0, line.split(";"))
            page.write_number(row, 4, row)
    with zipfile.ZipFile(stream) as archive, zipfile.ZipFile(plain, "w") as copy:
        for name in archive.namelist():
            copy.writestr(name, archive.read(name))
    return plain.getvalue()


def _archive() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("log.csv", CSV)
    return stream.getvalue()


def _measurement() -> bytes:
    asammdf = pytest.importorskip("asammdf", reason="asammdf needs zstd, which has no wheel for this Python here")
    made = asammdf.MDF(version="4.10")
    made.append([asammdf.Signal(np.arange(40.0), 0.1 * np.arange(40), name="rpm", unit="rpm")])
    stream = io.BytesIO()
    made.save(stream)
    made.close()
    return stream.getvalue()


KINDS: dict[str, tuple[Callable[[], bytes], int]] = {
    "text": (lambda: CSV, 150),
    "utf-16": (lambda: CSV.decode().encode("utf-16"), 60),
    "bus log": (lambda: FRAMES, 100),
    "parquet": (_parquet, 100),
    "spreadsheet": (_spreadsheet, 80),
    "measurement": (_measurement, 60),
    "gzip": (lambda: gzip.compress(CSV), 40),
    "zip": (_archive, 60),
}


def _read_or_refuse(read: Callable[[Path], Table], path: Path) -> None:
    try:
        table = read(path)
    except InputError as error:
        assert error.says.endswith(".") and error.kind and error.where and error.do
    else:
        _whole(table)


@pytest.mark.parametrize("kind", KINDS)
def test_damage_gives_a_table_or_a_clear_error(tmp_path: Path, kind: str) -> None:
    make, examples = KINDS[kind]
    if kind == "bus log":
        pytest.importorskip("cantools", reason="the extra [can] is not installed")
    sound = make()
    (tmp_path / "car.dbc").write_text(DBC, encoding="ascii")

    @settings(drawn, max_examples=examples)
    @given(what=damages)
    def check(what: list[Damage]) -> None:
        (tmp_path / "log").write_bytes(damaged(sound, what))
        _read_or_refuse(read_table, tmp_path / "log")

    check()


@settings(drawn, max_examples=40)
@given(what=damages)
def test_a_damaged_database_gives_a_table_or_a_clear_error(tmp_path: Path, what: list[Damage]) -> None:
    pytest.importorskip("cantools", reason="the extra [can] is not installed")
    (tmp_path / "log").write_bytes(FRAMES)
    (tmp_path / "car.dbc").write_bytes(damaged(DBC.encode(), what))
    _read_or_refuse(read_table, tmp_path / "log")


@pytest.mark.parametrize("kind", ["spreadsheet", "measurement"])
def test_damage_in_a_process_of_its_own(tmp_path: Path, kind: str) -> None:
    sound = KINDS[kind][0]()

    @settings(drawn, max_examples=3, deadline=None)
    @given(what=damages)
    def check(what: list[Damage]) -> None:
        (tmp_path / "log").write_bytes(damaged(sound, what))
        _read_or_refuse(read_table_apart, tmp_path / "log")

    check()
