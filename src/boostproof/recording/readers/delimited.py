"""Text tables of any make: CSV, semicolon, tab, bar or blank separated.

The layout is found on the first lines (`layout`), then every column is read as text and turned into
numbers cell by cell, so that each lost cell can be counted and reported.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Column, Table
from boostproof.recording.readers.cells import Numbers, read_numbers
from boostproof.recording.readers.encoding import decode, find_encoding
from boostproof.recording.readers.layout import Layout, find_layout

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

_SAMPLE_CHARACTERS = 65_536
_SAMPLE_LINES = 400
_OVERFLOW = "overflow"
# First cells of lines that sum a table up, above or below its rows.
_SUMMARY = (
    "max", "maximum", "min", "minimum", "avg", "average", "mean", "median", "std", "total", "sum", "peak",
    "mittel", "mittelwert", "summe", "durchschnitt", "moyenne", "moy", "promedio", "media", "medel",
)  # fmt: skip
_SUMMARY_LINES = 8


def read_delimited(path: Path) -> Table:
    """Read a text table.

    Parameters
    ----------
    path : the file

    Returns
    -------
    Table
        Columns as float64 with NaN for lost cells; what was noticed as findings.

    Raises
    ------
    InputError
        If the file cannot be opened, is empty, is not text, or holds no table of numbers with a header.
    """
    where = path.name
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(
            f"The file cannot be opened ({error.strerror or error}).",
            kind="no-file",
            where=str(path),
            do="Check the path and that the file may be read.",
        ) from error
    encoding = find_encoding(data, where)
    plain = encoding in {"utf-8", "utf-8-sig"} and data.count(b"\r") == data.count(b"\r\n")
    # Text that is UTF-8 already goes to the parser as it is: decoding a large log would double the work.
    text = "" if plain else decode(data, encoding)
    head = decode(data[:_SAMPLE_CHARACTERS], encoding) if plain else text[:_SAMPLE_CHARACTERS]
    whole = len(data) <= _SAMPLE_CHARACTERS if plain else len(text) <= _SAMPLE_CHARACTERS
    lines = head.split("\n")
    layout = find_layout((lines if whole else lines[:-1])[:_SAMPLE_LINES], where)
    body = _after_line(data, layout.first_row) if plain else text.encode().split(b"\n", layout.first_row)[-1]
    return _read_table(body, layout, where)


def _after_line(data: bytes, count: int) -> bytes:
    """What follows the first ``count`` lines."""
    start = 0
    for _ in range(count):
        start = data.index(b"\n", start) + 1
    return data[start:]


def _read_table(body: bytes, layout: Layout, where: str) -> Table:
    findings: list[Finding] = []
    frame = _read_text(body, layout)
    frame, overflow = _split_overflow(frame, where)
    findings += overflow
    numbers = {name: read_numbers(frame[name], layout.decimal) for name in frame.columns}
    frame, numbers, dropped = _drop_other_lines(frame, numbers, layout, where)
    findings += dropped
    if frame.height == 0:
        raise InputError(
            "The file has a header but no lines of numbers.",
            kind="no-numbers",
            where=where,
            do="Record or export the log again.",
        )
    columns = []
    for name, header, unit in zip(frame.columns, layout.names, layout.units, strict=True):
        read = numbers[name]
        columns.append(Column(header, unit or read.unit, read.values, read.lost, read.clock))
    # What stands behind a separator at the end of every line is no column.
    while columns and columns[-1].lost_cells == frame.height and columns[-1].header.startswith("column "):
        columns.pop()
    findings += _lost_cells(columns, frame, where)
    return Table(where, "csv", frame.height, tuple(columns), tuple(findings))


def _read_text(body: bytes, layout: Layout) -> pl.DataFrame:
    """All columns as text, one more than named for cells beyond the last column."""
    import polars as pl
    from polars.exceptions import ComputeError

    if layout.separator == " ":
        body = re.sub(rb"(?m)^[ \t]+|[ \t]+$", b"", re.sub(rb"[ \t]+", b" ", body))
    names = [f"{index:04d}" for index in range(len(layout.names))]
    schema = dict.fromkeys([*names, _OVERFLOW], pl.String)

    def parse(quote: str | None) -> pl.DataFrame:
        return pl.read_csv(
            io.BytesIO(body),
            has_header=False,
            schema=schema,
            separator=layout.separator,
            quote_char=quote,
            truncate_ragged_lines=True,
            missing_columns="insert",
            raise_if_empty=False,
        )

    try:
        return parse('"' if layout.quoted else None)
    except ComputeError:
        # A stray quote somewhere below: take quotes as ordinary signs and brush them off the cells.
        return parse(None).with_columns(pl.all().str.strip_chars('" '))


def _split_overflow(frame: pl.DataFrame, where: str) -> tuple[pl.DataFrame, list[Finding]]:
    """Lines with more cells than the header has names (an empty last cell is only a trailing separator)."""
    longer = int((frame[_OVERFLOW].str.strip_chars().str.len_chars() > 0).sum())
    frame = frame.drop(_OVERFLOW)
    if not longer:
        return frame, []
    return frame, [
        Finding(
            "long-lines",
            where,
            f"In {longer} of {frame.height} lines there are more cells than the header has names; "
            "the rest was left out.",
            "Check that no column name is missing in the header.",
        )
    ]


def _drop_other_lines(
    frame: pl.DataFrame, numbers: dict[str, Numbers], layout: Layout, where: str
) -> tuple[pl.DataFrame, dict[str, Numbers], list[Finding]]:
    """Take out lines without any number: repeated headers, units, blank lines, remarks.

    A header line in the middle with *other* names begins another table; what follows is not read.
    """
    import polars as pl

    silent = np.logical_and.reduce([np.isnan(read.values) for read in numbers.values()])
    silent |= _summary_lines(frame)
    if not silent.any():
        return frame, numbers, []
    keep = ~silent
    findings = []
    texts = frame.filter(pl.Series(silent))
    rows = np.flatnonzero(silent)
    repeated = 0
    for row, cells in zip(rows, texts.iter_rows(), strict=True):
        written = [(cell or "").strip().strip('"') for cell in cells]
        words = sum(any(letter.isalpha() for letter in cell) for cell in written)
        same = sum(cell == name for cell, name in zip(written, layout.names, strict=True))
        if words and same >= 0.5 * words:
            repeated += 1
        elif words >= 0.8 * len(written) and words >= 3 and row + 2 < frame.height:
            findings.append(
                Finding(
                    "second-table",
                    f"{where}: line {layout.first_row + 1 + row}",
                    "Another table with other columns begins here; only the first was read.",
                    "Put the second table into a file of its own.",
                )
            )
            keep[row:] = False
            break
    filled = sum(any((cell or "").strip() for cell in cells) for cells in texts.iter_rows())
    other = filled - repeated  # blank lines are not worth a word
    if repeated:
        findings.append(
            Finding(
                "repeated-header",
                where,
                f"The header line stands again among the numbers ({repeated} x); "
                "those lines were passed over.",
            )
        )
    elif other > 0 and not findings:
        findings.append(
            Finding("other-lines", where, f"Lines that are no samples were passed over ({other}).")
        )
    mask = pl.Series(keep)
    kept = {
        name: Numbers(
            read.values[keep], int(np.count_nonzero(np.isnan(read.values[keep]))), read.unit, read.clock
        )
        for name, read in numbers.items()
    }
    return frame.filter(mask), kept, findings


def _summary_lines(frame: pl.DataFrame) -> NDArray[np.bool_]:
    """Lines at either end that begin with "Max", "Average" and the like: their numbers are no sample."""
    first = frame[frame.columns[0]].str.strip_chars('": ').str.to_lowercase()
    says = first.is_in(_SUMMARY).fill_null(False).to_numpy()
    rows = np.flatnonzero(says)
    near_end = (rows < _SUMMARY_LINES) | (rows >= len(says) - _SUMMARY_LINES)
    found = np.zeros(len(says), dtype=np.bool_)
    found[rows[near_end]] = True
    return found


def _lost_cells(columns: list[Column], frame: pl.DataFrame, where: str) -> list[Finding]:
    """One finding for all columns with lost cells, and one for each that holds hardly any number."""
    findings = []
    partly = [c for c in columns if 0 < c.lost_cells <= 0.5 * frame.height]
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
