"""Databases of CAN messages (.dbc): which bits of which message are which signal."""

from __future__ import annotations

import importlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.readers.limits import open_problem

EXTENDED = 0x8000_0000  # set in an id of 29 bits, as in the DBC file itself
# Names in value tables for "the sender has no value".
_NO_VALUE = re.compile(r"(?i)\b(?:sna|invalid|unavailable|(?:signal ?)?not ?avail\w*|no ?value)\b")


@dataclass(frozen=True)
class Signal:
    """Where a signal stands in its message, and what its bits mean.

    Attributes
    ----------
    name, unit : as in the database
    start : bit number as in the database: of the least significant bit, or of the most significant one where
        ``big_endian``
    length : bits
    big_endian, signed, floating : how the bits are read; ``floating`` is IEEE 754 of 16, 32 or 64 bits
    scale, offset : value = raw * scale + offset
    no_value : raw numbers that the value table calls invalid
    switch : name of the signal that switches this one, None where it is always sent
    switched_on : raw numbers of the switch at which this signal is sent
    """

    name: str
    unit: str
    start: int
    length: int
    big_endian: bool = False
    signed: bool = False
    floating: bool = False
    scale: float = 1.0
    offset: float = 0.0
    no_value: tuple[int, ...] = ()
    switch: str | None = None
    switched_on: tuple[int, ...] = ()


@dataclass(frozen=True)
class Message:
    """A message: its name, its id (with `EXTENDED` set for 29 bits), and its signals."""

    name: str
    key: int
    signals: tuple[Signal, ...]


@dataclass(frozen=True)
class Database:
    """The messages of one file."""

    file: str
    messages: tuple[Message, ...]


def says_no_value(text: str) -> bool:
    """Whether an entry of a value table says that the sender has no value."""
    return _NO_VALUE.search(text.replace("_", " ")) is not None


def databases_beside(path: Path) -> list[Path]:
    """The .dbc files in the folder of a log, in the order of their names."""
    return sorted(other for other in path.parent.glob("*") if other.suffix.lower() == ".dbc")


def read_databases(paths: Sequence[Path], where: str) -> tuple[list[Database], list[Finding]]:
    """Read the databases for a log.

    Parameters
    ----------
    paths : .dbc files
    where : file name of the log

    Returns
    -------
    list of Database, list of Finding
        A database that cannot be read is a finding where another one can.

    Raises
    ------
    InputError
        If no file is given or none can be read, or the library for them is missing.
    """
    if not paths:
        raise no_database(where)
    databases, findings = [], []
    for path in paths:
        try:
            databases.append(read_dbc(path))
        except InputError as error:
            if error.kind == "missing-library" or (path == paths[-1] and not databases):
                raise
            findings.append(Finding(error.kind, error.where, error.says, error.do))
    return databases, findings


def no_database(where: str) -> InputError:
    """The error for frames that nobody can translate."""
    return InputError(
        "This log holds raw CAN messages, and no .dbc file says what they mean.",
        kind="no-dbc",
        where=where,
        do="Put the .dbc file of this car or of the logger's channels into the folder of the log.",
    )


def read_dbc(path: Path) -> Database:
    """Read one .dbc file.

    Raises
    ------
    InputError
        If it cannot be opened or understood, or the library for it is missing.
    """
    library = _library(path.name)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise open_problem(path, error) from error
    try:
        # Tools write the degree sign in either encoding; the format itself names none.
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
        read = library.load_string(text, database_format="dbc", strict=False)
        messages = tuple(_message(message) for message in read.messages)
    except Exception as error:  # whatever a foreign parser meets in a broken file
        raise InputError(
            f"The .dbc file cannot be understood ({_first_line(error)}).",
            kind="bad-dbc",
            where=path.name,
            do="Export the database again, or take it out of the folder.",
        ) from error
    return Database(path.name, messages)


def _library(where: str) -> Any:
    try:
        return importlib.import_module("cantools.database")
    except ImportError as error:
        raise InputError(
            "Reading CAN messages needs a library that is not installed.",
            kind="missing-library",
            where=where,
            do='Install it with: pip install "boostproof[can]".',
        ) from error


def _first_line(error: Exception) -> str:
    return next(iter(str(error).splitlines()), "") or type(error).__name__


def _message(message: Any) -> Message:
    key = int(message.frame_id) | (EXTENDED if message.is_extended_frame else 0)
    return Message(str(message.name), key, tuple(_signal(signal) for signal in message.signals))


def _signal(signal: Any) -> Signal:
    conversion = signal.conversion
    names = {int(raw): str(name) for raw, name in (conversion.choices or {}).items()}
    return Signal(
        name=str(signal.name),
        unit=str(signal.unit or ""),
        start=int(signal.start),
        length=int(signal.length),
        big_endian=signal.byte_order == "big_endian",
        signed=bool(signal.is_signed),
        floating=bool(conversion.is_float),
        scale=float(conversion.scale),
        offset=float(conversion.offset),
        no_value=tuple(raw for raw, name in names.items() if says_no_value(name)),
        switch=None if signal.multiplexer_signal is None else str(signal.multiplexer_signal),
        switched_on=tuple(int(raw) for raw in signal.multiplexer_ids or ()),
    )
