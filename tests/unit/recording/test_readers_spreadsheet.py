"""Spreadsheets, written by xlsxwriter: what cells of each kind become, and which table is the log."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from boostproof.errors import InputError
from boostproof.recording import read_recording
from boostproof.recording.model import Table
from boostproof.recording.readers import read_table
from boostproof.recording.readers.spreadsheet import read_spreadsheet

NAN = np.nan
HEAD = ["time s", "rpm", "boost psi"]
ROWS = [[i / 10, 1000 + i, i % 7 + 0.5] for i in range(30)]
Sheets = dict[str, Sequence[Sequence[Any]]]


def _write(
    path: Path, sheets: Sheets, top: int = 0, left: int = 0, more: Callable[[Any], None] | None = None
) -> Path:
    book = xlsxwriter.Workbook(path)
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for index, row in enumerate(rows, top):
            sheet.write_row(index, left, row)
    if more is not None:
        more(book)
    book.close()
    return path


def _read(folder: Path, rows: Sequence[Sequence[Any]], **where: int) -> Table:
    return read_spreadsheet(_write(folder / "log.xlsx", {"Log": rows}, **where))


@pytest.mark.parametrize(("top", "left"), [(0, 0), (5, 3)])
def test_values_headers_and_units_wherever_the_table_begins(tmp_path: Path, top: int, left: int) -> None:
    preamble = [["Session", "Thursday"], [], ["Driver: A. Body"]]
    rows = [*preamble, ["t", "Engine\nspeed", 'Boost "A"'], ["[s]", "[rpm]", "[psi]"], *ROWS]
    table = _read(tmp_path, rows, top=top, left=left)
    assert [(c.header, c.unit) for c in table.columns] == [("t", "s"), ("Engine speed", "rpm"), ('Boost "A"', "psi")]
    np.testing.assert_allclose(np.column_stack([c.values for c in table.columns]), ROWS, rtol=1e-15)
    assert (table.kind, table.rows, table.findings) == ("spreadsheet", 30, ())


@pytest.mark.parametrize(
    "shown",
    [
        '0.00 "rpm"', '0.0" psi"', '#,##0 "mbar"', r"0 \m\b\a\r", "[Red]0.0", "[$-409]0.0", "0%", "0.00E+00",
        '0.0 "s"', "#,##0.00_);[Red](#,##0.00)", "# ?/?", '0.0"h"', "0.0 °C", '# ##0 "min"', "@", "#,##0.00 [$€-407]",
    ],
)  # fmt: skip
def test_a_number_is_read_as_stored_however_it_is_shown(tmp_path: Path, shown: str) -> None:
    """Formats with letters of times in their units are where a number is easily taken for a date."""

    def more(book: Any) -> None:
        form = book.add_format({"num_format": shown})
        for row, value in enumerate((0.5, 45_000.25, -3.0), 1):
            book.worksheets()[0].write_number(row, 2, value, form)

    rows = [HEAD, *([i, i, 0.0] for i in range(3))]
    table = read_spreadsheet(_write(tmp_path / "log.xlsx", {"Log": rows}, more=more))
    assert table.columns[2].values.tolist() == [0.5, 45_000.25, -3.0]
    assert not table.columns[2].clock


def test_text_cells_with_numbers(tmp_path: Path) -> None:
    body = [[f"{i},5", f"1 {i:03d}", f"{i}.25 psi", i + 0.5 if i % 2 else f"{i},125"] for i in range(12)]
    table = _read(tmp_path, [["a", "b", "c", "d"], *body])
    expected = [[i + 0.5, 1000 + i, i + 0.25, i + (0.5 if i % 2 else 0.125)] for i in range(12)]
    np.testing.assert_array_equal(np.column_stack([c.values for c in table.columns]), expected)
    assert [c.unit for c in table.columns] == ["", "", "psi", ""]


def test_lost_cells_switches_and_formulas(tmp_path: Path) -> None:
    def more(book: Any) -> None:
        sheet = book.worksheets()[0]
        sheet.write_formula(3, 1, "=A1/0", None, "#DIV/0!")
        sheet.write_formula(4, 1, "=2*4", None, 8)

    body: list[list[Any]] = [[i / 10, i, i % 2 == 0, "---" if i == 5 else 1.0] for i in range(10)]
    path = _write(tmp_path / "log.xlsx", {"Log": [["t", "n", "brake", "p"], *body]}, more=more)
    table = read_spreadsheet(path)
    assert table.columns[1].values[[2, 3]].tolist() == pytest.approx([NAN, 8.0], nan_ok=True)
    assert table.columns[2].values.tolist() == [1.0, 0.0] * 5
    assert [c.lost_cells for c in table.columns] == [0, 1, 0, 1]
    (finding,) = table.findings
    assert finding.kind == "lost-cells" and "n 1, p 1" in finding.says


@pytest.mark.parametrize(
    ("shown", "first", "step", "seconds"),
    [
        ("hh:mm:ss.000", dt.time(12, 30, 0, 250_000), 0.25, 45_000.25),
        ("[h]:mm:ss.000", dt.timedelta(hours=30), 0.5, 108_000.0),
        ("yyyy-mm-dd hh:mm:ss.000", dt.datetime(2025, 3, 12, 23, 59, 55), 1.0, 86_395.0),
        ("mm:ss.0", dt.time(0, 0, 0), 0.1, 0.0),
    ],
)
def test_points_in_time_become_seconds(
    tmp_path: Path, shown: str, first: Any, step: float, seconds: float
) -> None:
    """Also over midnight and over the hour; the file stores days."""
    zero = dt.datetime(2000, 1, 1)

    def at(row: int) -> Any:
        later = dt.timedelta(seconds=step * row)
        return (dt.datetime.combine(zero, first) + later).time() if isinstance(first, dt.time) else first + later

    def more(book: Any) -> None:
        form = book.add_format({"num_format": shown})
        for row in range(20):
            book.worksheets()[0].write_datetime(row + 1, 0, at(row), form)

    rows = [["Time", "rpm", "psi"], *(["", 1000 + i, i] for i in range(20))]
    column = read_spreadsheet(_write(tmp_path / "log.xlsx", {"Log": rows}, more=more)).columns[0]
    np.testing.assert_allclose(column.values, seconds + step * np.arange(20), atol=2e-3)
    assert column.clock and column.lost_cells == 0


def test_times_of_day_go_on_over_midnight(tmp_path: Path) -> None:
    def more(book: Any) -> None:
        form = book.add_format({"num_format": "hh:mm:ss"})
        for row, time in enumerate([dt.time(23, 59, 58), dt.time(23, 59, 59), dt.time(0, 0, 0), dt.time(0, 0, 1)], 1):
            book.worksheets()[0].write_datetime(row, 0, time, form)

    rows = [["Time", "rpm", "psi"], *(["", 1000 + i, i] for i in range(4))]
    column = read_spreadsheet(_write(tmp_path / "log.xlsx", {"Log": rows}, more=more)).columns[0]
    np.testing.assert_allclose(column.values, 86_398.0 + np.arange(4), atol=1e-3)


def test_merged_header_cells(tmp_path: Path) -> None:
    def more(book: Any) -> None:
        sheet = book.worksheets()[0]
        sheet.merge_range("B2:B3", "Time s")
        sheet.merge_range("C2:D2", "Pressures")
        sheet.merge_range("E2:E3", "Speed rpm")

    rows = [["", "", "", ""], ["", "Boost psi", "Target psi", ""], *([i / 10, i, i + 1, 1000 + i] for i in range(9))]
    table = read_spreadsheet(_write(tmp_path / "log.xlsx", {"Log": rows}, 1, 1, more))
    assert [c.header for c in table.columns] == ["Time s", "Boost psi", "Target psi", "Speed rpm"]
    assert [c.unit for c in table.columns] == [""] * 4


def test_repeated_headers_summaries_and_empty_columns(tmp_path: Path) -> None:
    lines: list[list[Any]] = [HEAD, *ROWS[:10], HEAD, *ROWS[10:], ["Max", 1029, 6.5]]
    wide = [[*row[:2], "", row[2], "", ""] for row in lines]
    wide[3][5] = "a remark beside"
    table = _read(tmp_path, wide)
    assert [c.header for c in table.columns] == HEAD
    assert table.rows == 30 and table.columns[1].values.max() == 1029
    assert "repeated-header" in {f.kind for f in table.findings}


def test_the_largest_table_is_the_log_and_others_are_named(tmp_path: Path) -> None:
    def more(book: Any) -> None:
        book.get_worksheet_by_name("Kept").hide()
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=Log!$B$2:$B$9"})
        book.add_chartsheet("Chart").set_chart(chart)
        book.add_worksheet("Empty")

    sheets: Sheets = {
        "Notes": [["The car is slow."]],
        "Small": [HEAD, *ROWS[:8]],
        "Log": [HEAD, *ROWS],
        "Figures": [["top", "rpm"], [12.5, 6000]],
        "Kept": [HEAD, *ROWS, *ROWS],
    }
    table = read_spreadsheet(_write(tmp_path / "log.xlsx", sheets, more=more))
    assert table.rows == 30
    (finding,) = table.findings
    assert finding.kind == "other-sheets" and '"Log" was read' in finding.says
    assert '"Small", "Kept"' in finding.says and "Figures" not in finding.says


@pytest.mark.parametrize(
    ("sheets", "kind", "where"),
    [
        ({"Log": []}, "empty-file", "log.xlsx"),
        ({"Log": [["hello"], ["world"]]}, "no-numbers", "log.xlsx, sheet Log"),
        ({"A": [["x"]], "B": ROWS}, "no-header", "log.xlsx, sheet B: line 1"),
    ],
)
def test_a_workbook_without_a_log(tmp_path: Path, sheets: Sheets, kind: str, where: str) -> None:
    with pytest.raises(InputError) as error:
        read_table(_write(tmp_path / "log.xlsx", sheets))
    assert (error.value.kind, error.value.where) == (kind, where)


def test_a_damaged_part(tmp_path: Path) -> None:
    path = _write(tmp_path / "log.xlsx", {"Log": [HEAD, *ROWS]})
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["xl/worksheets/sheet1.xml"] = parts["xl/worksheets/sheet1.xml"][:700]
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    with pytest.raises(InputError, match="damaged") as error:
        read_table(path)
    assert error.value.kind == "damaged-file" and "CSV" in error.value.do


def test_open_document(tmp_path: Path) -> None:
    """Written by hand after OpenDocument 1.3, part 3, section 19.385 (office:value-type)."""

    def cell(value: object) -> str:
        if isinstance(value, str):
            return f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>'
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'

    rows = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in [HEAD, *ROWS])
    spaces = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
    )
    content = (
        f"<office:document-content{spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="Log">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = '<m:manifest xmlns:m="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
    with zipfile.ZipFile(tmp_path / "log.ods", "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", manifest)
    table = read_table(tmp_path / "log.ods")
    assert [c.header for c in table.columns] == HEAD
    np.testing.assert_array_equal(np.column_stack([c.values for c in table.columns]), ROWS)


def test_a_whole_log(tmp_path: Path) -> None:
    """The sheet of a German program: texts with decimal commas, a share shown as per cent."""

    def more(book: Any) -> None:
        form = book.add_format({"num_format": "0%"})
        for row in range(300):
            book.worksheets()[0].write_number(row + 1, 3, min(1.0, 0.2 + row / 200), form)

    body = [[f"{i / 20:.2f}".replace(".", ","), 1500 + 15 * i, f"{i / 250:.3f}".replace(".", ",")] for i in range(300)]
    rows = [["Zeit [s]", "Drehzahl [1/min]", "Ladedruck [bar]", "Drosselklappe %"], *body]
    recording = read_recording(_write(tmp_path / "log.xlsx", {"Log": rows}, more=more))
    assert (recording.kind, recording.rate_hz) == ("spreadsheet", pytest.approx(20.0))
    assert recording.channels["throttle"].values[-1] == pytest.approx(1.0)
    assert recording.channels["boost"].values[-1] == pytest.approx(299 / 250 * 1e5)
    assert np.ptp(recording.channels["engine_speed"].values) * 30 / np.pi == pytest.approx(15 * 299)


_CELL = st.one_of(st.none(), st.booleans(), st.floats(-1e18, 1e18, allow_subnormal=False), st.integers(-(2**50), 2**50))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(2, 4).flatmap(
        lambda n: st.lists(st.lists(_CELL, min_size=n, max_size=n), min_size=1, max_size=30)
    )
)
def test_any_table_comes_back(tmp_path_factory: pytest.TempPathFactory, rows: list[list[float | None]]) -> None:
    """To sixteen digits, as many as xlsxwriter writes; rows without any number are no samples."""
    steady = [[float(i), float(i), *row] for i, row in enumerate(rows)]  # so that no row is without a number
    path = tmp_path_factory.getbasetemp() / "round.xlsx"
    _write(path, {"Log": [[f"c{i} x" for i in range(len(steady[0]))], *steady]})
    table = read_spreadsheet(path)
    expected = np.array([[NAN if cell is None else float(cell) for cell in row] for row in steady])
    found = np.column_stack([column.values for column in table.columns])
    np.testing.assert_allclose(found, expected, rtol=1e-15)
    assert [c.lost_cells for c in table.columns] == np.isnan(expected).sum(axis=0).tolist()
