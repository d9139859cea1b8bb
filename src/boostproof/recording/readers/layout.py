"""How a text table is laid out: separator, decimal mark, header, units row, where the numbers begin.

Works on a sample of the text (the first lines), and touches no file.
"""

from __future__ import annotations

import contextlib
import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from boostproof.errors import InputError
from boostproof.units import find_unit, split_reference

Decimal = Literal[".", ","]
SEPARATORS = ("\t", ";", ",", "|", " ")
NO_VALUE = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "----",
        "nan",
        "-nan",
        "n/a",
        "na",
        "#n/a",
        "n.a.",
        "null",
        "none",
        "nil",
        "inf",
        "-inf",
        "+inf",
        "?",
        "*",
        "err",
        "error",
        "#nv",
        "#wert!",
        "#value!",
        "k.a.",
        "void",
        "invalid",
        "1.#inf",
        "-1.#ind",
        "1.#qnan",
        "overflow",
        "nodata",
        "no data",
        "missing",
    }
)

_NUMBER = re.compile(
    r"[+-]?(?:\d+(?:[.,]\d+)?|\d+\.|[.,]\d+|\d{1,3}(?:[.,'’\u00a0\u202f ]\d{3})+(?:[.,]\d+)?)"
    r"(?:[eE][+-]?\d+)?"
)
CLOCK = re.compile(
    r"(?:\d{1,4}[./-]\d{1,2}[./-]\d{1,4}[T ]+)?"
    r"(\d{1,3}):(\d{2})(?::(\d{2}))?(?:[.,](\d+))?\s*(?:[AaPp]\.?[Mm]\.?|Z)?"
)
_CLOSE = 0.8  # of the best score: as good a table
_DATE = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}")
WITH_UNIT = re.compile(r"([+-]?[\d.,]*\d(?:[eE][+-]?\d+)?)\s*([^\d\s].{0,9})")
_COMMENT = re.compile(r"^\s*(?:#+|//+|;+|%+|\*+|!+|--+|')\s*")
_THOUSANDS_COMMA = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?")
_QUANTITIES = frozenset({"pressure", "press", "temperature", "temp", "position", "pos", "angle", "flow", "duty",
                         "target", "actual", "druck", "temperatur", "pression"})  # fmt: skip
_TYPE_WORDS = frozenset({"float", "double", "int", "integer", "uint", "real", "number", "string", "bool",
                         "boolean",
                         "single", "word", "byte", "numeric", "analog", "digital"})  # fmt: skip


@dataclass(frozen=True)
class Layout:
    """Where things stand in a text table.

    Attributes
    ----------
    separator : one character; " " stands for any run of blanks
    decimal : decimal mark of the numbers
    names : header of each column, repeated ones numbered
    units : text of the units row per column, empty where there is none
    first_row : index of the first line of numbers
    header_row : index of the header line
    above : lines of numbers above the header, which are not read
    """

    separator: str
    decimal: Decimal
    names: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int
    header_row: int
    above: int = 0


@dataclass(frozen=True)
class _Body:
    """Lines of numbers as one separator gives them: how good a table, and how many lines of one width."""

    score: float
    lines: int
    first_row: int
    width: int


def split_line(line: str, separator: str) -> list[str]:
    """Cells of one line, quotes honoured, blanks around cells removed."""
    if separator == " ":
        return line.split()
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    if line.count('"') % 2:  # one has no partner
        return [cell.strip(' "') for cell in line.split(separator)]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except csv.Error:  # a cell of more signs than that library takes, or a lone line end in one
        return [cell.strip(' "') for cell in line.split(separator)]


def is_number(cell: str) -> bool:
    """True for a number, a clock time or a date, with either decimal mark, with a unit behind or not."""
    if _NUMBER.fullmatch(cell) or CLOCK.fullmatch(cell) or _DATE.fullmatch(cell):
        return True
    suffix = WITH_UNIT.fullmatch(cell)
    if not suffix or suffix.group(2)[0] in "+-":
        return False
    return find_unit(split_reference(suffix.group(2))[0]) is not None


def find_layout(lines: Sequence[str], where: str, separators: Sequence[str] = SEPARATORS) -> Layout:
    """Find the layout from the first lines of a file.

    Parameters
    ----------
    lines : the first lines, without line ends
    where : for the error
    separators : those that come into question

    Raises
    ------
    InputError
        If there is no table of numbers with at least two columns, or no header above it.
    """
    bodies = []
    for separator in separators:
        found = _find_body(lines, separator)
        if found is not None:
            bodies.append((separator, found))
    if not bodies:
        raise InputError(
            "No table of numbers was found in this file.",
            kind="no-numbers",
            where=where,
            do="A log is a header line and lines of numbers, separated by comma, semicolon, tab or blanks.",
        )
    best = bodies[0]
    for other in bodies[1:]:
        # Blanks also stand between thousands, in names and beside other separators: they count where others fail.
        few = 2 * best[1].lines < other[1].lines
        if other[1].score > best[1].score * 1.02 and (few or other[0] != " "):
            best = other
    try:
        return _with_header(lines, *best, where)
    except InputError:
        # Decimal commas and blanks between thousands may look like separators, but their cells have no names.
        others = [b for b in bodies if b[1].score > _CLOSE * best[1].score or 2 * b[1].lines >= best[1].lines]
        for separator, body in sorted(others, key=lambda b: -b[1].score):
            with contextlib.suppress(InputError):
                return _with_header(lines, separator, body, where)
        raise


