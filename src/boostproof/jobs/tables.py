"""Recordings as Parquet: read once, then had in milliseconds."""

from __future__ import annotations

import hashlib
import json
import os
import uuid
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.case_names import PULLS, READINGS, is_recording, is_set_aside
from boostproof.errors import InputError
from boostproof.jobs.files import LEFT_BEHIND_AFTER, remove_if_older
from boostproof.jobs.records import StoredFile
from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.recording.model import Recording

_READERS = ("recording", "casefolder", "car", "bench", "units.py", "quantity.py", "keys.py", "workflows/told.py",
            "workflows/reading.py", "jobs/tables.py")  # fmt: skip
_UNUSED_AFTER = 30 * 86400.0  # s
_NOT_READ = (READINGS,)  # says nothing of a log


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
    table = tables / f"{_key(case, files, path)}.parquet"
    if table.is_file():
        os.utime(table)
        return table
    return _kept(table, _recording(case, path))


def keep_table(tables: Path, case: Path, files: Iterable[StoredFile], path: str, recording: Recording) -> Path:
    """The table of a recording that was just read for these files, so that nobody reads it again."""
    table = tables / f"{_key(case, files, path)}.parquet"
    return table if table.is_file() else _kept(table, recording)


@contextmanager
def meanwhile(keep: Callable[[Recording], object]) -> Iterator[Callable[[Recording], None]]:
    """Keeping that goes on while the recording is measured, and is over when the block is left.

    Raises
    ------
    Exception
        What keeping raised, at the end of the block.
    """
    with ThreadPoolExecutor(1, "boostproof-table") as thread:
        begun: list[Future[object]] = []
        yield lambda recording: begun.append(thread.submit(keep, recording))
        for one in begun:
            one.result()


def keep_table_beside(case: Path, path: str, recording: Recording) -> None:
    """As `keep_table`, for one who knows only the case folder that the store made."""
    tables = case.parents[2] / "tables"
    if case.parents[1].name == "cases":
        keep_table(tables, case, files_in(case), path, recording)


def files_in(case: Path) -> list[StoredFile]:
    """The files of a case folder, as the store names them."""
    found = []
    for item in sorted(case.rglob("*")):
        if item.is_file():
            with item.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            found.append(StoredFile(item.relative_to(case).as_posix(), digest, item.stat().st_size, ""))
    return found


def _kept(table: Path, recording: Recording) -> Path:
    table.parent.mkdir(exist_ok=True)
    part = table.parent / f"part-{uuid.uuid4().hex}"
    try:
        _write(recording, part)
        part.replace(table)
    finally:
        part.unlink(missing_ok=True)
    return table


def sweep_tables(tables: Path) -> None:
    """Remove tables that nobody asked for in a long time, and unfinished ones."""
    for item in tables.iterdir() if tables.is_dir() else ():
        remove_if_older(item, _UNUSED_AFTER if item.suffix == ".parquet" else LEFT_BEHIND_AFTER)


def _key(case: Path, files: Iterable[StoredFile], path: str) -> str:
    """Of all that decides what the table holds: the case without recordings that are not joined to this one, what
    was answered about columns, and the readers."""
    from boostproof.workflows.column_memory import data_folder

    total = hashlib.sha256(f"{path}\0{_readers()}\0".encode())
    pulls = case / PULLS
    joined = pulls.is_file() and b"joined_with" in pulls.read_bytes()
    for file in sorted(files, key=lambda f: f.path):
        other = file.path != path and is_recording(file.path)
        if file.path not in _NOT_READ and not is_set_aside(file.path) and (joined or not other):
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
    from boostproof.workflows.told import told_about, told_alone

    file, memory = case / path, ColumnMemory()
    try:
        folder = read_case(case, with_readings=False)
    except InputError:  # car.toml is not ready yet; the log can be looked at by itself
        return read_whole(file, told_alone(case, file), None, remembered=memory.of)
    return read_whole(file, told_about(folder, file), folder, remembered=memory.of)


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
            file, compression="lz4", metadata={"boostproof": json.dumps(about, ensure_ascii=False)}
        )
        file.flush()
        os.fsync(file.fileno())
