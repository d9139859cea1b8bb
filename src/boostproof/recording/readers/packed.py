"""Packed logs (.gz, .zip of one log): unpacked into a folder that is deleted afterwards, within a limit."""

from __future__ import annotations

import gzip
import lzma
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import IO

from boostproof.errors import InputError
from boostproof.recording.model import Table
from boostproof.recording.readers.limits import MOST_BYTES, SMALLER

_CHUNK = 1 << 20
_DATABASE = ".dbc"
_DAMAGE = (OSError, EOFError, NotImplementedError, zlib.error, lzma.LZMAError, zipfile.BadZipFile)


def read_packed(path: Path, archive: bool, read: Callable[[Path], Table]) -> Table:
    """Unpack a log and read it.

    Parameters
    ----------
    path : a gzip file, or a zip archive of one log (and the .dbc files that belong to it)
    archive : it is a zip archive
    read : reads the unpacked log

    Returns
    -------
    Table
        As ``read`` gives it, under the name of the packed file.

    Raises
    ------
    InputError
        If the file is damaged, has a password, holds several logs, or unpacks to more than a gigabyte.
    """
    with TemporaryDirectory(prefix="boostproof-", ignore_cleanup_errors=True) as folder:
        unpack = _unpack_archive if archive else _unpack_gzip
        try:
            log = unpack(path, Path(folder))
        except InputError:
            raise
        except (*_DAMAGE, ValueError) as error:
            raise InputError(
                "This is a compressed file, and it is damaged or incomplete.",
                kind="binary-file",
                where=path.name,
                do="Copy it again, or unpack it and read the log inside.",
            ) from error
        try:
            table = read(log)
        except InputError as error:
            error.where = _outer(error.where, log, path)
            raise
    findings = tuple(replace(f, where=_outer(f.where, log, path)) for f in table.findings)
    return replace(table, file=path.name, findings=findings)


def _outer(where: str, log: Path, path: Path) -> str:
    """The place as people know it: the packed file goes before the name of the log in it."""
    for inside in (str(log), log.name):
        if where.startswith(inside):
            return path.name + where.removeprefix(inside)
    return where


def _unpack_gzip(path: Path, folder: Path) -> Path:
    target = folder / (_plain_name(path.name.removesuffix(".gz")))
    with gzip.open(path, "rb") as source:
        _copy(source, target, path.name)
    return target


def _unpack_archive(path: Path, folder: Path) -> Path:
    with zipfile.ZipFile(path) as archive:
        members = [member for member in archive.infolist() if _counts(member)]
        logs = [member for member in members if not member.filename.lower().endswith(_DATABASE)]
        if len(logs) != 1:
            raise _not_one(logs, path.name)
        if any(member.flag_bits & 1 for member in members):
            raise InputError(
                "The archive is protected with a password.",
                kind="protected-file",
                where=path.name,
                do="Unpack it and read the log inside.",
            )
        for member in members:
            with archive.open(member) as source:
                _copy(source, folder / _plain_name(member.filename), path.name)
    return folder / _plain_name(logs[0].filename)


def _counts(member: zipfile.ZipInfo) -> bool:
    """Folders and what systems hide in archives are no logs."""
    parts = PurePosixPath(member.filename).parts
    hidden = not parts or parts[-1].startswith(".") or "__MACOSX" in parts
    return not (hidden or member.filename.endswith("/"))


def _plain_name(name: str) -> str:
    """The last part of a name, in signs that every system takes: an archive may name any path."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(sign if sign.isalnum() or sign in " .-_()" else "_" for sign in last)
    return kept.strip(". ")[-100:] or "log"


def _not_one(logs: list[zipfile.ZipInfo], where: str) -> InputError:
    if not logs:
        return InputError("The archive is empty.", kind="empty-file", where=where, do="Record the log again.")
    named = ", ".join(_plain_name(member.filename) for member in logs[:5])
    return InputError(
        f"The archive holds {len(logs)} files ({named}{', ...' if len(logs) > 5 else ''}).",
        kind="several-files",
        where=where,
        do="Unpack it and read the log inside.",
    )


def _copy(source: IO[bytes] | gzip.GzipFile, target: Path, where: str) -> None:
    """Unpack in pieces and stop at the limit, whatever size the file claims."""
    total = 0
    with target.open("wb") as sink:
        while piece := source.read(_CHUNK):
            total += len(piece)
            if total > MOST_BYTES:
                raise InputError(
                    f"The file unpacks to more than {MOST_BYTES >> 30} GB.",
                    kind="too-large",
                    where=where,
                    do=SMALLER,
                )
            sink.write(piece)
