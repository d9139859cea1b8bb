"""The recordings of a job: how each was read is kept with the job, and read again when what it rests on has changed.

A file that is no log is set aside: it stays with the job, byte for byte, and no longer stands in the way of the rest.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, BinaryIO

from boostproof.case_names import ASIDE, PULLS, READINGS, RECORDINGS, is_recording, is_set_aside
from boostproof.errors import InputError
from boostproof.jobs.files import sha256_of
from boostproof.jobs.records import UNDER_WAY, KeptAnswer, StoredFile, Task
from boostproof.jobs.tables import keep_table, meanwhile
from boostproof.jobs.worker import said_of, within_case

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.recording.model import Recording

AT_ONCE = 32e6  # bytes that a request reads while somebody waits for it
ON_SIGHT = 4e6  # the same for a page that was only opened
_DRAWN_FIRST = ("boost", "manifold_pressure", "engine_speed")  # of a recording that was just read, while somebody waits
_ANSWERABLE = ("no-engine-speed",)  # the file is a log, and a person can say what is missing


@dataclass(frozen=True)
class Looked:
    """One recording and what is known of it.

    Attributes
    ----------
    file : as it lies in the job
    answer : of `boostproof.workflows.recording_look.look`, None where it was not read yet or could not be
    fresh : the answer rests on the files as they are now
    error : kind, where, says and do of why it could not be read, None otherwise
    headers : of its columns, where it could not be read and yet has some
    task : that reads it, None when none is under way
    """

    file: StoredFile
    answer: dict[str, Any] | None
    fresh: bool
    error: dict[str, str] | None = None
    headers: tuple[str, ...] = ()
    task: Task | None = None

    @property
    def name(self) -> str:
        """The name of its file."""
        return PurePosixPath(self.file.path).name


class Recordings:
    """Recordings of jobs in a store; what takes long is left to the work."""

    def __init__(self, store: Store, work: Work) -> None:
        self._store, self._work = store, work

    def all(self, job_id: int) -> list[Looked]:
        """Every recording of a job by path; what is not read yet is read here if it is small, else by the work."""
        files = self._store.files(job_id)
        tasks = [task for task in self._work.tasks(job_id) if task.kind == "inspect"]
        budget, found = ON_SIGHT, []
        for file in files:
            if not is_recording(file.path):
                continue
            looked = self._looked(job_id, file, files, tasks)
            if not looked.fresh and looked.task is None:
                if file.size <= budget:
                    budget -= file.size
                    looked = self._of(file, self.look(job_id, file.path), fresh=True)
                elif looked.error is None:
                    task = self._work.start(job_id, "inspect", {"path": file.path})
                    looked = Looked(file, looked.answer, False, task=task)
            found.append(looked)
        return found

    def aside(self, job_id: int) -> list[Looked]:
        """Files that were set aside, each with why."""
        found = []
        for file in self._store.files(job_id):
            if is_set_aside(file.path):
                kept = self._kept(job_id, f"{RECORDINGS}/{file.path.removeprefix(f'{ASIDE}/')}")
                looked = self._of(file, kept, fresh=True) if kept is not None else Looked(file, None, True)
                found.append(looked)
        return found

    def add(self, job_id: int, name: str, data: bytes | Path | BinaryIO) -> str:
        """Keep a file that was dropped, under a name of its own; its path. The same bytes again are the same file."""
        plain = PurePosixPath(name.replace("\\", "/")).name.strip() or "log"
        taken = {file.path: file for file in self._store.files(job_id)}
        stem, dot, ending = plain.rpartition(".")
        if not stem:
            stem, dot, ending = plain, "", ""
        number, path = 1, f"{RECORDINGS}/{plain}"
        sha256 = sha256_of(data) if path in taken else ""
        while path in taken and taken[path].sha256 != sha256:
            number += 1
            path = f"{RECORDINGS}/{stem}-{number}{dot}{ending}"
        return self._store.write(job_id, path, data).path

    def look_or_start(self, job_id: int, paths: Sequence[str]) -> None:
        """Read files now as far as a person can be let wait, and the rest by the work."""
        sizes = {file.path: file.size for file in self._store.files(job_id)}
        left = AT_ONCE
        for path in paths:
            if not is_recording(path):
                continue
            left -= sizes[path]
            if left < 0:
                self._work.start(job_id, "inspect", {"path": path})
                continue
            self.look(job_id, path)

    def look(self, job_id: int, path: str) -> KeptAnswer:
        """Read a recording and keep what came of it; a failure too."""
        from boostproof.workflows.recording_look import FORMAT, headers_of, look
        from boostproof.workflows.recording_window import CHANNELS

        content, folder = self._store.content(job_id), self._store.folder(job_id)
        files, tables = self._store.files(job_id), self._store.root / "tables"
        answer: dict[str, Any]

        def keep_read(recording: Recording) -> None:
            table = keep_table(tables, folder, files, path, recording)
            drawn = {name: recording.channels[name].values for name in _DRAWN_FIRST if name in recording.channels}
            CHANNELS.hold(table, drawn | {"time": recording.time})

        try:
            with meanwhile(keep_read) as keep:
                answer = look(folder, path, keep=keep)
        except Exception as error:
            said = within_case(said_of(error), folder)
            answer = {"format": FORMAT, "error": said, "headers": list(headers_of(folder / path))}
        return self._store.answers.keep(job_id, "inspect", answer, {"path": path}, content)

    def set_aside_unread(self, job_id: int, paths: Iterable[str]) -> list[Looked]:
        """Set aside those of the files that are no log; what was wrong with each."""
        wrong = []
        present = {file.path for file in self._store.files(job_id)}
        for path in paths:
            kept = self._kept(job_id, path)
            if path in present and kept is not None and (error := kept.answer.get("error")):
                if error["kind"] not in ("internal", "memory"):
                    self.set_aside(job_id, path)
                file = StoredFile(path, "", 0, kept.made)
                wrong.append(Looked(file, None, True, error, tuple(kept.answer.get("headers", ()))))
        return wrong

    def set_aside(self, job_id: int, path: str) -> str:
        """Put a recording where nothing reads it; its new path."""
        return self._moved(job_id, path, RECORDINGS, ASIDE)

    def take_back(self, job_id: int, path: str) -> str:
        """Put a file back among the recordings; its new path."""
        return self._moved(job_id, path, ASIDE, RECORDINGS)

    def remove(self, job_id: int, path: str) -> None:
        """Take a recording out of the job with what pulls.toml says of it; older versions stay."""
        self._forget(job_id, path)
        self._store.remove(job_id, path)

    def edit(self, job_id: int, change: Callable[[str], str], *, expect: str | None = None) -> None:
        """Change pulls.toml.

        Parameters
        ----------
        job_id : of the job
        change : from its text to the new one
        expect : sha256 of the text that a person saw ("" where there was none); None to change whatever is there

        Raises
        ------
        InputError
            As `Store.write`, and what ``change`` raises.
        """
        for last in (False, False, True):
            there = next((file.sha256 for file in self._store.files(job_id) if file.path == PULLS), "")
            new = change(self._store.text(job_id, PULLS))
            try:
                self._store.write(job_id, PULLS, new, expect=there if expect is None else expect)
            except InputError as error:  # somebody else wrote in between: change theirs
                if last or expect is not None or error.kind != "changed-elsewhere":
                    raise
            else:
                return

    def _moved(self, job_id: int, path: str, old: str, new: str) -> str:
        if not path.startswith(f"{old}/"):
            raise InputError("This file does not lie there.", kind="no-file", where=path)
        to = f"{new}/{path.removeprefix(f'{old}/')}"
        self._store.write(job_id, to, self._store.read(job_id, path))
        self.remove(job_id, path)
        return to

    def _forget(self, job_id: int, path: str) -> None:
        from boostproof.casefolder.edit_pulls import without_recording

        if path in self._store.text(job_id, PULLS):
            self.edit(job_id, lambda text: without_recording(text, path))

    # What is known

    def _looked(
        self, job_id: int, file: StoredFile, files: Sequence[StoredFile], tasks: Sequence[Task]
    ) -> Looked:
        mine = [task for task in tasks if task.choices == {"path": file.path}]
        under_way = next((task for task in mine if task.state in UNDER_WAY), None)
        kept = self._kept(job_id, file.path)
        fresh = kept is not None and (
            kept.content == self._store.content(job_id)
            or self._rests(job_id, kept.content, file.path) == _rests_on(self._store, job_id, files, file.path)
        )
        if kept is not None and fresh:
            return self._of(file, kept, fresh=True)
        old = None if kept is None else self._of(file, kept, fresh=False)
        if under_way is None and mine and mine[0].state == "failed" and mine[0].content == self._store.content(job_id):
            return Looked(file, None, False, mine[0].error)
        if under_way is None and mine and mine[0].state == "stopped" and mine[0].content == self._store.content(job_id):
            return Looked(file, None, False, {"kind": "stopped", "where": "", "says": "", "do": ""})
        return Looked(file, None if old is None else old.answer, False, task=under_way)

    def _kept(self, job_id: int, path: str) -> KeptAnswer | None:
        from boostproof.workflows.recording_look import FORMAT

        kept = self._store.answers.latest(job_id, "inspect", {"path": path}, current=False)
        return kept if kept is not None and kept.answer.get("format") == FORMAT else None

    def _of(self, file: StoredFile, kept: KeptAnswer, *, fresh: bool) -> Looked:
        error = kept.answer.get("error")
        if error is None:
            return Looked(file, kept.answer, fresh)
        return Looked(file, None, fresh, error, tuple(kept.answer.get("headers", ())))

    def _rests(self, job_id: int, content: str, path: str) -> object:
        files = [StoredFile(e.path, e.sha256, e.size, "") for e in self._store.manifest(content)]
        return _rests_on(self._store, job_id, files, path)


def _rests_on(store: Store, job_id: int, files: Iterable[StoredFile], path: str) -> object:
    """What decides how a recording is read: itself, the car, maps, and what pulls.toml says of it."""
    parts: list[tuple[str, str]] = []
    said = repr([])
    for file in files:
        if file.path == PULLS:
            said = _said_of(store.read(job_id, PULLS, sha256=file.sha256), path)
        elif file.path == path or (not is_recording(file.path) and not is_set_aside(file.path)):
            parts.append((file.path, file.sha256))
    others = [(f.path, f.sha256) for f in files if is_recording(f.path)] if "joined_with" in said else []
    return sorted(p for p in parts if p[0] != READINGS), said, others


@lru_cache(maxsize=256)
def _said_of(text: bytes, path: str) -> str:
    try:
        entries = tomllib.loads(text.decode("utf-8-sig")).get("recording", [])
        return repr([entry for entry in entries if entry.get("file") == path])
    except (ValueError, AttributeError):
        return repr(text)


def answerable(error: dict[str, str]) -> bool:
    """Whether a person can say what is missing for the file to be read."""
    return error["kind"] in _ANSWERABLE
