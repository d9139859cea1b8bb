"""Plain tables of a compressor or turbine map, as car.toml points to them, read into the tables of physics.

A map is a text table: a header with units, one row for each measured point, in any order. What a log is read
with finds separator, decimal mark and header here too; but a map is small and every number in it counts, so a
cell that cannot be read is a mistake with its line, not a hole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeVar

import numpy as np

from boostproof.casefolder.map_units import Heading, columns_of, reference_of
from boostproof.errors import InputError, InputRangeError
from boostproof.findings import Finding
from boostproof.physics.corrected import SAE_J1826, ReferenceConditions
from boostproof.physics.gas import AIR_GAS_CONSTANT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from boostproof.physics.compressor_table import CompressorTable
    from boostproof.physics.turbine_map import TurbineTable
    from boostproof.recording.readers.layout import Decimal

    Floats = NDArray[np.float64]
Made = TypeVar("Made")

_LARGEST = 4_000_000  # bytes; a map has some hundred rows
_COMMENT = re.compile(r"\s*(?:#|//|;|%|\*|!)")
_FORM = "See 'Maps' in the page on formats for an example."
_REFERENCE = (
    'Write it above the header, as in "# reference 298 K, 100 kPa"; the pairs in use differ by up to 8 % in flow.'
)


@dataclass(frozen=True)
class CompressorMap:
    """A compressor's table and what was noticed while it was read."""

    table: CompressorTable = field(repr=False)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class TurbineMap:
    """A turbine's table and what was noticed while it was read."""

    table: TurbineTable = field(repr=False)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Sheet:
    """A table as written: its columns by what they are, in SI, and the line of each row."""

    name: str
    headings: Mapping[str, Heading]
    values: Mapping[str, Floats]
    lines: tuple[int, ...]
    reference: ReferenceConditions | None
    findings: tuple[Finding, ...]


def read_compressor_map(folder: Path, name: str) -> CompressorMap:
    """Read a compressor's table.

    Parameters
    ----------
    folder : the case folder
    name : path of the table in it

    Returns
    -------
    CompressorMap
        Corrected speed and flow in the reference of the file. Where it holds inlet pressure and temperature,
        and does not call speed and flow corrected, they are corrected here, row by row.

    Raises
    ------
    InputError
        If the file lies outside the case, cannot be read, lacks a column or a unit, or holds a value that
        cannot be: with the line.
    """
    from boostproof.physics.compressor_table import CompressorTable, table_from_measured

    sheet = _read(folder, name, "compressor")
    findings = list(sheet.findings)
    corrected = any(sheet.headings[c].corrected for c in ("speed", "flow"))
    measured = {"inlet_pressure", "inlet_temperature"} <= set(sheet.values) and not corrected
    reference = sheet.reference or SAE_J1826
    if sheet.reference is None and not measured:
        findings.append(
            Finding(
                "map-reference", name,
                "The table does not say which air its speed and flow are corrected to; 298 K and 100 kPa were taken.",
                _REFERENCE,
            )
        )  # fmt: skip
    if measured and sheet.headings["flow"].volume:
        _refuse_volume(sheet)

    def make() -> CompressorTable:
        c = sheet.values
        if measured:
            air = c["inlet_pressure"], c["inlet_temperature"]
            return table_from_measured(*air, c["flow"], c["speed"], c["ratio"], c["efficiency"], reference)
        return CompressorTable(c["speed"], _mass_flow(sheet, reference), c["ratio"], c["efficiency"], reference)

    return CompressorMap(_made(make, sheet), tuple(findings))


