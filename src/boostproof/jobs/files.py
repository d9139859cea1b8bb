"""Files by content: each kept once, byte for byte, under the hash of its bytes; and case folders made of them.

A file is on the disk before any row names it, and it is written whole or not at all.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, BinaryIO

from boostproof.errors import InputError
from boostproof.jobs.lock import sync_folder
from boostproof.jobs.trouble import explained

LEFT_BEHIND_AFTER = 3600.0  # s: an unfinished file this old was left by a program that ended
_LOOSE_AFTER = 30 * 86400.0  # s: bytes that no row names are out of the way this long before they go
_OLD_FOLDER_AFTER = 24 * 3600.0  # s: a case folder of earlier content that nobody asked for since
_LINKED_FROM = 64 * 1024  # bytes: smaller files are copied, so that an editor cannot reach the original
_CHUNK = 1 << 20


@dataclass(frozen=True)
class Blob:
    """Bytes that are kept: their sha256 (hexadecimal) and how many."""

    sha256: str
    size: int


@dataclass(frozen=True)
class Entry:
    """One file of a case: where it lies in the folder, and what is in it."""

    path: str
    sha256: str
    size: int


class Files:
    """The folders ``files`` and ``cases`` of a store."""

    def __init__(self, folder: Path) -> None:
        self._blobs = folder / "files"
        self._parts = folder / "files" / "parts"
        self._loose = folder / "files" / "loose"
        self._cases = folder / "cases"
        with explained(folder):
            self._parts.mkdir(parents=True, exist_ok=True)
            self._loose.mkdir(exist_ok=True)
            self._cases.mkdir(exist_ok=True)

    def path(self, sha256: str) -> Path:
        """Where the bytes of a hash lie."""
        return self._blobs / sha256[:2] / sha256

    def put(self, data: bytes | Path | BinaryIO) -> Blob:
        """Keep bytes, or the content of a file, by its path or open; on the disk when this returns.

        Raises
        ------
        InputError
            If the disk is full or cannot be written, or the file cannot be read.
        """
        with explained(self._blobs):
            return self._put(data)

    def _put(self, data: bytes | Path | BinaryIO) -> Blob:
        part = self._parts / uuid.uuid4().hex
        try:
            if isinstance(data, bytes):
                blob = Blob(hashlib.sha256(data).hexdigest(), len(data))
                if not self._is_there(blob):
                    _write(part, [data])
            else:
                digest, size = hashlib.sha256(), 0

                def chunks() -> Iterator[bytes]:
                    nonlocal size
                    for chunk in _chunks(data):
                        digest.update(chunk)
                        size += len(chunk)
                        yield chunk

                _write(part, chunks())
                blob = Blob(digest.hexdigest(), size)
            target = self.path(blob.sha256)
            if not self._is_there(blob):
                if not target.parent.is_dir():
                    target.parent.mkdir(exist_ok=True)
                    sync_folder(self._blobs)
                part.replace(target)
            sync_folder(target.parent)  # also where another program put it there a moment ago
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
        return blob

    def _is_there(self, blob: Blob) -> bool:
        try:
            return self.path(blob.sha256).stat().st_size == blob.size
        except FileNotFoundError:
            return False

    def has(self, sha256: str) -> bool:
        """These bytes are kept."""
        return self.path(sha256).is_file()

    def get(self, sha256: str, name: str) -> bytes:
        """The bytes of a hash, checked.

        Parameters
        ----------
        sha256 : of the bytes
        name : of the file, for the message

        Raises
        ------
        InputError
            If they are gone or no longer what they were.
        """
        path = self.path(sha256)
        try:
            with explained(path):
                data = path.read_bytes()
        except FileNotFoundError:
            raise _not_whole(name, "is gone", path) from None
        if hashlib.sha256(data).hexdigest() != sha256:
            raise _not_whole(name, "is no longer what came in", path)
        return data

    def sweep(self, named: Callable[[], set[str]], alone: Callable[[], contextlib.AbstractContextManager[object]]) -> int:
        """Move out of the way what no row names: bytes of a program that ended before its row.

        They are removed a month later. Were the list of jobs lost or an old one put back, the files would be
        more than it names, and must not go with it; what a row names again comes back.

        Parameters
        ----------
        named : every hash that a row names
        alone : while it is entered nobody adds a row

        Returns
        -------
        int
            How many files were moved.
        """
        count = 0
        with explained(self._blobs):
            known = named()
            loose = [path for path in self._blobs.glob("[0-9a-f][0-9a-f]/*") if path.name not in known]
            if known and loose:
                with alone():
                    known = named()
                    for path in loose:
                        if path.name not in known:
                            path.replace(self._loose / path.name)
                            os.utime(self._loose / path.name)
                            count += 1
            for path in self._loose.iterdir():
                if path.name in known:
                    self._come_back(path)
                else:
                    remove_if_older(path, _LOOSE_AFTER)
            for path in [*self._parts.iterdir(), *self._cases.glob("*/part-*")]:
                remove_if_older(path, LEFT_BEHIND_AFTER)
        return count

    def _come_back(self, path: Path) -> None:
        target = self.path(path.name)
        if not target.is_file():
            target.parent.mkdir(exist_ok=True)
            path.replace(target)
            sync_folder(target.parent)

    def case_folder(self, job: int, content: str, entries: Iterable[Entry]) -> Path:
        """A folder with exactly these files, made if need be. It does not change when the job does.

        Raises
        ------
        InputError
            If it cannot be made, or bytes are gone.
        """
        files = list(entries)
        home = self._cases / str(job)
        folder = home / content[:16]
        with explained(folder):
            if folder.is_dir():
                if _holds(folder, files):
                    os.utime(folder)
                    return folder
                folder.rename(home / f"{folder.name}-changed-{uuid.uuid4().hex[:8]}")
            home.mkdir(exist_ok=True)
            part = home / f"part-{uuid.uuid4().hex}"
            try:
                self.lay_out(part, files)
                part.rename(folder)
            except OSError:
                if not _holds(folder, files):  # else another program was quicker
                    raise
            finally:
                shutil.rmtree(part, ignore_errors=True)
            for old in home.iterdir():
                if len(old.name) == 16 and old != folder:
                    remove_if_older(old, _OLD_FOLDER_AFTER)
        return folder

    def copy_to(self, folder: Path, hashes: Iterable[str]) -> None:
        """Copy bytes into the same places of another store's folder.

        Raises
        ------
        InputError
            If bytes are gone.
        """
        there = Files(folder)
        for sha256 in hashes:
            source, target = self.path(sha256), there.path(sha256)
            if not source.is_file():
                raise _not_whole(sha256, "is gone", source)
            target.parent.mkdir(exist_ok=True)
            shutil.copy2(source, target)

    def lay_out(self, folder: Path, entries: Iterable[Entry], *, linked: bool = True) -> None:
        """Write files into an empty folder, made if need be.

        Raises
        ------
        InputError
            If bytes are gone.
        """
        folder.mkdir(exist_ok=True)
        for entry in entries:
            target = folder / entry.path
            target.parent.mkdir(parents=True, exist_ok=True)
            source = self.path(entry.sha256)
            if not source.is_file():
                raise _not_whole(entry.path, "is gone", source)
            if linked and entry.size >= _LINKED_FROM:
                with contextlib.suppress(OSError):
                    os.link(source, target)
                    continue
            shutil.copyfile(source, target)


def checked_path(path: str) -> str:
    """A path inside a case, as it is kept: relative, with forward slashes.

    Raises
    ------
    InputError
        If it is none.
    """
    parts = path.split("/")
    bad = not path or "\0" in path or PurePosixPath(path).is_absolute()
    bad = bad or any(part in ("", ".", "..") or len(part.encode("utf-8", "replace")) > 255 for part in parts)
    if os.name == "nt":
        bad = bad or any(sign in path for sign in '\\:*?"<>|')
    try:
        path.encode()
    except UnicodeEncodeError:
        bad = True
    if bad:
        raise InputError(
            "This file's name cannot be kept.",
            kind="bad-name", where=path.encode("utf-8", "backslashreplace").decode(),
            do="Rename the file: plain letters, digits and dots, no path that leads out of the case.",
        )  # fmt: skip
    return path


def sha256_of(data: bytes | Path | BinaryIO) -> str:
    """Hash (hexadecimal) of bytes, or of the content of a file (errors as `Files.put`)."""
    digest = hashlib.sha256()
    for chunk in [data] if isinstance(data, bytes) else _chunks(data):
        digest.update(chunk)
    return digest.hexdigest()


def _write(part: Path, chunks: Iterable[bytes]) -> None:
    with part.open("xb") as file:
        for chunk in chunks:
            file.write(chunk)
        file.flush()
        os.fsync(file.fileno())
    if os.name != "nt":  # there a read-only file cannot be removed either
        part.chmod(0o444)


def _chunks(source: Path | BinaryIO) -> Iterator[bytes]:
    if isinstance(source, Path):
        yield from _chunks_of_file(source)
        return
    source.seek(0)
    while chunk := source.read(_CHUNK):
        yield chunk


def _chunks_of_file(path: Path) -> Iterator[bytes]:
    try:
        file = path.open("rb")
    except OSError as error:
        raise cannot_read(error, path) from error
    with file:
        while chunk := _next(file, path):
            yield chunk


def _next(file: IO[bytes], path: Path) -> bytes:
    try:
        return file.read(_CHUNK)
    except OSError as error:
        raise cannot_read(error, path) from error


def cannot_read(error: OSError, path: Path) -> InputError:
    """What is said of a file or folder of somebody's that cannot be read."""
    return InputError(
        f"{path.name} cannot be read ({error.strerror or 'no access'}).",
        kind="cannot-read", where=str(error.filename or path), do="Check that you may read it.",
    )  # fmt: skip


def _holds(folder: Path, files: Iterable[Entry]) -> bool:
    wanted = {entry.path: entry.size for entry in files}
    found = {
        item.relative_to(folder).as_posix(): item.stat().st_size for item in folder.rglob("*") if not item.is_dir()
    }
    return found == wanted


def remove_if_older(path: Path, seconds: float) -> None:
    """Remove a file or folder that was not changed for so long."""
    try:
        if time.time() - path.stat().st_mtime < seconds:
            return
    except FileNotFoundError:
        return
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def _not_whole(name: str, what: str, path: Path) -> InputError:
    return InputError(
        f"The kept file {name} {what}.",
        kind="store-damaged", where=str(path),
        do="Put it in again, or restore it from a backup.",
    )  # fmt: skip
