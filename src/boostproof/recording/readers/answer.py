"""A table, or the reason why there is none, as bytes between two processes.

A few kilobytes of JSON and then the numbers as they lie in memory: nothing that comes out of a process which
handled an untrusted file is executed, and a hundred megabytes of numbers cost a copy and no more.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from typing import IO, Any, Protocol

import numpy as np

from boostproof.errors import InputError, UnsupportedCarError
from boostproof.findings import Finding
from boostproof.recording.model import Column, FloatArray, Samples, Table
from boostproof.recording.readers.limits import MOST_NUMBERS

_LENGTH = struct.Struct("<Q")
_MOST_TEXT = 1 << 26
_MOST_BACK = 4 * MOST_NUMBERS  # a channel with samples of its own comes with three arrays
_ERRORS = {error.__name__: error for error in (InputError, UnsupportedCarError)}


class BrokenAnswerError(Exception):
    """The other process ended, or did not answer in this form."""


class _Sink(Protocol):
    def write(self, data: Any, /) -> Any: ...


def send_table(table: Table, sink: _Sink) -> None:
    """Write a table."""
    arrays: list[FloatArray] = []
    columns = []
    for column in table.columns:
        own = [] if column.samples is None else [column.samples.time, column.samples.values]
        arrays += [column.values, *own]
        columns.append(
            {
                "header": column.header,
                "unit": column.unit,
                "lost": column.lost_cells,
                "clock": column.clock,
                "samples": len(own[0]) if own else None,
            }
        )
    findings = [finding.as_dict() for finding in table.findings]
    head = {"file": table.file, "kind": table.kind, "rows": table.rows}
    _send({**head, "columns": columns, "findings": findings}, sink)
    for array in arrays:
        sink.write(np.ascontiguousarray(array, dtype=np.float64).view(np.uint8).data)


def send_error(error: InputError, sink: _Sink) -> None:
    """Write an error that a person is to see."""
    _send({"error": {"type": type(error).__name__, **error.as_dict()}}, sink)


def _send(head: dict[str, Any], sink: _Sink) -> None:
    text = json.dumps(head).encode("ascii")
    sink.write(_LENGTH.pack(len(text)) + text)


def receive_table(source: IO[bytes]) -> Table:
    """Read what `send_table` wrote, or raise what `send_error` wrote.

    Raises
    ------
    InputError
        The error that was sent.
    BrokenAnswerError
        If nothing whole comes.
    """
    (length,) = _LENGTH.unpack(_exactly(source, _LENGTH.size))
    if length > _MOST_TEXT:
        raise BrokenAnswerError
    try:
        head = json.loads(_exactly(source, length))
        if "error" in head:
            raise _ERRORS[head["error"].pop("type")](**head["error"])
        return _table(head, source)
    except InputError:
        raise
    except (ValueError, KeyError, TypeError) as error:
        raise BrokenAnswerError from error


def _table(head: dict[str, Any], source: IO[bytes]) -> Table:
    rows = int(head["rows"])
    numbers = sum(rows + 2 * int(about["samples"] or 0) for about in head["columns"])
    if numbers > _MOST_BACK:
        raise BrokenAnswerError
    columns = tuple(_columns(head["columns"], rows, source))
    findings = tuple(Finding(**finding) for finding in head["findings"])
    return Table(head["file"], head["kind"], rows, columns, findings)


def _columns(heads: list[dict[str, Any]], rows: int, source: IO[bytes]) -> Iterator[Column]:
    for about in heads:
        values = _array(source, rows)
        own = about["samples"]
        samples = None if own is None else Samples(_array(source, own), _array(source, own))
        yield Column(about["header"], about["unit"], values, about["lost"], about["clock"], samples)


def _array(source: IO[bytes], length: int) -> FloatArray:
    array = np.empty(length, dtype=np.float64)
    _fill(source, array.view(np.uint8).data)
    return array


def _exactly(source: IO[bytes], length: int) -> bytes:
    data = bytearray(length)
    _fill(source, memoryview(data))
    return bytes(data)


def _fill(source: IO[bytes], view: memoryview) -> None:
    filled = 0
    while filled < len(view):
        got = source.readinto(view[filled:])  # type: ignore[attr-defined]
        if not got:
            raise BrokenAnswerError
        filled += got