def read_turbine_map(folder: Path, name: str) -> TurbineMap:
    """Read a turbine's table; efficiency and speed may be missing.

    Parameters
    ----------
    folder, name : as `read_compressor_map`

    Returns
    -------
    TurbineMap
        From a flow parameter, or from corrected flow in the reference of the file.

    Raises
    ------
    InputError
        As `read_compressor_map`.
    """
    from boostproof.physics.turbine_map import TurbineTable, table_from_corrected

    sheet = _read(folder, name, "turbine")
    columns, findings = sheet.values, list(sheet.findings)
    efficiency, speed = columns.get("efficiency"), columns.get("speed")
    parameters = [sheet.headings[c].parameter for c in ("flow", "speed") if c in sheet.headings]
    if len(set(parameters)) > 1:
        raise InputError(
            "Of flow and speed one is a parameter and the other is corrected to a reference.", kind="map-columns",
            where=name, do="Give both in the same form.",
        )  # fmt: skip
    if sheet.headings["flow"].volume:
        _refuse_volume(sheet)
    reference = sheet.reference or SAE_J1826
    if sheet.reference is None and not parameters[0]:
        findings.append(
            Finding(
                "map-reference", name,
                "The table does not say which gas state its flow is corrected to; 298 K and 100 kPa were taken.",
                _REFERENCE,
            )
        )  # fmt: skip

    def make() -> TurbineTable:
        if parameters[0]:
            return TurbineTable(columns["ratio"], columns["flow"], efficiency, speed)
        return table_from_corrected(columns["ratio"], columns["flow"], reference, efficiency, speed)

    return TurbineMap(_made(make, sheet), tuple(findings))


def _mass_flow(sheet: _Sheet, reference: ReferenceConditions) -> Floats:
    """Corrected mass flow; a corrected volume flow is one of the reference air."""
    flow = sheet.values["flow"]
    density = reference.pressure / (AIR_GAS_CONSTANT * reference.temperature)
    return flow * density if sheet.headings["flow"].volume else flow


def _refuse_volume(sheet: _Sheet) -> NoReturn:
    raise InputError(
        f'"{sheet.headings["flow"].header}" is a volume, which says no mass without its air.', kind="map-columns",
        where=sheet.name, do="Give the flow as a mass, such as kg/s, g/s or lb/min.",
    )  # fmt: skip


def _made(make: Callable[[], Made], sheet: _Sheet) -> Made:
    """The table, or its refusal with file and line in place of the row."""
    try:
        return make()
    except InputRangeError as error:
        rows = [int(number) for number in re.findall(r"\d+", error.says.partition(":")[0])]
        named = re.match(r"rows? \d", error.says) is not None
        lines = [sheet.lines[row - 1] for row in rows] if named else []
        where = f"{sheet.name}, line{'s' if len(lines) > 1 else ''} {' and '.join(map(str, lines))}"
        says = error.says.partition(": ")[2] if named else error.says
        says = _in_words(says, sheet.headings)
        raise InputError(
            says[0].upper() + says[1:], kind="map-value", where=where if named else sheet.name,
            do=f"Check the number, and the unit in the header. {error.do}".strip(),
        ) from None  # fmt: skip


#: The names of physics and ours, for the header that is at fault.
_NAMES = {
    "corrected_speed": "speed", "speed_parameter": "speed", "corrected_flow": "flow", "flow_parameter": "flow",
    "pressure_ratio": "ratio", "expansion_ratio": "ratio", "efficiency": "efficiency",
}  # fmt: skip


def _in_words(says: str, headings: Mapping[str, Heading]) -> str:
    for name, ours in _NAMES.items():
        if says.startswith(name) and ours in headings:
            return says.replace(name, f'the column "{headings[ours].header}" in SI', 1)
    return says


