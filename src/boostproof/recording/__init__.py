"""From a log file to channels, pulls and metrics.

>>> from boostproof.recording import read_recording, find_pulls   # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from boostproof.recording.model import (
    Barometer,
    Channel,
    ColumnChoice,
    KeyOn,
    Metric,
    Pull,
    Recording,
)
from boostproof.recording.pulls.find import find_pulls
from boostproof.recording.readers import read_delimited
from boostproof.recording.recognise import recognise

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


def read_recording(
    path: str | Path, *, columns: Mapping[str, ColumnChoice] | None = None, barometer: float | None = None
) -> Recording:
    """Read a log file and name its columns.

    Parameters
    ----------
    path : the file
    columns : columns named by a person, by our channel names; they go before all recognition
    barometer : pressure of the air around where known [Pa abs]

    Raises
    ------
    InputError
        If the file is no log, holds no engine speed, or a named column does not exist.
    """
    return recognise(read_delimited(Path(path)), columns, barometer)
