"""Spreadsheets (.xlsx, .xlsm, .xlsb, .ods): the sheet that holds the log, read like a text table.

Cells carry their own kinds. Numbers are taken as stored, whatever format they are shown in; points in time
and spans of time become seconds of a clock; text is read like the cells of a text table.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import dropwhile, islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Table
from boostproof.recording.readers.body import Body, table_of_body
from boostproof.recording.readers.cell_column import Cell, CellColumn, cell_text
from boostproof.recording.readers.layout import Layout, find_decimal, find_layout
from boostproof.recording.readers.limits import MOST_BYTES, SMALLER, check_numbers, open_problem

if TYPE_CHECKING:
    from python_calamine import CalamineSheet, CalamineWorkbook, SheetMetadata

_SAMPLE_ROWS = 400
_CHUNK_ROWS = 4096
_MERGED_ROWS = 6  # of a header; merged cells of more rows are something else
_TABLE_ROWS = 3  # with fewer, a sheet is not worth a word
_EXPORT = "Save the sheet that holds the log as CSV (text, separated)."


@dataclass(frozen=True)
class _Found:
    """A sheet with a table of numbers: its layout, decimal marks judged by its texts, and its rows."""

    name: str
    shown: bool
    sheet: CalamineSheet
    layout: Layout
    rows: int

    @property
    def rank(self) -> tuple[bool, int]:
        return self.shown, self.rows * len(self.layout.names)


def read_spreadsheet(path: Path) -> Table:
    """Read the table of a spreadsheet that is the log: the largest one with a header.

    Parameters
    ----------
    path : the file

    Returns
    -------
    Table
        Columns as float64 with NaN for lost cells. Other sheets that hold tables are named in a finding.

    Raises
    ------
    InputError
        If the file cannot be opened, is damaged, has a password, is too large, or no sheet holds a table of
        numbers with a header.
    """
    from python_calamine import load_workbook

    where = path.name
    try:
        _check_unpacked(path, where)
        with path.open("rb") as handle, _in_our_words(where), load_workbook(handle) as book:
            chosen, others = _choose(book, where)
            return _read_sheet(chosen, where, _about_others(chosen, others, where))
    except OSError as error:
        raise open_problem(path, error) from error


def _check_unpacked(path: Path, where: str) -> None:
    """Refuse at once what says that it unpacks to more than any log."""
    try:
        with zipfile.ZipFile(path) as archive:
            size = sum(member.file_size for member in archive.infolist())
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
        raise _damaged(where) from error
    if size > 2 * MOST_BYTES:
        raise InputError(
            f"The spreadsheet unpacks to {size / 2**30:.1f} GB.", kind="too-large", where=where, do=SMALLER
        )


@contextmanager
def _in_our_words(where: str) -> Iterator[None]:
    """What the library says of a file that it cannot read."""
    from python_calamine import CalamineError, PasswordError

    try:
        yield
    except PasswordError as error:
        raise InputError(
            "The spreadsheet is protected with a password.",
            kind="protected-file",
            where=where,
            do="Save it without a password, or as CSV (text, separated).",
        ) from error
    except CalamineError as error:
        raise _damaged(where) from error


def _damaged(where: str) -> InputError:
    return InputError("The spreadsheet is damaged or incomplete.", kind="damaged-file", where=where, do=_EXPORT)


def _choose(book: CalamineWorkbook, where: str) -> tuple[_Found, list[str]]:
    """The sheet with the largest table, those that people see first, and the names of others with tables."""
    best: _Found | None = None
    with_tables = []
    refusal: tuple[int, InputError] | None = None
    for about in book.sheets_metadata:
        sheet = book.get_sheet_by_name(about.name)
        if not sheet.height:
            continue
        try:
            found = _look(sheet, about, where)
        except InputError as error:
            if refusal is None or sheet.height > refusal[0]:
                refusal = (sheet.height, error)
            continue
        if found.rows >= _TABLE_ROWS:
            with_tables.append(found.name)
        if best is None or found.rank > best.rank:
            best = found
    if best is not None:
        return best, [name for name in with_tables if name != best.name]
    if refusal is not None:
        raise refusal[1]
    raise InputError(
        "The spreadsheet is empty.", kind="empty-file", where=where, do="Record or export the log again."
    )


def _look(sheet: CalamineSheet, about: SheetMetadata, where: str) -> _Found:
    """The table of a sheet (raises InputError where there is none)."""
    from python_calamine import SheetVisibleEnum

    place = f"{where}, sheet {about.name}"
    cells = sheet.to_python(nrows=_SAMPLE_ROWS)
    rows = [[cell_text(cell) for cell in row] for row in cells]
    layout = find_layout(_lines(rows), place, ("\t",))
    if any(_unnamed(name) for name in layout.names):
        filled = find_layout(_lines(_spread_merged(rows, sheet)), place, ("\t",))
        if sum(map(_unnamed, filled.names)) < sum(map(_unnamed, layout.names)):
            layout = filled
    # A header cell merged with the one below it gives no unit.
    units = ["" if unit == name else unit for name, unit in zip(layout.names, layout.units, strict=True)]
    texts = [[cell for cell in row if isinstance(cell, str)] for row in cells[layout.first_row :]]
    layout = replace(layout, units=tuple(units), decimal=find_decimal(texts))
    shown = about.visible == SheetVisibleEnum.Visible
    return _Found(about.name, shown, sheet, layout, sheet.height - layout.first_row)


def _unnamed(header: str) -> bool:
    return header.startswith("column ")


def _lines(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as the lines of a table with tabs, quoted where a cell holds a quote."""
    lines = []
    for row in rows:
        line = io.StringIO()
        csv.writer(line, delimiter="\t", lineterminator="").writerow(row)
        lines.append(line.getvalue())
    return lines


