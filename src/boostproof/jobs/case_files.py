"""Whole case folders brought in and handed out again, without loss."""

from __future__ import annotations

import contextlib
import os
import shutil
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from boostproof.case_names import JOB
from boostproof.errors import InputError
from boostproof.jobs import job_file
from boostproof.jobs.files import Blob, Entry, Files, cannot_read, checked_path
from boostproof.jobs.job_file import JobFile
from boostproof.jobs.records import StoredFile


@dataclass(frozen=True)
class Brought:
    """What came in.

    Attributes
    ----------
    files, sources : bytes by path, and where they came from
    empty_folders : folders without a file in them
    car_toml : its text
    job : what an earlier job held beside its files, None where nothing tells
    """

    files: Mapping[str, Blob]
    empty_folders: tuple[str, ...]
    car_toml: str
    sources: Mapping[str, bytes | Path]
    job: JobFile | None = None


def bring(folder: Path, kept: Files) -> Brought:
    """Keep everything that lies in a folder, hidden and unknown files too; job.json is read and not kept as a file.

    Raises
    ------
    InputError
        If it is no folder, or something in it cannot be read or kept, or its job.json is not one of ours.
    """
    if not folder.is_dir():
        says = "This is a file; a case is a folder." if folder.exists() else "There is no such folder."
        raise InputError(says, kind="not-a-case", where=str(folder), do="Give the folder with car.toml in it.")
    sources: dict[str, bytes | Path] = {}
    empty: list[str] = []
    for here, folders, names in os.walk(folder, followlinks=True, onerror=_raise):
        place = Path(here)
        _refuse_round_trip(place, folder)
        if not folders and not names and place != folder:
            empty.append(checked_path(place.relative_to(folder).as_posix()))
        for name in names:
            path = place / name
            if not path.is_file():
                raise InputError(
                    f"{name} is no file that can be copied.",
                    kind="bad-file", where=str(path), do="Take it out of the folder.",
                )  # fmt: skip
            sources[checked_path(path.relative_to(folder).as_posix())] = path
    job = _job(sources.pop(JOB, None))
    blobs = {path: kept.put(source) for path, source in sources.items()}
    car = kept.get(blobs["car.toml"].sha256, "car.toml") if "car.toml" in blobs else b""
    return Brought(blobs, tuple(empty), car.decode("utf-8-sig", "replace"), sources, job)


def _job(path: bytes | Path | None) -> JobFile | None:
    if not isinstance(path, Path):
        return None
    try:
        if path.stat().st_size > job_file.LARGEST:
            raise InputError("This job.json is too large to be one.", kind="job-file", where=JOB, do="Take it out.")
        return job_file.read(path.read_bytes())
    except OSError as error:
        raise cannot_read(error, path) from error


def versions_of(job: JobFile, brought: Brought, kept: Files) -> list[tuple[str, Blob, bytes | Path, str]]:
    """Versions of which the bytes came along: path, bytes kept, where they came from, and when they came in then."""
    found: list[tuple[str, Blob, bytes | Path, str]] = []
    for one in job.versions:
        there = brought.files.get(one.path)
        if there is not None and there.sha256 == one.sha256:
            found.append((one.path, there, brought.sources[one.path], one.changed))
        elif one.text is not None:
            data = one.text.encode()
            found.append((one.path, kept.put(data), data, one.changed))
    return found


def with_texts(job: JobFile, present: Iterable[StoredFile], kept: Files) -> JobFile:
    """With the text of earlier versions that are short; the present files go out as they are."""
    there = {(file.path, file.sha256) for file in present}
    return replace(
        job,
        versions=tuple(
            v if (v.path, v.sha256) in there else replace(v, text=_short_text(kept, v.path, v.sha256))
            for v in job.versions
        ),
    )


def _short_text(kept: Files, path: str, sha256: str) -> str | None:
    if not kept.has(sha256) or kept.path(sha256).stat().st_size > job_file.LONGEST_TEXT:
        return None
    try:
        return kept.get(sha256, path).decode()
    except UnicodeDecodeError:
        return None


def hand_over(
    kept: Files, entries: Iterable[Entry], empty_folders: Iterable[str], job: JobFile, folder: Path
) -> None:
    """Write files and job.json into a folder that is new or empty, whole or not at all (errors as of `whole`)."""
    with whole(folder) as part:
        kept.lay_out(part, entries, linked=False)
        (part / JOB).write_bytes(job_file.written(job))
        for path in empty_folders:
            with contextlib.suppress(FileExistsError):  # meanwhile a file lies in it or in its place
                (part / path).mkdir(parents=True, exist_ok=True)


@contextlib.contextmanager
def whole(folder: Path) -> Iterator[Path]:
    """A folder to write into, which becomes ``folder`` at the end; nothing is left where anything is raised.

    Raises
    ------
    InputError
        If something lies there, or it cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(
            "Something lies there already; nothing was written.",
            kind="not-empty", where=str(folder), do="Name a folder that is new or empty.",
        )  # fmt: skip
    part = folder.parent / f".{folder.name}-{uuid.uuid4().hex[:8]}"
    try:
        part.mkdir(parents=True)
        yield part
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
    except OSError as error:
        raise InputError(
            f"This cannot be written here ({error.strerror or error}); nothing was left behind.",
            kind="cannot-write", where=str(folder), do="Make room or allow writing there, or name another folder.",
        ) from error  # fmt: skip
    finally:
        shutil.rmtree(part, ignore_errors=True)


def car_lines(car_toml: str) -> tuple[str, str]:
    """The car's name and its complaint in one line, as far as a car.toml that may be half written gives them."""
    from boostproof.casefolder.toml_file import toml_table

    data = toml_table(car_toml)
    if data is None:
        return _by_line(car_toml, "name"), ""
    about = data.get("car", {})
    if not isinstance(about, dict):
        return "", ""
    name, complaint = about.get("name", ""), about.get("complaint", "")
    if isinstance(complaint, list):
        complaint = "; ".join(str(line) for line in complaint)
    return str(name).strip(), str(complaint).strip()


def _by_line(text: str, key: str) -> str:
    """A plain text value of [car] where the file as a whole cannot be read."""
    section = ""
    for line in text.splitlines():
        line = line.strip()
        if line.startswith("["):
            section = line
        elif section == "[car]" and line.partition("=")[0].strip() == key:
            value = line.partition("=")[2].strip()
            return value[1:-1] if len(value) > 1 and value[0] == value[-1] == '"' else ""
    return ""


def _raise(error: OSError) -> None:
    raise cannot_read(error, Path(str(error.filename)))


def _refuse_round_trip(place: Path, folder: Path) -> None:
    """A link that leads back up would never end."""
    above = () if place == folder else place.relative_to(folder).parents
    if place.resolve() in {(folder / item).resolve() for item in above}:
        raise InputError(
            f"{place.name} is a link that leads back into its own folder.",
            kind="bad-file", where=str(place), do="Take the link out of the folder.",
        )  # fmt: skip
