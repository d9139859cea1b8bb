"""A case folder from what a person hands over: one zip file, or the files themselves."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import IO

from boostproof.case_names import CAR, JOB, PULLS, READINGS, RECORDINGS
from boostproof.errors import InputError

LARGEST = 2_000_000_000  # bytes unpacked
MOST_FILES = 2_000
_CHUNK = 1 << 20
_LONGEST_NAME = 255  # bytes, of most file systems


def unpack_case(files: Sequence[tuple[str, IO[bytes]]], place: Path, *, largest: int = LARGEST) -> Path:
    """Write a case folder from files or from one zip file.

    Parameters
    ----------
    files : name and content of each; a single zip file holds the folder
    place : an empty folder to write into
    largest : bytes that a zip file may unpack to

    Returns
    -------
    Path
        The folder that holds car.toml.

    Raises
    ------
    InputError
        If there is no car.toml, the zip file is damaged or too large, or a name leads out of the folder.
    """
    folder = place / "case"
    if len(files) == 1 and zipfile.is_zipfile(files[0][1]):
        files[0][1].seek(0)
        _from_zip(files[0][1], folder, largest)
    else:
        for name, content in files:
            path = folder / _place_of(name)
            if path.exists():
                raise InputError(
                    f"Two of these files are called {path.name}; one would take the other's place.", kind="same-name",
                    do="Pack the folder as a zip file, or rename one of them.",
                )  # fmt: skip
            _write(path, content, largest)
    if not (folder / CAR).is_file():
        raise InputError(
            f"There is no {CAR} among these files, so this is no case folder.", kind="not-a-case",
            do="Choose all files of the folder at once, or pack the folder as a zip file.",
        )  # fmt: skip
    return folder


def _place_of(name: str) -> PurePosixPath:
    """Where a file that comes without its folder belongs: logs stand under recordings."""
    base = PurePosixPath(name.replace("\\", "/")).name
    if not base or base.startswith(".") or "\0" in base or len(base.encode("utf-8", "replace")) > _LONGEST_NAME:
        raise InputError(f'"{name}" is no name of a file of a case.', kind="odd-name", do="Give it a plain name.")
    return PurePosixPath(base) if base in {CAR, READINGS, PULLS, JOB} else PurePosixPath(RECORDINGS, base)


def _from_zip(content: IO[bytes], folder: Path, largest: int) -> None:
    try:
        with zipfile.ZipFile(content) as archive:
            members = [one for one in archive.infolist() if not _left_behind(one.filename)]
            if len(members) > MOST_FILES or sum(one.file_size for one in members) > largest:
                raise _too_large()
            root = _root(members)
            left = largest
            for one in members:
                path = _safe(one.filename)
                if not path.is_relative_to(root):
                    continue
                if one.is_dir():
                    (folder / path.relative_to(root)).mkdir(parents=True, exist_ok=True)
                else:
                    with archive.open(one) as stream:
                        left -= _write(folder / path.relative_to(root), stream, left)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError, OSError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(
            "This zip file is damaged, or locked with a password.", kind="not-a-zip",
            do="Pack the folder again without a password.",
        ) from None  # fmt: skip


def _root(members: Sequence[zipfile.ZipInfo]) -> PurePosixPath:
    """The folder inside the zip file that holds car.toml, the outermost one."""
    cars = [_safe(one.filename) for one in members if PurePosixPath(one.filename).name == CAR]
    return min(cars, key=lambda path: len(path.parts)).parent if cars else PurePosixPath()


def _safe(name: str) -> PurePosixPath:
    path = PurePosixPath(name.replace("\\", "/"))
    if path.is_absolute() or ".." in path.parts or ":" in name or not path.parts:
        raise InputError(
            f'The zip file holds "{name}", which leads out of its folder.', kind="odd-name",
            do="Pack the case folder itself, nothing else.",
        )  # fmt: skip
    return path


def _left_behind(name: str) -> bool:
    """What desktops put beside files."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return any(part.startswith(".") and part != ".." for part in parts) or "__MACOSX" in parts


def _write(path: Path, content: IO[bytes], left: int) -> int:
    """Write at most so many bytes; what a zip file says of its size need not be so."""
    path.parent.mkdir(parents=True, exist_ok=True)
    written = 0
    with path.open("wb") as target:
        while chunk := content.read(_CHUNK):
            written += len(chunk)
            if written > left:
                raise _too_large()
            target.write(chunk)
    return written


def _too_large() -> InputError:
    return InputError(
        "This unpacks to more than a case may hold.", kind="too-large",
        do="Cut the recordings down to the pulls and pack it again.",
    )  # fmt: skip
