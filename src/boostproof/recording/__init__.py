"""From a log file to channels, pulls and metrics.

>>> from boostproof.recording import read_recording, find_pulls   # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.recording.model import (
    Barometer,
    Channel,
    ColumnChoice,
    KeyOn,
    Metric,
    Pull,
    Recording,
    Table,
)

if TYPE_CHECKING:
    from boostproof.recording.pulls.find import find_pulls

__all__ = [
    "Barometer",
    "Channel",
    "ColumnChoice",
    "KeyOn",
    "Metric",
    "Pull",
    "Recording",
    "find_pulls",
    "read_recording",
]


def __getattr__(name: str) -> Any:
    """`find_pulls`, imported when it is asked for: the process that only reads a file starts faster."""
    if name == "find_pulls":
        from boostproof.recording.pulls.find import find_pulls

        return find_pulls
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def read_recording(
    path: str | Path,
    *,
    columns: Mapping[str, ColumnChoice] | None = None,
    barometer: float | None = None,
    companions: Sequence[str | Path] = (),
    apart: bool = False,
    remembered: Callable[[Table], Mapping[str, ColumnChoice]] | None = None,
    companion: bool = False,
) -> Recording:
    """Read a log file and name its columns.

    Parameters
    ----------
    path : the file; its contents tell its format
    columns : columns named by a person, by our channel names; they go before all recognition
    barometer : pressure of the air around where known [Pa abs]
    companions : other files that it takes to understand the log, such as .dbc files outside its folder
    apart : read a file that is not trusted in a process of its own, with limits on time and memory, unless
        it is a small text (`readers.apart`)
    remembered : gives the columns named earlier for logs with the headers of a table; they go before
        recognition, and after ``columns``
    companion : the file is to be joined with others (`joining.join`) and may lack the engine speed

    Raises
    ------
    InputError
        If the file is no log, holds no engine speed, or a named column does not exist; with ``apart``, also
        if it could not be read within the limits.
    """
    from boostproof.recording.recognise import recognise

    if apart:
        from boostproof.recording.readers.apart import read_untrusted as read
    else:
        from boostproof.recording.readers import read_table as read
    table = read(path, companions=companions)
    recalled = None if remembered is None else remembered(table)
    return recognise(table, columns, barometer, recalled, companion=companion)
