"""Text tables of any make: CSV, semicolon, tab, bar or blank separated.

The layout is found on the first lines (`layout`), then every column is read as text and turned into
numbers cell by cell, so that each lost cell can be counted and reported.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.findings import Finding
from boostproof.recording.model import Table
from boostproof.recording.readers.body import Body, table_of_body
from boostproof.recording.readers.cells import read_numbers
from boostproof.recording.readers.encoding import decode, find_encoding
from boostproof.recording.readers.layout import Layout, find_layout
from boostproof.recording.readers.limits import check_numbers, open_problem

if TYPE_CHECKING:
    import polars as pl

_SAMPLE_CHARACTERS = 65_536
_SAMPLE_LINES = 400
_OVERFLOW = "overflow"


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
        raise open_problem(path, error) from error
    encoding = find_encoding(data, where)
    whole_ends = b"\r" not in data or data.count(b"\r") == data.count(b"\r\n")
    plain = encoding in {"utf-8", "utf-8-sig"} and whole_ends
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
    check_numbers(body.count(b"\n"), len(layout.names), where)
    frame, overflow = _split_overflow(_read_text(body, layout), where)
    numbers = tuple(read_numbers(frame[name], layout.decimal) for name in frame.columns)
    return table_of_body(Body(frame, numbers, layout, layout.first_row + 1), where, "csv", overflow)


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
    longer = int((frame[_OVERFLOW].drop_nulls().str.strip_chars().str.len_chars() > 0).sum())
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
