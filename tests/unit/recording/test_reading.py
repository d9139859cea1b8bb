"""The reader of delimited text: what it makes of awkward files, and what it says of those it cannot use."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.errors import InputError
from boostproof.recording import read_recording
from boostproof.recording.readers.cells import read_numbers
from boostproof.recording.readers.delimited import read_delimited
from boostproof.recording.readers.layout import find_layout

ROWS = [f"{i / 10:.1f},{1000 + i},{i % 7}.5" for i in range(30)]
HEAD = "time s,rpm,boost psi"


def _write(folder: Path, text: str | bytes, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    ("content", "kind", "says"),
    [
        (b"", "empty-file", "empty"),
        (b"\n\n  \n", "empty-file", "empty"),
        (b"\xef\xbb\xbf", "empty-file", "empty"),
        (bytes(range(256)) * 20, "binary-file", "binary"),
        (b"PK\x03\x04" + b"\x14\x00" * 50, "binary-file", "spreadsheet or zip"),
        (b"\x1f\x8b\x08" + b"a" * 50, "binary-file", "compressed"),
        (b"time,rpm,boost\n", "no-numbers", "No table of numbers"),
        (b"Dear all, the car is slow.\nIt makes 12 psi, then 8.\n" * 4, "no-numbers", "No table of numbers"),
        ("\n".join(ROWS).encode(), "no-header", "no header line"),
        (b"time,rpm\n" + "\n".join(ROWS).encode(), "ambiguous-comma", "names 2 columns"),
        (b"time s,boost psi\n0.0,1\n0.1,2\n0.2,3\n", "no-engine-speed", '"time s", "boost psi"'),
        (b"time s,rpm,boost psi\n0.0,n/a,1\n0.1,n/a,2\n0.2,n/a,3\n", "no-engine-speed", "holds no number"),
    ],
)
def test_a_file_that_cannot_be_used_is_said_in_one_sentence(
    tmp_path: Path, content: bytes, kind: str, says: str
) -> None:
    path = _write(tmp_path, content)
    with pytest.raises(InputError) as error:
        read_recording(path)
    assert error.value.kind == kind
    assert says in error.value.says
    assert error.value.where.startswith("log.csv")
    assert error.value.do.endswith(".")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_recording(tmp_path / "none.csv")


def test_no_engine_speed_tells_how_to_name_it(tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        read_recording(_write(tmp_path, "time s,A1,A2\n" + "\n".join(ROWS)))
    assert '"A1"' in error.value.says
    assert "[recording.channels] engine_speed" in error.value.do


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|", " "])
def test_encodings_line_ends_and_separators(tmp_path: Path, encoding: str, end: str, separator: str) -> None:
    head = ["Zeit[s]", "Drehzahl[1/min]", "Öl[°C]"]
    lines = [separator.join(head)] + [row.replace(",", separator) for row in ROWS]
    table = read_delimited(_write(tmp_path, (end.join(lines) + end).encode(encoding)))
    assert [c.header for c in table.columns] == head
    assert table.rows == 30 and table.columns[1].values[-1] == 1029.0
    assert not table.findings


def test_lines_of_uneven_length(tmp_path: Path) -> None:
    rows = [*ROWS[:10], "1.0,1010", "1.1,1011,3,99", "", *ROWS[12:]]
    table = read_delimited(_write(tmp_path, "\n".join([HEAD, *rows])))
    assert table.rows == 30
    assert [c.lost_cells for c in table.columns] == [0, 0, 1]
    assert {f.kind for f in table.findings} == {"lost-cells", "long-lines"}
    assert "boost psi 1" in next(f.says for f in table.findings if f.kind == "lost-cells")


def test_a_stray_quote_loses_one_cell_and_no_more(tmp_path: Path) -> None:
    rows = [*ROWS[:20], '2.0,10"20,1.5', *ROWS[21:]]
    table = read_delimited(_write(tmp_path, "\n".join(['time s,rpm,"boost, psi"', *rows])))
    assert table.rows == 30
    assert [c.lost_cells for c in table.columns] == [0, 1, 0]
    assert table.columns[2].header == "boost, psi"


def test_a_second_table_is_left_out_and_said(tmp_path: Path) -> None:
    table = read_delimited(_write(tmp_path, "\n".join([HEAD, *ROWS, "time s,afr,egt C", *ROWS])))
    assert table.rows == 30
    (finding,) = table.findings
    assert finding.kind == "second-table" and "line 32" in finding.where


def test_units_row_and_types_row(tmp_path: Path) -> None:
    table = read_delimited(_write(tmp_path, "\n".join(["t,n,p", "s,rpm,psi", "float,float,float", *ROWS])))
    assert [(c.header, c.unit) for c in table.columns] == [("t", "s"), ("n", "rpm"), ("p", "psi")]


def test_units_behind_the_numbers(tmp_path: Path) -> None:
    rows = [f"{i / 10:.1f} s,{1000 + i} rpm,{i}.5 psi" for i in range(20)]
    table = read_delimited(_write(tmp_path, "\n".join(["time,speed,boost", *rows])))
    assert [c.unit for c in table.columns] == ["s", "rpm", "psi"]
    assert [c.lost_cells for c in table.columns] == [0, 0, 0]


@pytest.mark.parametrize(
    ("cells", "decimal", "values"),
    [
        (["1.5", " 2.5", "+3", "-4e2", ".5"], ".", [1.5, 2.5, 3, -400, 0.5]),
        (["1,5", "2,25", "-3"], ",", [1.5, 2.25, -3]),
        (["998", "1,005", "12,345.5"], ".", [998, 1005, 12345.5]),
        (["998", "1.005", "12.345,5"], ",", [998, 1005, 12345.5]),
        (["998,5", "1002,25", "0.125"], ",", [998.5, 1002.25, 0.125]),
        (["1'234.5", "1 234.5", "1\u202f234.5"], ".", [1234.5] * 3),
        (["1.5", "2,5"], ".", [1.5, 2.5]),
        (["1.5", "inf", "NaN", "---", "N/A", "", "#NV", "1e308"], ".", [1.5] + [np.nan] * 7),
        (["ON", "off", "ON"], ".", [1, 0, 1]),
        (["0:59.5", "1:00.5"], ".", [59.5, 60.5]),
        (["11:59:59 PM", "12:00:01 AM"], ".", [43199.0, 43201.0]),
        (["2031-04-17 23:59:59,5", "2031-04-18 00:00:00,5"], ",", [86399.5, 86400.5]),
    ],
)
def test_cells_of_many_makes(cells: list[str], decimal: str, values: list[float]) -> None:
    read = read_numbers(pl.Series(cells), "," if decimal == "," else ".")
    np.testing.assert_allclose(read.values, values)
    assert read.lost == int(np.isnan(values).sum())


@given(
    st.lists(
        st.tuples(*[st.floats(-1e5, 1e5, allow_nan=False).map(lambda v: round(v, 3))] * 3),
        min_size=4,
        max_size=25,
    ),
    st.sampled_from([";", "\t", "|"]),
)
def test_any_numbers_come_back_with_a_decimal_comma(rows: list[tuple[float, ...]], separator: str) -> None:
    lines = ["a;b;c".replace(";", separator)]
    lines += [separator.join(f"{value:.3f}".replace(".", ",") for value in row) for row in rows]
    layout = find_layout(lines, "log.csv")
    assert (layout.separator, layout.first_row, layout.names) == (separator, 1, ("a", "b", "c"))
    assert layout.decimal == ","
    cells = pl.Series([line.split(separator)[1] for line in lines[1:]])
    np.testing.assert_allclose(read_numbers(cells, layout.decimal).values, [row[1] for row in rows])


def test_a_long_table_holds_the_same_numbers_as_a_short_one(tmp_path: Path) -> None:
    """Columns of a long table are read side by side: each keeps its own numbers, lost cells and unit."""
    rows, on_off = 20_500, ("off", "on")
    cells = [
        (f"{k / 100:.2f}", f"{2000 + k % 7}", "ERR" if k % 1000 == 5 else f"{k % 90}.5", f"{k % 11} kPa", on_off[k % 2])
        for k in range(rows)
    ]
    path = tmp_path / "long.csv"
    path.write_text("time (s),rpm,boost (kPa),other,switch\n" + "".join(",".join(row) + "\n" for row in cells))
    table = read_delimited(path)
    assert table.rows == rows
    time, rpm, boost, other, switch = (column.values for column in table.columns)
    k = np.arange(rows)
    assert np.array_equal(time, np.round(k / 100, 2)) and np.array_equal(rpm, 2000 + k % 7)
    assert np.array_equal(np.isnan(boost), k % 1000 == 5) and table.columns[2].lost_cells == 21
    assert np.array_equal(boost[k % 1000 != 5], (k % 90 + 0.5)[k % 1000 != 5])
    assert np.array_equal(other, k % 11) and table.columns[3].unit == "kPa"
    assert np.array_equal(switch, k % 2)
