"""Text tables of any make: CSV, semicolon, tab, bar or blank separated.

The layout is found on the first lines (`layout`). Where every cell is empty or a number, as in most logs, they are
read as numbers at once. Else every column is read as text and turned into numbers cell by cell, so that each lost cell
can be counted and reported. Both ways give the same table; the first takes half the time.
"""

from __future__ import annotations

import io
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Table
from boostproof.recording.readers.body import Body, table_of_body
from boostproof.recording.readers.cells import Numbers, plain_numbers, read_numbers
from boostproof.recording.readers.encoding import decode, find_encoding, is_utf8
from boostproof.recording.readers.layout import Decimal, Layout, find_layout, split_line
from boostproof.recording.readers.limits import check_numbers, open_problem

if TYPE_CHECKING:
    import polars as pl

_SAMPLE_CHARACTERS = 65_536
_SAMPLE_LINES = 400
_OVERFLOW = "overflow"
_LONG, _AT_A_TIME = 20_000, 4  # rows from which columns are turned into numbers at the same time, and how many
_NUMBERS = re.compile(r'[\s"]*[+-]?[\d.,:]*\d')  # how a line of numbers begins
_FIRST_CHARACTERS = 4_096
_PLAIN_CELL = re.compile(rb"\s*[+-]?(?:\d[\d.]*|\.\d+)?(?:[eE][+-]?\d+)?|[nN][aA][nN]")  # or nothing
_MOST_BROKEN = 120  # lines over which one header line may go


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
    plain = whole_ends and (encoding == "utf-8" or (encoding == "utf-8-sig" and is_utf8(data)))
    # Text that is UTF-8 already goes to the parser as it is: decoding a large log would double the work.
    text = "" if plain else decode(data, encoding)
    head = decode(data[:_SAMPLE_CHARACTERS], encoding) if plain else text[:_SAMPLE_CHARACTERS]
    whole = len(data) <= _SAMPLE_CHARACTERS if plain else len(text) <= _SAMPLE_CHARACTERS
    lines = head.split("\n")
    lines, before = _whole_lines((lines if whole else lines[:-1])[:_SAMPLE_LINES])
    layout = find_layout(lines, where)
    first = before[layout.first_row]
    body = _after_line(data, first) if plain else text.encode().split(b"\n", first)[-1]
    return _read_table(body, replace(layout, first_row=first), where)


def _whole_lines(lines: list[str]) -> tuple[list[str], list[int]]:
    """Lines of a header whose quoted cells go over several lines ("Boost", line break, "[psi]") made one.

    Returns
    -------
    list of str, list of int
        The lines, and how many lines of the file stand before each.
    """
    whole: list[str] = []
    before: list[int] = []
    index = 0
    while index < len(lines):
        count = 1
        if not _NUMBERS.match(lines[index]):
            text = lines[index]
            while text.count('"') % 2 and count < _MOST_BROKEN and index + count < len(lines):
                text = f"{text} {lines[index + count]}"
                count += 1
            count = 1 if text.count('"') % 2 else count
        whole.append(" ".join(lines[index : index + count]))
        before.append(index)
        index += count
    return whole, before


def _after_line(data: bytes, count: int) -> bytes:
    """What follows the first ``count`` lines."""
    start = 0
    for _ in range(count):
        start = data.index(b"\n", start) + 1
    return data[start:]


def _read_table(body: bytes, layout: Layout, where: str) -> Table:
    check_numbers(_count(body, b"\n"), len(layout.names), where)
    if layout.separator == " ":
        body = re.sub(rb"(?m)^[ \t]+|[ \t]+$", b"", re.sub(rb"[ \t]+", b" ", body))
    frame, numbers = _read_numbers(body, layout) or (None, None)
    if frame is None or numbers is None:
        frame = _read_text(body, layout)
        numbers = _all_numbers(frame.drop(_OVERFLOW), layout.decimal)
    findings = _about_longer(_count_longer(frame, body, layout), frame.height, where)
    return table_of_body(Body(frame.drop(_OVERFLOW), numbers, layout, layout.first_row + 1), where, "csv", findings)


def _read_numbers(body: bytes, layout: Layout) -> tuple[pl.DataFrame, tuple[Numbers, ...]] | None:
    """All columns as numbers, and a frame as of `_read_text` without any text; None where a cell holds text.

    A decimal comma, quotes, times of day, units behind numbers and words are left to the other way.
    """
    import polars as pl
    from polars.exceptions import ComputeError

    if layout.decimal != "." or b'"' in body or not _looks_plain(body, layout.separator):
        return None
    try:
        frame = _parse(body, layout, None, pl.Float64)
    except ComputeError:
        return None
    columns = [frame[name] for name in frame.columns if name != _OVERFLOW]
    numbers = tuple(plain_numbers(column.to_numpy()) for column in columns)
    silent = pl.Series(np.logical_and.reduce([np.isnan(read.values) for read in numbers]))
    if silent.any() and any(column.filter(silent).is_not_null().any() for column in columns):
        return None  # lines of words like "nan", of which something is to be said
    nothing = pl.Series([None], dtype=pl.String).new_from_index(0, frame.height)
    return frame.with_columns(nothing.alias(column.name) for column in columns), numbers


