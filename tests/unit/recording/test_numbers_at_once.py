"""A text table of nothing but numbers is read at once, and as it would be read cell by cell."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest

from boostproof.recording.model import Table
from boostproof.recording.readers import delimited

HEADER = ("Time (s)", "Engine speed (rpm)", "Boost (kPa)", "Throttle (%)")
# Cells that are no plain numbers, or written in an uncommon way; each must come out the same both ways.
ODD = ("", " ", "nan", "NaN", "inf", "-inf", "1e30", "1e400", " 1.5", "1.5 ", "+3", "-", "---", "ERR", "on", "12:30", "1,5",
       "5 V", '"2"', ".5", "1.", "1.234", "1E+5", "-.5", "Max", "0x1")  # fmt: skip


@pytest.fixture
def ways(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Whether each table was read at once."""
    seen: list[bool] = []
    at_once = delimited._read_numbers

    def watched(*arguments: object) -> object:
        found = at_once(*arguments)  # type: ignore[arg-type]
        seen.append(found is not None)
        return found

    monkeypatch.setattr(delimited, "_read_numbers", watched)
    return seen


def cell_by_cell(file: Path) -> Table:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(delimited, "_read_numbers", lambda *_: None)
        return delimited.read_delimited(file)


def same(one: Table, other: Table) -> bool:
    said = [(t.rows, t.findings, [(c.header, c.unit, c.lost_cells, c.clock) for c in t.columns]) for t in (one, other)]
    pairs = zip(one.columns, other.columns, strict=True)
    return said[0] == said[1] and all(np.array_equal(a.values, b.values, equal_nan=True) for a, b in pairs)


def test_every_digit_counts_as_python_reads_it(tmp_path: Path, ways: list[bool]) -> None:
    draw = random.Random(1)
    rows = [
        [f"{0.01 * i:.2f}", repr(draw.uniform(0.0, 8000.0)), f"{draw.gauss(0.0, 1.0):.{draw.randint(0, 30)}e}",
         f"{draw.uniform(-1e6, 1e6):.{draw.randint(0, 25)}f}"]
        for i in range(2_000)
    ]  # fmt: skip
    file = tmp_path / "log.csv"
    file.write_text("\n".join(",".join(row) for row in [list(HEADER), *rows]))
    table = delimited.read_delimited(file)
    assert ways == [True]
    for index, column in enumerate(table.columns):
        assert column.values.tolist() == [float(row[index]) for row in rows]


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_an_odd_cell_is_read_the_same_both_ways(odd: str, separator: str, tmp_path: Path) -> None:
    rows = [[f"{0.02 * i:.2f}", str(2000 + 10 * i), f"{0.5 * i:.1f}", "98.5"] for i in range(60)]
    rows[40][2] = odd
    file = tmp_path / "log.csv"
    file.write_text("\r\n".join(separator.join(row) for row in [list(HEADER), *rows]))
    assert same(delimited.read_delimited(file), cell_by_cell(file))


@pytest.mark.parametrize(
    "line", ["", "  ", ",,,", "nan,nan,nan,nan", ",".join(HEADER), "Max,3,3,3", "1.0,2000", "1.0,2000,3.0,98.5,7", "END"]
)
@pytest.mark.parametrize("place", [30, 60])
def test_an_odd_line_is_told_the_same_both_ways(line: str, place: int, tmp_path: Path) -> None:
    lines = [f"{0.02 * i:.2f},{2000 + 10 * i},{0.5 * i:.1f},98.5" for i in range(60)]
    lines.insert(place, line)
    file = tmp_path / "log.csv"
    file.write_text("\n".join([",".join(HEADER), *lines, "", ""]))
    assert same(delimited.read_delimited(file), cell_by_cell(file))


def test_lost_cells_are_counted(tmp_path: Path, ways: list[bool]) -> None:
    file = tmp_path / "log.csv"
    lost = {7, 8, 40}
    lines = [f"{0.02 * i:.2f},{2000 + 10 * i},{'' if i in lost else 0.5 * i},98.5" for i in range(60)]
    file.write_text("\n".join([",".join(HEADER), *lines]))
    table = delimited.read_delimited(file)
    assert ways == [True]
    assert [column.lost_cells for column in table.columns] == [0, 0, 3, 0]
    assert [i for i, value in enumerate(table.columns[2].values) if math.isnan(value)] == sorted(lost)
    assert [finding.kind for finding in table.findings] == ["lost-cells"]


@pytest.mark.parametrize("odd", ["12:30", "1,5", "5 V", "ERR", '"2"', "on"])
def test_text_is_left_to_the_careful_way(odd: str, tmp_path: Path, ways: list[bool]) -> None:
    rows = [[f"{0.02 * i:.2f}", str(2000 + 10 * i), f"{0.5 * i:.1f}", "98.5"] for i in range(2_000)]
    rows[1_900][2] = odd
    file = tmp_path / "log.csv"
    file.write_text("\n".join(";".join(row) for row in [list(HEADER), *rows]))
    delimited.read_delimited(file)
    assert ways == [False]
