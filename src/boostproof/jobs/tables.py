"""Recordings as Parquet: read once, then had in milliseconds."""

from __future__ import annotations

import hashlib
import json
import os
import uuid
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.jobs.records import StoredFile
from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.recording.model import Recording

_READERS = ("recording", "casefolder", "car", "bench", "units.py", "quantity.py", "keys.py", "workflows/told.py",
            "workflows/reading.py", "jobs/tables.py")  # fmt: skip
_NOT_READ = ("readings.toml",)  # says nothing of a log


def table_of(tables: Path, case: Path, files: Iterable[StoredFile], path: str) -> Path:
    """The table of one recording, made if it is not there for these files and this text of the readers.

    Parameters
    ----------
    tables : folder of tables
    case : case folder with these files
    files : of the case
    path : of the recording in the case

    Raises
    ------
    InputError
        If the file is no log or the case cannot be read.
    """
    table = tables / f"{_key(files, path)}.parquet"
    if table.is_file():
        return table
    tables.mkdir(exist_ok=True)
    part = tables / f"part-{uuid.uuid4().hex}"
    try:
        _write(_recording(case, path), part)
        part.replace(table)
    finally:
        part.unlink(missing_ok=True)
    return table


def _key(files: Iterable[StoredFile], path: str) -> str:
    """Of all that decides what the table holds: the case, what was answered about columns, and the readers."""
    from boostproof.workflows.column_memory import data_folder

    total = hashlib.sha256(f"{path}\0{_readers()}\0".encode())
    for file in sorted(files, key=lambda f: f.path):
        if file.path not in _NOT_READ:
            total.update(f"{file.path}\0{file.sha256}\n".encode())
    answers = data_folder() / "columns"
    for item in sorted(answers.iterdir()) if answers.is_dir() else ():
        if item.is_file():
            total.update(item.read_bytes())
    return total.hexdigest()


@lru_cache(maxsize=1)
def _readers() -> str:
    """Hash over the text of everything that reads."""
    package = Path(__file__).parent.parent
    total = hashlib.sha256(__version__.encode())
    for name in _READERS:
        place = package / name
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            total.update(file.read_bytes())
    return total.hexdigest()


def _recording(case: Path, path: str) -> Recording:
    from boostproof.casefolder import read_case
    from boostproof.workflows.column_memory import ColumnMemory
    from boostproof.workflows.reading import read_whole
    from boostproof.workflows.told import told_about

    folder = read_case(case, with_readings=False)
    return read_whole(case / path, told_about(folder, case / path), folder, remembered=ColumnMemory().of)


def _write(recording: Recording, to: Path) -> None:
    import polars as pl

    columns = {"time": recording.time} | {name: c.values for name, c in recording.channels.items() if name != "time"}
    about = {
        "file": recording.file,
        "kind": recording.kind,
        "rate_hz": recording.rate_hz,
        "time_known": recording.time_known,
        "barometer_pa": recording.barometer.value,
        "channels": [channel.as_json() for channel in recording.channels.values()],
    }
    with to.open("wb") as file:
        pl.DataFrame(columns).write_parquet(
            file, compression="zstd", metadata={"boostproof": json.dumps(about, ensure_ascii=False)}
        )
        file.flush()
        os.fsync(file.fileno())