def _looks_plain(body: bytes, separator: str) -> bool:
    """Whether the first lines hold nothing but numbers, so that it is worth trying."""
    lines = body[:_FIRST_CHARACTERS].split(b"\n")[:-1] or [body]
    return all(
        _PLAIN_CELL.fullmatch(cell) for line in lines for cell in line.rstrip(b"\r").split(separator.encode())
    )


def _all_numbers(frame: pl.DataFrame, decimal: Decimal) -> tuple[Numbers, ...]:
    """Every column as numbers; of a long table several at a time, as the parser does."""
    columns = [frame[name] for name in frame.columns]
    if frame.height < _LONG:
        return tuple(read_numbers(column, decimal) for column in columns)
    with ThreadPoolExecutor(_AT_A_TIME) as threads:
        return tuple(threads.map(read_numbers, columns, [decimal] * len(columns)))


def _count(body: bytes, sign: bytes) -> int:
    """How often one byte stands in a text; several times as fast as counting it as text."""
    return int(np.count_nonzero(np.frombuffer(body, np.uint8) == ord(sign)))


def _read_text(body: bytes, layout: Layout) -> pl.DataFrame:
    """All columns as text, one more than named for cells beyond the last column."""
    import polars as pl
    from polars.exceptions import ComputeError

    if b'"' not in body:
        return _parse(body, layout, None, pl.String)

    for some in (body, _with_paired_quotes(body, layout.separator.encode())):
        try:
            frame = _parse(some, layout, '"', pl.String)
        except ComputeError:
            continue
        if not _swallowed(frame, layout):
            return frame
    # Stray quotes of another kind: take them as ordinary signs and brush them off the cells.
    return _parse(body, layout, None, pl.String).with_columns(pl.all().str.strip_chars('" '))


def _with_paired_quotes(body: bytes, separator: bytes) -> bytes:
    """Lines in which a quote has no partner, mended."""
    lines = body.split(b"\n")
    return b"\n".join(_paired(line, separator) if line.count(b'"') % 2 else line for line in lines)


def _paired(line: bytes, separator: bytes) -> bytes:
    """A line in which every quote has a partner.

    A quote within a cell makes it unreadable, one behind it is left out. Where a cell was opened and never
    closed, as at the end of a log that was cut, nothing tells what it and the rest of the line hold.
    """
    line = line.rstrip(b"\r")
    marks = bytearray(line)
    opened: int | None = None
    for place in [place for place, sign in enumerate(line) if sign == ord('"')]:
        begins = line[:place].rstrip(b" ")[-1:] in (b"", separator)
        ends = line[place + 1 :].lstrip(b" ")[:1] in (b"", separator)
        if opened is None and begins:
            opened = place
        elif ends:
            marks[place] = marks[place] if opened is not None else ord(" ")
            opened = None
        else:
            marks[place] = ord("?")
    return bytes(marks if opened is None else marks[:opened])


def _swallowed(frame: pl.DataFrame, layout: Layout) -> bool:
    """Whether a cell holds lines of the table: a stray quote opened it, and another one closed it."""
    least = max(1, (len(layout.names) - 1) // 2)
    for cells in frame.iter_columns():
        broken = cells.filter(cells.str.contains("\n", literal=True).fill_null(False))
        if any(line.count(layout.separator) >= least for cell in broken for line in cell.split("\n")):
            return True
    return False


def _parse(body: bytes, layout: Layout, quote: str | None, kind: type[pl.DataType]) -> pl.DataFrame:
    import polars as pl

    names = [f"{index:04d}" for index in range(len(layout.names))]
    return pl.read_csv(
        io.BytesIO(body),
        has_header=False,
        schema={**dict.fromkeys(names, kind), _OVERFLOW: pl.String},
        separator=layout.separator,
        quote_char=quote,
        truncate_ragged_lines=True,
        missing_columns="insert",
        extra_columns="ignore",
        raise_if_empty=False,
    )


def _count_longer(frame: pl.DataFrame, body: bytes, layout: Layout) -> int:
    """Lines with more cells than the header has names (an empty last cell is only a trailing separator)."""
    separator, width = layout.separator, len(layout.names)
    longer = int((frame[_OVERFLOW].drop_nulls().str.strip_chars('" ').str.len_chars() > 0).sum())
    if _count(body, separator.encode()) == (width - 1) * frame.height and not longer:
        return 0
    # The parser keeps one cell too many and cuts off the others: where that one is empty, they may not be.
    further = [line for line in body.decode().split("\n") if line.count(separator) > width]
    for first, *others in (cells[width:] for line in further if len(cells := split_line(line, separator)) > width):
        longer += not first and any(others)
    return longer


def _about_longer(longer: int, lines: int, where: str) -> list[Finding]:
    if not longer:
        return []
    return [
        Finding(
            "long-lines",
            where,
            f"In {longer} of {lines} lines there are more cells than the header has names; "
            "the rest was left out.",
            "Check that no column name is missing in the header.",
        )
    ]