def _read(folder: Path, name: str, machine: str) -> _Sheet:
    """Columns of a map in SI.

    Raises
    ------
    InputError
        As `read_compressor_map`.
    """
    from boostproof.recording.readers.layout import find_layout

    lines = _text(folder, name).split("\n")
    # Remarks hold numbers and separators of their own; the header may be one of them.
    quiet = ["" if _is_remark(line) else line for line in lines]
    try:
        layout = find_layout(quiet, name)
    except InputError as error:
        says = error.says.replace("this file", "this map")
        raise InputError(says, kind=error.kind, where=error.where, do=_FORM) from None
    headings = columns_of(layout.names, layout.units, machine, f"{name}, line {layout.header_row + 1}")
    reference = reference_of(enumerate(lines, 1), name)
    rows = _rows(quiet, layout.first_row, layout.separator)
    values: dict[str, Floats] = {}
    findings: list[Finding] = []
    for what, heading in headings.items():
        numbers = _column(rows, heading, layout.decimal, name)
        values[what] = numbers * heading.factor + heading.offset
    if "efficiency" in values and headings["efficiency"].bare and np.all(values["efficiency"] > 1.0):
        values["efficiency"] = values["efficiency"] / 100.0
        findings.append(
            Finding(
                "unit-differs", name, "The header gives efficiency no unit and its numbers are per cent; so they were read.",
                f'Write "{headings["efficiency"].header} %" to be sure.',
            )
        )  # fmt: skip
    used = {heading.index for heading in headings.values()}
    spare = [header for i, header in enumerate(layout.names) if i not in used]
    if spare:
        findings.append(Finding("map-columns", name, f"Columns of the map that nothing needs: {', '.join(spare)}."))
    return _Sheet(name, headings, values, tuple(line for line, _ in rows), reference, tuple(findings))


def _text(folder: Path, name: str) -> str:
    """The file as text; only from within the case, links followed."""
    from boostproof.recording.readers.encoding import decode, find_encoding

    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()):
        raise InputError(
            f'"{name}" lies outside the case folder.', kind="outside-case", where=name,
            do="Copy the table into the folder.",
        )  # fmt: skip
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= _LARGEST else b""
    except OSError as error:
        raise InputError(
            f"The map cannot be read ({error.strerror or 'no access'}).", kind="cannot-read", where=name,
            do="Check that the file is there and that you may read it.",
        ) from None  # fmt: skip
    if size > _LARGEST:
        raise InputError(
            f"The map has {size / 1e6:.0f} MB; a table of measured points is far smaller.", kind="too-large",
            where=name, do="Check that a recording was not saved under this name.",
        )  # fmt: skip
    if data.startswith(b"PK"):
        raise InputError(
            "This is a spreadsheet or an archive, not a plain table.", kind="not-text", where=name,
            do="Save it as CSV (text, separated).",
        )  # fmt: skip
    try:
        return decode(data, find_encoding(data, name))
    except InputError as error:
        says = error.says.replace("not a text log", "not a plain table")
        raise InputError(says, kind=error.kind, where=name, do="Save the table as CSV (text, separated).") from None


def _is_remark(line: str) -> bool:
    """A remark in a sentence, or a line that gives the reference; a commented header has units or many cells."""
    if re.match(r"\W*(?:reference|corrected to)\b", line, re.IGNORECASE):
        return True
    return _COMMENT.match(line) is not None and len(re.split(r"[,;\t|]", line.strip(" #/;%*!"))) < 3


def _rows(lines: Sequence[str], first: int, separator: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every line below the header that holds a number."""
    from boostproof.recording.readers.layout import is_number, split_line

    found = []
    for i in range(first, len(lines)):
        cells = split_line(lines[i], separator) if lines[i].strip() else []
        if any(is_number(cell) for cell in cells):
            found.append((i + 1, cells))
    return found


def _column(rows: Iterable[tuple[int, list[str]]], heading: Heading, decimal: Decimal, name: str) -> Floats:
    """One column as numbers, in the unit of its header."""
    import polars as pl

    from boostproof.recording.readers.cells import read_numbers

    listed = [(line, cells[heading.index] if heading.index < len(cells) else "") for line, cells in rows]
    values = read_numbers(pl.Series([cell for _, cell in listed], dtype=pl.String), decimal).values
    lost = np.flatnonzero(~np.isfinite(values))
    if lost.size:
        line, cell = listed[int(lost[0])]
        raise InputError(
            f'The column "{heading.header}" holds {f"{cell!r}" if cell.strip() else "nothing"} here, not a number.',
            kind="map-value", where=f"{name}, line {line}", do="Fill it in, or leave the whole row out.",
        )  # fmt: skip
    return np.asarray(values, float)
