"""One reader per file format: each turns a file into a `Table`, and only here files are opened."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.recording.readers.delimited import read_delimited
from boostproof.recording.readers.limits import check_file
from boostproof.recording.readers.sniff import Kind, sniff

if TYPE_CHECKING:
    from boostproof.recording.model import Table

__all__ = ["read_delimited", "read_table"]


def read_table(path: str | Path, *, companions: Sequence[str | Path] = ()) -> Table:
    """Read a log of any kind that is known; its contents tell which.

    Parameters
    ----------
    path : the file
    companions : other files that it takes to understand it, such as the .dbc files of a CAN log; those that
        lie in its folder are found without being named

    Returns
    -------
    Table
        Columns as they stand in the file.

    Raises
    ------
    InputError
        If the file cannot be opened, is damaged, too large, of a kind that is not read, or holds no table.
    """
    path = Path(path)
    check_file(path)
    return _read_as(sniff(path), path, [Path(other) for other in companions])


def _read_as(kind: Kind, path: Path, companions: list[Path]) -> Table:
    """Each reader is imported when a file needs it: some bring large libraries."""
    if kind == "parquet":
        from boostproof.recording.readers.parquet import read_parquet

        return read_parquet(path)
    if kind == "spreadsheet":
        from boostproof.recording.readers.spreadsheet import read_spreadsheet

        return read_spreadsheet(path)
    if kind == "measurement":
        from boostproof.recording.readers.mdf import read_mdf

        return read_mdf(path)
    if kind == "candump":
        from boostproof.recording.readers.candump import read_candump
        from boostproof.recording.readers.dbc import databases_beside

        named = [other for other in companions if other.suffix.lower() == ".dbc"]
        beside = [other for other in databases_beside(path) if other not in named]
        return read_candump(path, [*named, *beside])
    if kind in ("gzip", "zip"):
        return _read_packed(kind, path, companions)
    return read_delimited(path)


def _read_packed(kind: Kind, path: Path, companions: list[Path]) -> Table:
    from boostproof.errors import InputError
    from boostproof.recording.readers.dbc import databases_beside
    from boostproof.recording.readers.packed import read_packed

    def read(log: Path) -> Table:
        inner = sniff(log)
        if inner in ("gzip", "zip"):
            raise InputError(
                "The file is packed twice.", kind="binary-file", where=log.name, do="Unpack it once."
            )
        return _read_as(inner, log, [*companions, *databases_beside(path)])

    return read_packed(path, kind == "zip", read)