def _spread_merged(rows: Sequence[Sequence[str]], sheet: CalamineSheet) -> list[list[str]]:
    """The text of merged cells in each of them; the file holds it in the first one only."""
    spread = [list(row) for row in rows]
    top, left = sheet.start or (0, 0)
    for (row, column), (last_row, last_column) in sheet.merged_cell_ranges or ():
        inside = top <= row < top + len(rows) and last_row - row < _MERGED_ROWS
        if not inside or not left <= column < left + sheet.width:
            continue
        text = rows[row - top][column - left]
        for line in spread[row - top : last_row - top + 1]:
            stop = min(last_column - left + 1, len(line))
            line[column - left : stop] = [text] * (stop - column + left)
    return spread


def _about_others(chosen: _Found, others: Sequence[str], where: str) -> list[Finding]:
    if not others:
        return []
    named = ", ".join(f'"{name}"' for name in others)
    return [
        Finding(
            "other-sheets",
            where,
            f'The sheet "{chosen.name}" was read; tables of numbers also stand on {named}.',
            "Save another sheet as a file of its own to have it read.",
        )
    ]


def _read_sheet(found: _Found, where: str, findings: Sequence[Finding]) -> Table:
    import polars as pl

    layout, sheet = found.layout, found.sheet
    check_numbers(found.rows, len(layout.names), where)
    columns = _gather(sheet, layout)
    texts = [column.text() for column in columns]
    numbers = [column.numbers(text, layout.decimal) for column, text in zip(columns, texts, strict=True)]
    # Columns without a name and without a number only keep tables apart.
    kept = [
        i for i, name in enumerate(layout.names) if not (_unnamed(name) and np.isnan(numbers[i].values).all())
    ]
    layout = replace(
        layout, names=tuple(layout.names[i] for i in kept), units=tuple(layout.units[i] for i in kept)
    )
    frame = pl.DataFrame([texts[i].alias(f"{i:05d}") for i in kept])
    first_line = (sheet.start or (0, 0))[0] + layout.first_row + 1
    body = Body(frame, tuple(numbers[i] for i in kept), layout, first_line)
    return table_of_body(body, where, "spreadsheet", findings)


def _gather(sheet: CalamineSheet, layout: Layout) -> list[CellColumn]:
    """The cells below the header, column by column; a few thousand rows at a time spare memory."""
    columns = [CellColumn() for _ in layout.names]
    # Some versions of the library yield the empty rows and columns before the first cell, others do not.
    filled = dropwhile(lambda row: all(cell == "" for cell in row), sheet.iter_rows())
    rows: Iterator[list[Cell]] = (row[len(row) - sheet.width :] for row in islice(filled, layout.first_row, None))
    while chunk := list(islice(rows, _CHUNK_ROWS)):
        for column, cells in zip(columns, zip(*chunk, strict=True), strict=False):
            column.add(cells)
    return columns
