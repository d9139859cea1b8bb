"""Jobs with their files, beside their answers and settings, in one folder: what is acknowledged is on the disk.

The folder holds ``jobs.sqlite``, ``files`` (every version of every file, by content), ``cases`` (case
folders for reading, made again at need) and ``tables`` (recordings as Parquet, made again at need). Pages keep
their ``parts`` there.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from sqlalchemy import Connection, insert, select, update

from boostproof.case_names import CAR
from boostproof.errors import InputError
from boostproof.jobs import rows
from boostproof.jobs import schema as s
from boostproof.jobs.after_repair import as_found
from boostproof.jobs.case_files import Brought, bring, hand_over, versions_of, whole, with_texts
from boostproof.jobs.database import NAME, Database
from boostproof.jobs.files import Blob, Entry, Files, checked_path
from boostproof.jobs.kept_answers import KeptAnswers
from boostproof.jobs.kinds import AS_FOUND
from boostproof.jobs.plain import content_of
from boostproof.jobs.records import STATES, Job, Noted, StoredFile
from boostproof.jobs.remembered import Remembered, remembered
from boostproof.jobs.settings import Settings
from boostproof.jobs.tables import sweep_tables, table_of
from boostproof.jobs.trouble import explained

Data = bytes | str | Path | BinaryIO  # text is kept as UTF-8; a path stands for its file, and an open file for all of it


class Store:
    """The shop's jobs. Any number of threads and programs may use one folder at a time.

    Attributes
    ----------
    root : its folder
    settings : of the shop, and of each job
    answers : of the jobs, kept
    kept : bytes of every version of every file
    database, memory : what the rest is kept in, and what was read of it
    """

    def __init__(self, folder: Path) -> None:
        self.root = folder
        with explained(folder):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self.kept = Files(folder)
        self.database = Database(folder)
        self.memory = Remembered(self.database.path)
        self.settings = Settings(self.database, self.memory)
        self.answers = KeptAnswers(self.database, self.memory, self.content)
        self.kept.sweep(self._named, self.database.writing)
        sweep_tables(folder / "tables")

    @classmethod
    def open(cls, folder: Path | None = None) -> Store:
        """Open a store, or start one.

        Parameters
        ----------
        folder : None for ``BOOSTPROOF_DATA`` where set, else the user's data folder

        Raises
        ------
        InputError
            If it cannot be written, is damaged, or was kept by a newer version.
        """
        if folder is None:
            from boostproof.workflows.column_memory import data_folder

            folder = data_folder()
        return cls(Path(folder))

    def close(self) -> None:
        """Let go of the database."""
        self.memory.close()
        self.database.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # Jobs

    def jobs(self, search: str = "", state: str | None = None) -> list[Job]:
        """Jobs, the one changed last first.

        Parameters
        ----------
        search : words that must all be found in name, car or complaint
        state : one of `STATES`, None for any
        """
        query = select(s.job).order_by(s.job.c.changed.desc(), s.job.c.id.desc())
        if state is not None:
            query = query.where(s.job.c.state == state)
        with self.database.reading() as connection:
            found = [rows.job_from(row) for row in connection.execute(query)]
        words = search.casefold().split()
        return [job for job in found if all(word in _searched(job) for word in words)]

    @remembered
    def job(self, id: int) -> Job:
        """One job.

        Raises
        ------
        InputError
            If there is none of this number.
        """
        with self.database.reading() as connection:
            return rows.job_of(connection, id)

    def new_job(self, car_toml: str, files: Mapping[str, bytes] | None = None) -> Job:
        """Start a job with a car.toml and perhaps more files, by their paths in the case."""
        sources: dict[str, bytes | Path] = {**(files or {}), CAR: car_toml.encode()}
        blobs = {checked_path(path): self.kept.put(data) for path, data in sources.items()}
        return self._new_job(Brought(blobs, (), car_toml, sources))

    def set_state(self, id: int, state: str) -> None:
        """Say how far a job is (one of `STATES`).

        Raises
        ------
        InputError
            If there is no such job or state.
        """
        if state not in STATES:
            raise InputError(
                f'There is no state "{state}".', kind="no-state", do=f"States are {', '.join(STATES)}."
            )
        with self.database.writing() as connection:
            if rows.job_of(connection, id).state != state:
                connection.execute(update(s.job).where(s.job.c.id == id).values(state=state))
                rows.note(connection, id, f"State: {state}")
                rows.touch(connection, id)

    # Files

    @remembered
    def files(self, id: int) -> list[StoredFile]:
        """The present files of a job, by path."""
        self.job(id)
        with self.database.reading() as connection:
            return rows.present(connection, id)

    def read(self, id: int, path: str, *, sha256: str | None = None) -> bytes:
        """Bytes of a file as it is now, or of the version with this hash.

        Raises
        ------
        InputError
            If the job holds no such file or version, or it is damaged.
        """
        found = next((file for file in self.files(id) if file.path == path and sha256 in (None, file.sha256)), None)
        if found is None and sha256 is not None:
            found = next((v for v in self.versions(id, path) if v.sha256 == sha256), None)
        if found is None:
            raise InputError(
                "This job holds no such file.", kind="no-file", where=path, do="Put it in, or check its name."
            )
        return self.kept.get(found.sha256, path)

    def text(self, id: int, path: str) -> str:
        """Text of a file, empty where there is none."""
        try:
            return self.read(id, path).decode("utf-8-sig", "replace")
        except InputError as error:
            if error.kind != "no-file":
                raise
            return ""

    @remembered
    def versions(self, id: int, path: str) -> list[StoredFile]:
        """Every version of a file that came in, the latest first, removed or refused ones too."""
        self.job(id)
        with self.database.reading() as connection:
            return [StoredFile(*row) for row in connection.execute(rows.versions(id, path))]

    def write(self, id: int, path: str, data: Data, *, expect: str | None = None) -> StoredFile:
        """Keep a file; the version before stays.

        Parameters
        ----------
        id : of the job
        path : in the case, with forward slashes
        data : text is kept as UTF-8; of a path or an open file all of its content, which may be large
        expect : sha256 of the version that was changed, "" where there was none; None to write over any

        Raises
        ------
        InputError
            Kind ``changed-elsewhere`` if another version is there than expected; what was to be written is
            kept among the `versions`, and the present file stays. Other kinds if it cannot be kept.
        """
        checked_path(path)
        blob = self.kept.put(data.encode() if isinstance(data, str) else data)
        with self.database.writing() as connection:
            rows.job_of(connection, id)
            there = rows.present_at(connection, id, path)
            if there is not None and there.sha256 == blob.sha256:
                return there
            rows.refuse_taken(connection, id, path)
            if expect is None or expect == ("" if there is None else there.sha256):
                kept = self._add(connection, id, path, blob, data)
                if there is None:
                    rows.note(connection, id, f"Came in: {path}")
                if path == CAR:
                    rows.name_job(connection, id, self.kept.get(blob.sha256, path).decode("utf-8-sig", "replace"))
                rows.touch(connection, id)
                return kept
            last = connection.execute(rows.versions(id, path).limit(1)).first()
            if last is None or last.sha256 != blob.sha256:  # a page that sends again adds nothing
                self._version(connection, id, path, blob, data)
        raise InputError(
            f"{path} was changed elsewhere since you opened it. Both versions are kept; theirs is the present one.",
            kind="changed-elsewhere", where=path, do="Look at theirs, and save yours again if it should stand.",
        )  # fmt: skip

    def remove(self, id: int, path: str) -> None:
        """Take a file out of the job; its versions stay.

        Raises
        ------
        InputError
            If the job holds no such file.
        """
        p = s.present
        with self.database.writing() as connection:
            rows.job_of(connection, id)
            done = connection.execute(p.delete().where(p.c.job == id, p.c.path == path))
            if not done.rowcount:
                raise InputError("This job holds no such file.", kind="no-file", where=path)
            rows.note(connection, id, f"Taken out: {path}")
            rows.touch(connection, id)

    def content(self, id: int, kind: str = "") -> str:
        """Hash over the paths and sha256 of the present files, or of those of them that a kind of answer rests on."""
        return content_of(as_found(self, id).files if kind in AS_FOUND else self.files(id))

    def keep_content(self, id: int, kind: str) -> str:
        """The same, kept with what it stands for, so that its folder can be made."""
        if kind not in AS_FOUND:
            with self.database.writing() as connection:
                return rows.remember_content(connection, id)
        found = as_found(self, id)
        blobs = {path: self.kept.put(text.encode()) for path, text in found.texts.items()}
        content = content_of(found.files)
        with self.database.writing() as connection:
            for path, blob in blobs.items():  # named as a version, it is not swept and goes out with the case
                if connection.execute(rows.versions(id, path).where(s.version.c.sha256 == blob.sha256)).first() is None:
                    self._version(connection, id, path, blob, found.texts[path])
            rows.add_content(connection, content, found.files)
        return content

    def folder(self, id: int, content: str | None = None) -> Path:
        """A case folder with exactly the present files, for reading only. It stays as it is when the job changes.

        Parameters
        ----------
        id : of the job
        content : of an earlier answer or task, for the files that it rests on; None for the present ones

        Raises
        ------
        InputError
            If there is no such job or content, or the folder cannot be made.
        """
        if content is not None:
            return self.kept.case_folder(id, content, self.manifest(content))
        files = self.files(id)
        return self.kept.case_folder(id, content_of(files), [Entry(f.path, f.sha256, f.size) for f in files])

    def table(self, id: int, path: str) -> Path:
        """Parquet of a recording's channels as read: ``time`` [s] and our channel names, SI.

        Raises
        ------
        InputError
            If the file is not there or is no log.
        """
        files = self.files(id)
        if all(f.path != path for f in files):
            self.read(id, path)
        with explained(self.root / "tables"):
            return table_of(self.root / "tables", self.folder(id), files, path)

    # Cases

    def import_case(self, folder: str | Path) -> Job:
        """Start a job with everything that lies in a folder, byte for byte.

        A job.json in it says what an earlier job held; it goes on from there.

        Raises
        ------
        InputError
            If it is no folder, or something in it cannot be read or kept, or its job.json is not one of ours; then
            no job is started.
        """
        return self._new_job(bring(Path(folder), self.kept))

    def export_case(self, id: int, folder: str | Path) -> None:
        """Write the present files into a folder that is new or empty: the same tree that was imported, and job.json
        with what the job holds beside them.

        Raises
        ------
        InputError
            If something lies there, or it cannot be written.
        """
        with self.database.reading() as connection:
            rows.job_of(connection, id)
            files = rows.present(connection, id)
            empty = connection.execute(select(s.empty_folder.c.path).where(s.empty_folder.c.job == id))
            folders = [str(path) for (path,) in empty]
            job = with_texts(rows.job_file(connection, id), files, self.kept)
        hand_over(self.kept, [Entry(f.path, f.sha256, f.size) for f in files], folders, job, Path(folder))

    def backup(self, folder: str | Path) -> None:
        """Copy everything into a folder that is new or empty, while others may go on working.

        Opened as a store, or put in the place of this one, it holds the same bytes.

        Raises
        ------
        InputError
            If something lies there, or it cannot be written.
        """
        to = Path(folder)
        with whole(to) as part:
            self.database.copy(part / NAME)
            self.kept.copy_to(part, sorted(self._named()))  # a file that was ever named is never taken away
            if (self.root / "columns").is_dir():
                shutil.copytree(self.root / "columns", part / "columns")

    # What was done

    def log(self, id: int, text: str) -> None:
        """Note what was done to a job."""
        with self.database.writing() as connection:
            rows.job_of(connection, id)
            rows.note(connection, id, text)

    @remembered
    def history(self, id: int) -> list[Noted]:
        """What was done to a job, in order."""
        self.job(id)
        with self.database.reading() as connection:
            return list(rows.history(connection, id))

    # Inside

    def manifest(self, content: str) -> list[Entry]:
        """The files that a content hash stands for.

        Raises
        ------
        InputError
            If it is not known.
        """
        with self.database.reading() as connection:
            return rows.manifest(connection, content)

    def _new_job(self, brought: Brought) -> Job:
        earlier = [] if brought.job is None else versions_of(brought.job, brought, self.kept)
        with self.database.writing() as connection:
            id = rows.add_job(connection)
            known = {}
            for path, blob, data, changed in earlier:
                known[path, blob.sha256] = self._version(connection, id, path, blob, data, changed)[0]
            for path, blob in sorted(brought.files.items()):
                rows.refuse_taken(connection, id, path)
                if (path, blob.sha256) in known:
                    rows.set_present(connection, id, path, known[path, blob.sha256])
                else:
                    self._add(connection, id, path, blob, brought.sources[path])
            for path in brought.empty_folders:
                connection.execute(insert(s.empty_folder).values(job=id, path=path))
            rows.name_job(connection, id, brought.car_toml)
            if brought.job is not None:
                rows.add_job_file(connection, id, brought.job)
            rows.note(connection, id, "Job opened" if brought.job is None else "Brought in with what was known of it")
            return rows.job_of(connection, id)

    def _add(self, connection: Connection, id: int, path: str, blob: Blob, data: Data) -> StoredFile:
        """A version that becomes the present one."""
        number, kept = self._version(connection, id, path, blob, data)
        rows.set_present(connection, id, path, number)
        return kept

    def _version(
        self, connection: Connection, id: int, path: str, blob: Blob, data: Data, changed: str = ""
    ) -> tuple[int, StoredFile]:
        if not self.kept.has(blob.sha256):  # swept by another program between its coming and this transaction
            self.kept.put(data.encode() if isinstance(data, str) else data)
        return rows.add_version(connection, id, path, blob, changed)

    def _named(self) -> set[str]:
        with self.database.reading() as connection:
            return rows.named_hashes(connection)


def _searched(job: Job) -> str:
    return f"{job.id} {job.name} {job.car} {job.complaint}".casefold()
