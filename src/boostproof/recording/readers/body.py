"""What text tables and sheets have in common below their header: from rows of numbers and words to a `Table`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Column, Table
from boostproof.recording.readers.cells import Numbers
from boostproof.recording.readers.layout import NO_VALUE, Layout

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

# First cells of lines that sum a table up, above or below its rows.
_SUMMARY = (
    "max", "maximum", "min", "minimum", "avg", "average", "mean", "median", "std", "total", "sum", "peak",
    "mittel", "mittelwert", "summe", "durchschnitt", "moyenne", "moy", "promedio", "media", "medel",
)  # fmt: skip
_SUMMARY_LINES = 8


@dataclass(frozen=True)
class Body:
    """All rows below the header.

    Attributes
    ----------
    text : the cells as text, one String column per column; null where a cell is a number or empty
    numbers : the same columns as numbers
    layout : where the body was found; headers and units
    first_line : line number of the first row, for people
    """

    text: pl.DataFrame
    numbers: tuple[Numbers, ...]
    layout: Layout
    first_line: int


def table_of_body(body: Body, where: str, kind: str, findings: Sequence[Finding] = ()) -> Table:
    """Leave out rows that are no samples and put headers, units and numbers together.

    Parameters
    ----------
    body : rows below the header
    where, kind : of the table
    findings : what was noticed before

    Raises
    ------
    InputError
        If no row of numbers is left.
    """
    body, dropped = _drop_other_lines(body, where)
    rows = body.text.height
    if rows == 0:
        raise InputError(
            "The file has a header but no lines of numbers.",
            kind="no-numbers",
            where=where,
            do="Record or export the log again.",
        )
    columns = [
        Column(header, unit or read.unit, read.values, read.lost, read.clock)
        for read, header, unit in zip(body.numbers, body.layout.names, body.layout.units, strict=True)
    ]
    # What stands behind a separator at the end of every line is no column.
    while columns and columns[-1].lost_cells == rows and columns[-1].header.startswith("column "):
        columns.pop()
    every = (*findings, *_about_above(body.layout.above, where), *dropped, *lost_cells(columns, rows, where))
    return Table(where, kind, rows, tuple(columns), every)


def _about_above(lines: int, where: str) -> list[Finding]:
    if not lines:
        return []
    says = f"Lines of numbers above the header were passed over ({lines})."
    do = "Check that the header stands above all samples, once."
    return [Finding("lines-above", where, says, do)]


def _drop_other_lines(body: Body, where: str) -> tuple[Body, list[Finding]]:
    """Take out lines without any number: repeated headers, units, blank lines, remarks.

    A header line in the middle with *other* names begins another table; what follows is not read.
    """
    import polars as pl

    frame = body.text
    silent = np.logical_and.reduce([np.isnan(read.values) for read in body.numbers])
    silent |= _summary_lines(frame)
    if not silent.any():
        return body, []
    keep = ~silent
    second: list[Finding] = []
    texts = frame.filter(pl.Series(silent))
    rows = np.flatnonzero(silent)
    repeated = other = 0
    for row, cells in zip(rows, texts.iter_rows(), strict=True):
        written = [(cell or "").strip().strip('"') for cell in cells]
        named = [cell for cell in written if any(letter.isalpha() for letter in cell)]
        words = len(named)
        # A row of "ERR" is a moment without values and no header.
        header = words >= 3 and len(set(named)) > 1 and any(cell.lower() not in NO_VALUE for cell in named)
        same = sum(cell == name for cell, name in zip(written, body.layout.names, strict=True))
        if words and same >= 0.5 * words:
            repeated += 1
        elif header and words >= 0.8 * len(written) and row + 2 < frame.height:
            second.append(
                Finding(
                    "second-table",
                    f"{where}: line {body.first_line + row}",
                    "Another table with other columns begins here; only the first was read.",
                    "Put the second table into a file of its own.",
                )
            )
            keep[row:] = False
            break
        else:
            other += any(written)  # blank lines are not worth a word
    findings = [*_about_passed_over(repeated, other, where), *second]
    kept = tuple(
        Numbers(read.values[keep], int(np.count_nonzero(np.isnan(read.values[keep]))), read.unit, read.clock)
        for read in body.numbers
    )
    return replace(body, text=frame.filter(pl.Series(keep)), numbers=kept), findings


def _about_passed_over(repeated: int, other: int, where: str) -> list[Finding]:
    findings = []
    if repeated:
        says = f"The header line stands again among the numbers ({repeated} x); those lines were passed over."
        findings.append(Finding("repeated-header", where, says))
    if other:
        findings.append(Finding("other-lines", where, f"Lines that are no samples were passed over ({other})."))
    return findings


def _summary_lines(frame: pl.DataFrame) -> NDArray[np.bool_]:
    """Lines at either end that begin with "Max", "Average" and the like: their numbers are no sample."""
    first = frame[frame.columns[0]]
    found = np.zeros(len(first), dtype=np.bool_)
    for ends in (slice(0, _SUMMARY_LINES), slice(max(len(first) - _SUMMARY_LINES, 0), len(first))):
        says = first[ends].str.strip_chars('": ').str.to_lowercase().is_in(_SUMMARY)
        found[ends] = says.fill_null(False).to_numpy()
    return found


def lost_cells(columns: Sequence[Column], rows: int, where: str) -> list[Finding]:
    """One finding for all columns with some lost cells; one that holds hardly any number is left to others."""
    findings = []
    partly = [c for c in columns if 0 < c.lost_cells <= 0.5 * rows]
    if partly:
        named = ", ".join(f"{c.header} {c.lost_cells}" for c in partly)
        total = sum(c.lost_cells for c in partly)
        cells = "1 cell holds no number and was" if total == 1 else f"{total} cells hold no number and were"
        findings.append(
            Finding(
                "lost-cells",
                where,
                f"{cells} left out ({named}).",
                "Nothing to do if these are few; many point to a loose plug or an overloaded logger.",
            )
        )
    return findings
