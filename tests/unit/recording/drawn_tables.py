"""Tables drawn at random, and small writers of them, for the tests that nothing written is lost in silence."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

MOST = 1e19  # larger numbers are how some loggers write "no value"; they count as lost
WORDS = ("", "", "", "-", "---", "nan", "inf", "-inf", "n/a", "ERR", "?", "#N/A", "1e400", "3e25", "-1e20")
ODD = "äÖßéñçøąžŁдяΩμλ電圧회전수温度°²√½%&/\\()[]{}<>.-_+*~^!?:'’“”\u00a0\u3000\u200bΔ🚗"
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sheet:
    """Headers, units (empty where there is no row of them), and rows of texts or numbers.

    ``numbers`` are the same cells as numbers, NaN where a cell holds none.
    """

    headers: list[str]
    units: list[str]
    cells: list[list[str]]
    numbers: Array


@dataclass(frozen=True)
class Style:
    """How a text table is written."""

    separator: str
    decimal: str
    grouping: str
    quoted: bool
    end: str
    encoding: str
    preamble: list[str]
    trailing: bool
    ragged: bool
    longer: dict[int, list[str]]
    last_end: bool


names = st.text(st.one_of(st.sampled_from(ODD), st.characters(codec="ascii", categories=["L", "N", "Zs"])), max_size=12)
values = st.one_of(
    st.integers(-9, 99_999).map(float),
    st.floats(-1e6, 1e6).map(lambda x: round(x, 3)),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([0.0, -0.0, 5e-324, 1e-300, 1e18, -9.99e18, 0.1, 1234.5, 999_999.0, 1_234_567.0]),
)


def form(value: float, digits: int | None, style: Style) -> str:
    """A number as text: with so many decimals, or in full; large and tiny ones as powers of ten."""
    plain = digits is not None and (value == 0.0 or 1e-3 < abs(value) < 1e15)
    text = f"{value:,.{digits}f}" if plain and style.grouping else f"{value:.{digits}f}" if plain else repr(value)
    marks = {",": style.grouping, ".": style.decimal}
    return "".join(marks.get(sign, sign) for sign in text)


def read(text: str, style: Style) -> float:
    """The number that a cell holds, by Python's own reading."""
    number = float(text.replace(style.grouping, "").replace(style.decimal, ".") if style.grouping else
                   text.replace(style.decimal, "."))  # fmt: skip
    return number if abs(number) <= MOST else math.nan


