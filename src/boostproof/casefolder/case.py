"""A case folder: what is known of a car, its bench readings and its recordings, read and checked."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from boostproof.bench.readings import NO_READINGS, ReadingsFile
from boostproof.car.spec import CarSpec
from boostproof.case_names import CAR, NO_RECORDINGS, PULLS, READINGS, RECORDINGS
from boostproof.casefolder.checks import (
    check_car,
    check_pulls,
    check_recorded_tests,
    noted,
    question_readings,
    question_set_ups,
)
from boostproof.casefolder.files import read_car, read_pulls, read_readings
from boostproof.casefolder.left_out import NOTHING, LeftOut, left_out_of, names_in
from boostproof.casefolder.left_out_texts import car_without, empty, pulls_without, readings_without
from boostproof.casefolder.tables import TableReader, nearest
from boostproof.casefolder.toml_file import TomlFile, parse_toml, read_toml
from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.pull_numbers import NONE
from boostproof.recording.setup import NO_PULLS, PullsFile

_LEFT_BEHIND = {"thumbs.db", "desktop.ini"}  # by desktops
# Kinds of file that are a recording if they hold one; a .txt beside car.toml is more often a note.
_LOGS = {".csv", ".tsv", ".log", ".dat"}


@dataclass(frozen=True)
class Case:
    """One case folder, read.

    Attributes
    ----------
    path : the folder
    car : what is known of the car
    readings : bench readings, empty where there are none or they were left aside
    pulls : how the recordings were driven, empty where nothing is written
    recordings : log files, by name
    findings : doubtful things noticed while reading
    content_hash : sha256 (hexadecimal) over all that was read; the same content has the same hash
        wherever the folder lies
    left_out : what lies in the folder and was not read, and the pulls that do not count
    """

    path: Path
    car: CarSpec = field(repr=False)
    readings: ReadingsFile = field(repr=False)
    pulls: PullsFile = field(repr=False)
    recordings: tuple[Path, ...]
    findings: tuple[Finding, ...]
    content_hash: str
    left_out: LeftOut = NOTHING


def read_case(path: str | Path, *, with_readings: bool = True, without: Sequence[str] = ()) -> Case:
    """Read a case folder.

    Parameters
    ----------
    path : folder with car.toml, and perhaps readings.toml, pulls.toml and recordings/
    with_readings : False leaves readings.toml aside, unread
    without : recordings, pulls (``log.csv#3-5``) and readings (``seat-leak#2``) to leave out: what was made after a
        repair; the case is then the one that it was without them

    Raises
    ------
    InputError
        If the folder or a file in it cannot be used: which, on which line, and what to do.
    UnsupportedCarError
        If the car is out of scope (diesel, variable geometry, staged or electric turbos, supercharger).
    """
    folder = Path(path)
    car_file = read_toml(_car_path(folder), instead="Run boostproof new DIR and fill in its car.toml.")
    readings_file, pulls_file = (
        read_toml(folder / name, instead=instead) if wanted and (folder / name).exists() else None
        for name, instead, wanted in (
            (READINGS, _NO_READING, with_readings or bool(without)), (PULLS, _NO_RECORDING, True)
        )
    )  # fmt: skip
    left_out = _left_out(folder, without, readings_file, pulls_file)
    if left_out:
        car_file = _trimmed(car_file, car_without, left_out) or car_file
        readings_file = None if readings_file is None else _trimmed(readings_file, readings_without, left_out)
        if pulls_file is not None or left_out.pulls:
            pulls_file = _trimmed(pulls_file or TomlFile(PULLS, {}, {}, b""), pulls_without, left_out)
    if not with_readings:
        readings_file = None
    found = read_car(car_file)
    car, reader = found.car, found.reader
    if not reader.problems:
        check_car(car, reader)
    _check_files(reader, folder)
    reader.finish()
    findings = [*noted(car, car_file)]

    readings = NO_READINGS
    if readings_file is not None:
        readings, reader = read_readings(readings_file)
        _check_files(reader, folder)
        reader.finish()
        findings += question_readings(readings, readings_file)

    pulls, pulls_reader = NO_PULLS, None
    if pulls_file is not None:
        pulls, pulls_reader = read_pulls(pulls_file)
        _check_files(pulls_reader, folder)
        if not pulls_reader.problems:
            check_pulls(pulls, pulls_reader)
            findings += noted(pulls, pulls_file)
            findings += question_set_ups(car, pulls, pulls_file)
    findings += check_recorded_tests(readings, readings_file, pulls, pulls_reader)
    if pulls_reader is not None:
        pulls_reader.finish()

    recordings = tuple(
        path for path in _recordings(folder, pulls)
        if not left_out or path.relative_to(folder).as_posix() not in left_out.recordings
    )  # fmt: skip
    left_out = replace(left_out, pulls=tuple((p.file, p.after_repair) for p in pulls.recording if p.after_repair))
    findings += _left_aside(folder, car)
    files = [file for file in (car_file, readings_file, pulls_file) if file is not None]
    maps = [folder / name for name in (car.turbo.compressor_map, car.turbo.turbine_map) if name]
    content = _content_hash(folder, files, [*recordings, *maps])
    return Case(folder, car, readings, pulls, recordings, tuple(findings), content, left_out)


_NO_READING, _NO_RECORDING = "Write a [[reading]], or delete it.", "Write a [[recording]], or delete it."


def _left_out(
    folder: Path, without: Sequence[str], readings_file: TomlFile | None, pulls_file: TomlFile | None
) -> LeftOut:
    """What names mean in a folder, with the files that hold the same pulls as a recording that is left out, and with the
    pulls that pulls.toml leaves out of the others."""
    if not without:
        return NOTHING
    there = [path.relative_to(folder).as_posix() for path in _recordings(folder, NO_PULLS)]
    rows = [] if readings_file is None else readings_file.data.get("reading", [])
    left_out = left_out_of(without, there, names_in([row for row in rows if isinstance(row, dict)]))
    entries = [] if pulls_file is None else pulls_file.data.get("recording", [])
    joined = {
        name: str(entry.get("file")) for entry in entries if isinstance(entry, dict)
        for name in _listed(entry.get("joined_with")) if name in there
    }  # fmt: skip
    for path, numbers in left_out.pulls:
        if path in joined:
            raise InputError(
                f"{path} is read together with {joined[path]}, and has no pulls of its own.", kind="no-pull", where=path,
                do=f"Name them as {joined[path]}#{numbers}.",
            )  # fmt: skip
    beside = [name for name, first in joined.items() if first in left_out.recordings]
    said = {} if pulls_file is None else {p.file: p.after_repair for p in read_pulls(pulls_file)[0].recording}
    return LeftOut(
        tuple(dict.fromkeys((*left_out.recordings, *beside))), left_out.readings,
        tuple((path, numbers | (said.get(path) or NONE)) for path, numbers in left_out.pulls),
    )  # fmt: skip


def _listed(value: object) -> list[str]:
    return [str(item) for item in (value if isinstance(value, list) else [value])]


def _trimmed(file: TomlFile, change: Callable[[str, LeftOut], str], left_out: LeftOut) -> TomlFile | None:
    """A file without what is left out; None where nothing is left of it."""
    text = file.raw.decode("utf-8-sig")
    new = change(text, left_out)
    if new == text:
        return file
    return None if empty(new) else parse_toml(new.encode(), file.name, instead="")


def _car_path(folder: Path) -> Path:
    new = "Run boostproof new DIR to make one."
    if folder.is_file():
        raise InputError(
            f"{folder.name} is a file; a case is a folder with car.toml in it.",
            kind="not-a-case",
            where=str(folder),
            do="Give the folder instead." if folder.name == CAR else new,
        )
    if not folder.is_dir():
        raise InputError("There is no such folder.", kind="not-a-case", where=str(folder), do=new)
    path = folder / CAR
    if not path.exists():
        others = sorted(item.name for item in folder.iterdir() if item.suffix == ".toml")
        hint = nearest(CAR, others)
        raise InputError(
            "There is no car.toml in this folder.", kind="no-car", where=str(folder), do=(hint + new).strip()
        )
    return path


def _check_files(reader: TableReader, folder: Path) -> None:
    """Every file that is named must be there."""
    for path, label, name in reader.files:
        if _is_file(folder / name):
            continue
        there = sorted(item.relative_to(folder).as_posix() for item in _files(folder / RECORDINGS))
        same_name = [item for item in there if Path(item).name == Path(name).name]
        hint = f'Did you mean "{same_name[0]}"? ' if same_name else nearest(name, there)
        says = f'{label}: there is no file "{name}" in the case folder.'
        do = f"{hint}Paths are relative to the case folder, as in {RECORDINGS}/log.csv."
        reader.problem(path, says, do, kind="no-file")


def _left_aside(folder: Path, car: CarSpec) -> Iterable[Finding]:
    """Findings for what lies in the folder under another name and is therefore not read."""
    expected = {READINGS: "file", PULLS: "file", RECORDINGS: "folder"}
    used = {CAR, *expected, *(name for name in (car.turbo.compressor_map, car.turbo.turbine_map) if name)}
    absent = [name for name in expected if not (folder / name).exists()]
    try:
        items = sorted(folder.iterdir())
    except OSError:  # may be entered and not listed: what is named was read
        items = []
    for item in items:
        kind = "folder" if item.is_dir() else "file"
        if item.name in used or item.name.startswith((".", "~$")):
            continue
        meant = [name for name in absent if expected[name] == kind and _nearly(item.name, name)]
        if meant:
            says = f"The {kind} {item.name} is not read: its name in a case is {meant[0]}."
            yield Finding("left-aside", item.name, says, f"Rename it to {meant[0]} if that is what it is.")
        elif kind == "file" and item.suffix.casefold() in _LOGS:
            says = f"{item.name} lies beside {CAR} and is not read."
            yield Finding("left-aside", item.name, says, f"Move it into {RECORDINGS}/ if it is a recording.")


def _nearly(name: str, expected: str) -> bool:
    return bool(difflib.get_close_matches(name.casefold(), [expected], n=1, cutoff=0.8))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file can have: too long, or with a null in it
        return False


def _files(folder: Path) -> list[Path]:
    """Files of a folder and the folders in it that a person put there."""
    if not folder.is_dir():
        return []
    found: list[Path] = []
    for item in sorted(folder.rglob("*")):
        parts = item.relative_to(folder).parts
        hidden = any(part.startswith((".", "~$")) for part in parts) or item.name.casefold() in _LEFT_BEHIND
        if item.is_file() and not hidden:
            found.append(item)
    return found


def _recordings(folder: Path, pulls: PullsFile) -> tuple[Path, ...]:
    found = [item for item in _files(folder / RECORDINGS) if item.suffix.casefold() not in NO_RECORDINGS]
    named: Iterable[str] = (
        name for item in pulls.recording for name in (item.file, *(item.joined_with or ()))
    )
    for name in named:
        if folder / name not in found:
            found.append(folder / name)
    return tuple(sorted(found, key=lambda item: item.relative_to(folder).as_posix()))


def _content_hash(folder: Path, files: Iterable[TomlFile], others: Iterable[Path]) -> str:
    parts = [(file.name, hashlib.sha256(file.raw).hexdigest()) for file in files]
    for path in others:
        try:
            with path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
        except OSError as error:
            raise InputError(
                f"{path.name} cannot be read ({error.strerror or 'no access'}).",
                kind="cannot-read",
                where=str(path),
                do="Check that you may read it.",
            ) from None
        parts.append((path.relative_to(folder).as_posix(), digest))
    total = hashlib.sha256()
    for name, digest in sorted(parts):
        total.update(f"{name}\0{digest}\n".encode())
    return total.hexdigest()
