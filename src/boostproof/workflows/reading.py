"""One recording of a case read whole: its file, and the files that hold the same pulls."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.recording.model import ColumnChoice, Recording, Table
    from boostproof.workflows.told import Told

Remembered = Callable[["Table"], Mapping[str, "ColumnChoice"]]


def companions_of(folder: Case) -> set[Path]:
    """Files that are read together with another one, and are no recordings by themselves."""
    found: set[Path] = set()
    for item in folder.pulls.recording:
        if folder.path / item.file not in found:
            found |= {folder.path / name for name in item.joined_with or ()}
    return found


def read_whole(
    path: Path,
    told: Told,
    folder: Case | None,
    *,
    remembered: Remembered,
    columns: Mapping[str, ColumnChoice] | None = None,
) -> Recording:
    """Read a recording, joined with the files that pulls.toml names beside it.

    Parameters
    ----------
    path : the file that gives the clock
    told : what the case says of it
    folder : the case, None for a file by itself
    remembered : columns named earlier, by the table's headers
    columns : columns named now; they go before those of the case

    Raises
    ------
    InputError
        If a file is no log, none holds an engine speed, or they do not show the same pulls.
    """
    from boostproof.recording import read_recording
    from boostproof.recording.joining import join
    from boostproof.recording.told import told_columns
    from boostproof.workflows.told import told_about

    names = () if told.setup is None or folder is None else told.setup.joined_with or ()

    def read(file: Path, about: Told, named: Mapping[str, ColumnChoice]) -> Recording:
        return read_recording(
            file,
            columns=named,
            barometer=about.barometer,
            apart=True,
            remembered=remembered,
            companion=bool(names),
        )

    first = read(path, told, told_columns(told.setup) if columns is None else columns)
    if not names or folder is None:
        return first
    others = []
    for name in names:
        about = told_about(folder, folder.path / name)
        others.append(read(folder.path / name, about, told_columns(about.setup)))
    return join([first, *others])