@st.composite
def styles(draw: st.DrawFn) -> Style:
    separator = draw(st.sampled_from(["\t", ";", ",", "|"]))
    quoted = draw(st.booleans())
    decimal = "." if separator == "," and not quoted else draw(st.sampled_from([".", ","]))
    grouping = draw(st.sampled_from(["", "", "", " ", "’", "," if decimal == "." and (quoted or separator != ",") else ""]))
    trailing = draw(st.booleans())
    long = st.lists(st.sampled_from(["", "", "7", "x"]), min_size=1, max_size=4)
    return Style(
        separator, decimal, grouping, quoted,
        end=draw(st.sampled_from(["\n", "\n", "\r\n", "\r"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        preamble=draw(st.lists(st.sampled_from(["# drive home", "Session: one", "", "// a remark"]), max_size=3)),
        trailing=trailing,
        ragged=draw(st.booleans()),
        longer={} if trailing else draw(st.dictionaries(st.integers(5, 30), long, max_size=2)),
        last_end=draw(st.booleans()),
    )  # fmt: skip


@st.composite
def sheets(draw: st.DrawFn, style: Style | None = None) -> Sheet:
    """A table: a clock that rises, and columns of numbers with cells that hold none."""
    style = style or Style(";", ".", "", False, "\n", "utf-8", [], False, False, {}, True)
    rows, columns = draw(st.integers(4, 24)), draw(st.integers(2, 6))
    digits = [2, *(draw(st.sampled_from([0, 1, 2, 3, None])) for _ in range(columns - 1))]
    headers = [f"q{draw(names)}q{place}" for place in range(columns)]
    units = ["s", *(draw(st.sampled_from(["rpm", "kPa", "%", "psi", "°C"])) for _ in range(columns - 1))]
    row = st.lists(values, min_size=columns - 1, max_size=columns - 1)
    body = draw(st.lists(row, min_size=rows, max_size=rows))
    holes = draw(st.dictionaries(st.tuples(st.integers(0, 24), st.integers(0, 5)), st.sampled_from(WORDS), max_size=12))
    cells, numbers = [], np.full((rows, columns), np.nan)
    for number, drawn in enumerate(body):
        line = [form(v, d, style) for v, d in zip([0.5 * number + 0.25, *drawn], digits, strict=True)]
        for place, text in enumerate(line):
            line[place] = holes.get((number, place), text)
            if (number, place) not in holes:
                numbers[number, place] = read(text, style)
        cells.append(line)
    return Sheet(headers, units if draw(st.booleans()) else [], cells, numbers)


def as_text(sheet: Sheet, style: Style) -> bytes:
    """A text table."""
    stream = io.StringIO()
    stream.write("".join(line + style.end for line in style.preamble))
    kind = csv.QUOTE_ALL if style.quoted else csv.QUOTE_NONE
    escape = None if style.quoted else "\\"
    writer = csv.writer(
        stream, delimiter=style.separator, quoting=kind, escapechar=escape, lineterminator=style.end
    )
    end = [""] if style.trailing else []
    clean = [header.translate(dict.fromkeys(map(ord, ";,|\t\\'"), "_")) for header in sheet.headers]
    writer.writerow([*clean, *end])
    if sheet.units:
        writer.writerow([*sheet.units, *end])
    for row, line in enumerate(sheet.cells):
        cells = [*line, *style.longer[row]] if row in style.longer else [*line, *end]
        while style.ragged and row > 3 and len(cells) > 2 and not cells[-1]:
            cells = cells[:-1]
        writer.writerow(cells)
    text = stream.getvalue()
    text = text if style.last_end else text.removesuffix(style.end)
    return text.encode(style.encoding, errors="replace")


def too_long(sheet: Sheet, style: Style) -> int:
    """Lines with something behind the last column."""
    return sum(any(style.longer[row]) for row in style.longer if row < len(sheet.cells))


def as_sheet(sheet: Sheet) -> bytes:
    """A spreadsheet: numbers as numbers, the rest as text."""
    import xlsxwriter

    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True, "strings_to_numbers": False}) as book:
        page = book.add_worksheet("Log")
        for row, line in enumerate([sheet.headers, *([sheet.units] if sheet.units else [])]):
            for place, text in enumerate(line):
                page.write_string(row, place, text)
        for row, cells in enumerate(sheet.cells, 2 if sheet.units else 1):
            for place, text in enumerate(cells):
                number = sheet.numbers[row - (2 if sheet.units else 1), place]
                if np.isfinite(number):
                    page.write_number(row, place, number)
                else:
                    page.write_string(row, place, text)
    return stream.getvalue()


def as_parquet(sheet: Sheet, kinds: list[str]) -> tuple[bytes, Array]:
    """Columns of the given kinds, and what they hold after the rounding of their types."""
    import polars as pl

    columns: list[Any] = []
    held = sheet.numbers.copy()
    for place, (header, kind) in enumerate(zip(sheet.headers, kinds, strict=True)):
        wanted = sheet.numbers[:, place]
        if kind == "text":
            columns.append(pl.Series(header, [line[place] or None for line in sheet.cells], dtype=pl.String))
            continue
        if kind == "Int32":
            wanted = np.where(np.abs(wanted) < 2e9, np.round(wanted), np.nan)
        if kind == "Float32":
            with np.errstate(over="ignore", under="ignore"):
                wanted = wanted.astype(np.float32).astype(np.float64)
        held[:, place] = wanted
        cells = [None if np.isnan(v) else int(v) if kind == "Int32" else float(v) for v in wanted]
        columns.append(pl.Series(header, cells, dtype=getattr(pl, kind)))
    stream = io.BytesIO()
    pl.DataFrame(columns).write_parquet(stream)
    return stream.getvalue(), held


Damage = tuple[str, float, float, bytes]
_PIECES = (b"\x00", b"\xff", b'"', b"\n", b"\r", b";", b",", b"\t", b"nan", b"inf", b"1e308", b"-",
           b"\xef\xbb\xbf", b"99999999", b"\xff\xff\xff\xff\xff\xff\xff\xff", b"Max", b"rpm")  # fmt: skip
damages: st.SearchStrategy[list[Damage]] = st.lists(
    st.tuples(
        st.sampled_from(["change", "change", "insert", "cut", "double", "end"]),
        st.floats(0.0, 1.0, exclude_max=True),
        st.floats(0.0, 0.2),
        st.one_of(st.sampled_from(_PIECES), st.binary(min_size=1, max_size=4)),
    ),
    min_size=1,
    max_size=5,
)


def damaged(data: bytes, what: list[Damage]) -> bytes:
    """A file with bytes changed, put in, taken out or doubled."""
    for how, where, much, piece in what:
        at = int(where * len(data))
        stop = at + max(1, int(much * len(data)))
        if how == "change":
            data = data[:at] + piece + data[at + len(piece) :]
        elif how == "insert":
            data = data[:at] + piece + data[at:]
        elif how == "cut":
            data = data[:at] + data[stop:]
        elif how == "double":
            data = data[:stop] + data[at:stop] + data[stop:]
        else:
            data = data[: max(at, 1)]
    return data