def _with_header(lines: Sequence[str], separator: str, found: _Body, where: str) -> Layout:
    width = found.width
    first_row, header_row, names, units = _find_header(lines, separator, found.first_row, width, where)
    body = [split_line(line, separator) for line in lines[first_row:] if line.strip()]
    return Layout(
        separator,
        find_decimal(body),
        numbered(names),
        units,
        first_row,
        header_row,
        sum(_is_sample(line, separator, width) for line in lines[:header_row]),
    )


def _is_sample(line: str, separator: str, width: int) -> bool:
    """Whether a line is as one of the table, and no remark."""
    cells = split_line(line, separator)
    numbers, words = _kinds(cells)
    return len(cells) == width and numbers >= 2 and not words


def _kinds(cells: Sequence[str]) -> tuple[int, int]:
    """How many cells of a line are numbers, and how many are words."""
    numbers = sum(is_number(cell) for cell in cells)
    blanks = sum(cell.lower() in NO_VALUE for cell in cells)
    return numbers, len(cells) - numbers - blanks


def _find_body(lines: Sequence[str], separator: str) -> _Body | None:
    """The table that one separator gives; None when none shows."""
    widths: Counter[int] = Counter()
    rows: list[tuple[int, int, int]] = []
    numbers_seen = 0
    for index, line in enumerate(lines):
        if not line.strip() or (separator != " " and separator not in line):
            continue
        cells = split_line(line, separator)
        numbers, words = _kinds(cells)
        if numbers >= 2 and numbers >= words:
            rows.append((index, len(cells), numbers))
            widths[len(cells)] += 1
            numbers_seen += numbers
    if not rows:
        return None
    width = max(widths, key=lambda w: (widths[w], w))
    alike = [row for row in rows if row[1] == width]
    if width < 2:
        return None
    first = _first_of_block(rows, width)
    filled = sum(1 for line in lines[first:] if line.strip())
    score = len(alike) / max(filled, 1) * sum(row[2] for row in alike) / len(alike)
    return _Body(score, len(alike), first, width)


def _first_of_block(rows: Sequence[tuple[int, int, int]], width: int) -> int:
    """First line of the first run of three like rows (or of what there is): a dated preamble line is none."""
    alike = {row[0] for row in rows if abs(row[1] - width) <= 1}
    starts = [row[0] for row in rows if row[1] == width]
    for start in starts:
        if start + 1 in alike and start + 2 in alike:
            return start
    return starts[0]


def _header_cells(line: str, separator: str, width: int, least: int) -> list[str] | None:
    """Cells of a line above the numbers if it has as many as they have, ``least`` at least."""
    plain = _COMMENT.sub("", line) if _COMMENT.match(line) and separator != ";" else line.strip("# ")
    options = [split_line(plain, separator)]
    if separator == " ":
        # A header in columns: names of several words, at least two blanks apart.
        options.append([cell.strip() for cell in re.split(r"\s{2,}", plain.strip())])
        options.append(
            [cell.strip() for cell in next(csv.reader([plain], delimiter=" ", skipinitialspace=True))]
        )
    for cells in options:
        while len(cells) > width and not cells[-1]:
            cells.pop()
        if least <= len(cells) <= width:
            return cells + [""] * (width - len(cells))
    return None


def _names_something(cells: Sequence[str]) -> bool:
    """Whether most of the cells with figures hold letters too: else they are numbers cut in the wrong places."""
    figures = [cell for cell in cells if any(sign.isdigit() for sign in cell)]
    return 2 * sum(any(sign.isalpha() for sign in cell) for cell in figures) >= len(figures)


def _unit_share(cells: Sequence[str]) -> float:
    """Share of filled cells that are a unit and nothing else."""
    filled = [cell for cell in cells if cell and cell not in {"-", "--"}]
    units = [cell for cell in filled if find_unit(split_reference(cell.strip("[]() "))[0]) is not None]
    return len(units) / len(filled) if filled else 0.0


def _find_header(
    lines: Sequence[str], separator: str, first_row: int, width: int, where: str
) -> tuple[int, int, list[str], tuple[str, ...]]:
    """(first line of numbers, line, names, units) from the lines directly above the numbers."""
    first_row = _with_sparse_rows(lines, separator, first_row)
    body = [split_line(line, separator) for line in lines[first_row:] if line.strip()]
    # A separator at the end of every line of numbers needs none at the end of the header.
    trailing = width > 2 and all(len(cells) < width or not cells[width - 1] for cells in body)
    block: list[tuple[int, list[str]]] = []
    for index in range(first_row - 1, max(first_row - 7, -1), -1):
        if not lines[index].strip():
            if block:
                break
            continue
        cells = _header_cells(lines[index], separator, width, width - trailing)
        if cells is None or sum(map(is_number, cells)) > 0.5 * width or not _names_something(cells):
            break
        block.append((index, cells))
    if not block:
        raise _no_header(lines, separator, first_row, width, where)
    return first_row, *_pick_header(block, width)


def _with_sparse_rows(lines: Sequence[str], separator: str, first_row: int) -> int:
    """The first row, where some above the full ones hold fewer numbers or more: slow channels begin later."""
    index = first = first_row
    while index > 0:
        index -= 1
        if not lines[index].strip():
            continue
        numbers, words = _kinds(split_line(lines[index], separator))
        sample = not words or (numbers >= 2 and numbers >= words)
        if not sample or (separator != " " and separator not in lines[index]):
            break
        first = index if numbers else first
    return first


def _pick_header(block: list[tuple[int, list[str]]], width: int) -> tuple[int, list[str], tuple[str, ...]]:
    """Tell names from units (and from rows that give types or group names) among the lines of a block."""
    unit_row = max(block, key=lambda row: _unit_share(row[1]))
    has_units = len(block) > 1 and _unit_share(unit_row[1]) >= 0.6
    others = [row for row in block if row is not unit_row] if has_units else block

    def names_told(row: tuple[int, list[str]]) -> int:
        words = {cell.casefold() for cell in row[1] if cell}
        return len(words) if not words <= _TYPE_WORDS else 0

    header_row, names = max(others, key=lambda row: (names_told(row), row[0]))
    units = unit_row[1] if has_units else [""] * width
    above = [row for row in others if row[0] < header_row]
    if above:
        names = _with_groups(names, max(above)[1])
    return header_row, names, tuple(unit.strip("[]() ") for unit in units)


def _with_groups(names: list[str], groups: list[str]) -> list[str]:
    """Names that stand several times, or say a quantity alone, with the name of the group above them in front.

    An empty cell of the row above belongs to the group to its left, as where cells were joined in a sheet.
    """
    told = [cell.casefold() for cell in groups if cell]
    if len(set(told)) < 2 or len(set(told)) == len(names) or set(told) <= _TYPE_WORDS:
        return names
    count = Counter(name.casefold() for name in names)
    group, whole = "", []
    for name, cell in zip(names, groups, strict=True):
        group = cell or group
        alone = name.casefold().rstrip(".") in _QUANTITIES or count[name.casefold()] > 1
        whole.append(f"{group} {name}" if group and name and alone else name)
    return whole


def _no_header(lines: Sequence[str], separator: str, first_row: int, width: int, where: str) -> InputError:
    """The error for numbers without usable names above them, with the likeliest reason."""
    above = [line for line in lines[:first_row] if line.strip()]
    cells = split_line(_COMMENT.sub("", above[-1]), separator) if above else []
    place = f"{where}: line {first_row + 1}"
    if separator == "," and len(cells) >= 2 and width > len(cells):
        return InputError(
            f"The header names {len(cells)} columns, but the lines of numbers hold {width} cells: "
            "decimal commas cannot be told from separating commas.",
            kind="ambiguous-comma",
            where=place,
            do="Export again with semicolons between the columns, or with decimal points.",
        )
    if len(cells) >= 2 and not all(map(is_number, cells)):
        return InputError(
            f"The header names {len(cells)} columns, but the lines of numbers hold {width}.",
            kind="no-header",
            where=place,
            do="Give every column a name in the line above the numbers.",
        )
    return InputError(
        "The numbers have no header line above them, so no column can be recognised.",
        kind="no-header",
        where=place,
        do='Add a first line that names each column with its unit, for example "time s, rpm, boost psi".',
    )


def find_decimal(body: Sequence[Sequence[str]]) -> Decimal:
    """Decimal mark that the numbers of the sample were written with."""
    comma = point = 0
    for cells in body:
        for cell in cells:
            if "," in cell and not CLOCK.fullmatch(cell):
                thousands = _THOUSANDS_COMMA.fullmatch(cell) is not None and not cell.lstrip("+-").startswith(
                    "0"
                )
                point += cell.rfind(".") > cell.rfind(",")
                comma += cell.rfind(",") > cell.rfind(".") and not thousands
            elif "." in cell and is_number(cell) and not _DATE.fullmatch(cell):
                point += not re.fullmatch(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+", cell)
    return "," if comma > point else "."


def numbered(names: Sequence[str]) -> tuple[str, ...]:
    """Headers made unique: the second "Boost" becomes "Boost (2)"; an empty one "column 3"."""
    plain = [" ".join(name.split()) or f"column {index}" for index, name in enumerate(names, 1)]
    written = set(plain)
    seen: Counter[str] = Counter()
    result: list[str] = []
    for name in plain:
        seen[name] += 1
        unique = name
        while seen[name] > 1 and (unique := f"{name} ({seen[name]})") in written:
            seen[name] += 1
        written.add(unique)
        result.append(unique)
    return tuple(result)
