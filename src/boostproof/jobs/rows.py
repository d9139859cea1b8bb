"""Rows of the store, read and written inside a transaction that somebody else opened."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, Row, Select, Table, and_, func, insert, or_, select, update

from boostproof.case_names import JOB
from boostproof.errors import InputError
from boostproof.jobs import schema as s
from boostproof.jobs.case_files import car_lines
from boostproof.jobs.files import Blob, Entry
from boostproof.jobs.job_file import JobFile, Version, renumbered
from boostproof.jobs.plain import content_of, packed, versions_of
from boostproof.jobs.records import STATES, Job, KeptAnswer, Noted, StoredFile, now

_LARGEST = 2**63 - 1  # number of a row (sqlite.org/autoinc.html)


def new_id(done: Any) -> int:
    """Number of the row that was put in."""
    return int(done.inserted_primary_key[0])


def numbered(connection: Connection, table: Table, id: int) -> Row[Any] | None:
    """The row of a number; a number that no row can have has none."""
    return connection.execute(select(table).where(table.c.id == id)).first() if abs(id) <= _LARGEST else None


# Jobs


def job_of(connection: Connection, id: int) -> Job:
    """One job.

    Raises
    ------
    InputError
        If there is none of this number.
    """
    row = numbered(connection, s.job, id)
    if row is None:
        raise InputError(
            f"There is no job {id}.", kind="no-job", where=f"job {id}", do="Look for it among the jobs."
        )
    return job_from(row)


def job_from(row: Row[Any]) -> Job:
    """A job from its row."""
    return Job(**row._mapping)


def add_job(connection: Connection) -> int:
    """A job without name or files; its number."""
    moment = now()
    values = {"name": "", "car": "", "complaint": "", "state": STATES[0], "created": moment, "changed": moment}
    return new_id(connection.execute(insert(s.job).values(values)))


def name_job(connection: Connection, id: int, car_toml: str) -> None:
    """Name a job and say its complaint as its car.toml does."""
    car, complaint = car_lines(car_toml)
    values = {"name": car or f"Job {id}", "car": car, "complaint": complaint}
    connection.execute(update(s.job).where(s.job.c.id == id).values(values))


def touch(connection: Connection, id: int) -> None:
    """The job was changed now."""
    connection.execute(update(s.job).where(s.job.c.id == id).values(changed=now()))


def note(connection: Connection, id: int, text: str) -> None:
    """Note what was done to a job."""
    connection.execute(insert(s.log).values(job=id, at=now(), says=text))


# What was sent


def done_before(connection: Connection, key: str) -> str | None:
    """Where what was sent under a key led to; None if it was never carried out."""
    found: str | None = connection.execute(select(s.sent.c.address).where(s.sent.c.key == key)).scalar()
    return found


def remember_sent(connection: Connection, key: str, address: str) -> None:
    """What was sent under a key is carried out."""
    connection.execute(insert(s.sent).values(key=key, address=address, at=now()))


# Files


def present(connection: Connection, id: int, path: str | None = None) -> list[StoredFile]:
    """The present files of a job by path, or of one path."""
    v, p = s.version.c, s.present.c
    query = select(v.path, v.sha256, v.size, v.changed).join(s.present, p.version == v.id).where(p.job == id)
    if path is not None:
        query = query.where(p.path == path)
    return [StoredFile(*row) for row in connection.execute(query.order_by(v.path))]


def present_at(connection: Connection, id: int, path: str) -> StoredFile | None:
    """The present file at a path."""
    return next(iter(present(connection, id, path)), None)


def versions(id: int, path: str) -> Select[Any]:
    """Query of every version of a file, the latest first, with the columns of a `StoredFile`."""
    v = s.version.c
    query = select(v.path, v.sha256, v.size, v.changed).where(v.job == id, v.path == path)
    return query.order_by(v.id.desc())


def add_version(
    connection: Connection, id: int, path: str, blob: Blob, changed: str = ""
) -> tuple[int, StoredFile]:
    """A version that came in now, or then, without making it the present one; its number too."""
    kept = StoredFile(path, blob.sha256, blob.size, changed or now())
    return new_id(connection.execute(insert(s.version).values(job=id, **vars(kept)))), kept


def set_present(connection: Connection, id: int, path: str, version: int) -> None:
    """Make a version the present one."""
    connection.execute(s.present.delete().where(s.present.c.job == id, s.present.c.path == path))
    connection.execute(insert(s.present).values(job=id, path=path, version=version))


def refuse_taken(connection: Connection, id: int, path: str) -> None:
    """A file cannot lie where a folder is, nor the other way round, nor where job.json goes.

    Raises
    ------
    InputError
        If it would.
    """
    if path.split("/")[0] == JOB:
        raise InputError(
            f"{JOB} in a case is what its job holds beside its files.", kind="bad-name", where=path,
            do="Choose another name.",
        )  # fmt: skip
    for other in connection.execute(select(s.present.c.path).where(s.present.c.job == id)).scalars():
        if other.startswith(f"{path}/") or path.startswith(f"{other}/"):
            raise InputError(
                f"{path} and {other} cannot both be in one case: one would be a file and a folder.",
                kind="bad-name", where=path, do="Choose another name.",
            )  # fmt: skip


def named_hashes(connection: Connection) -> set[str]:
    """Every hash of bytes that a row names."""
    return set(connection.execute(select(func.distinct(s.version.c.sha256))).scalars())


# Content and answers


def remember_content(connection: Connection, id: int) -> str:
    """Keep what the present content of a job stands for; its hash."""
    files = present(connection, id)
    content = content_of(files)
    add_content(connection, content, files)
    return content


def add_content(connection: Connection, content: str, files: Iterable[StoredFile | Entry]) -> None:
    """Keep what a content hash stands for."""
    if connection.execute(select(s.content.c.content).where(s.content.c.content == content)).first() is None:
        listed = packed([[f.path, f.sha256, f.size] for f in files])
        connection.execute(insert(s.content).values(content=content, files=listed))


def manifest(connection: Connection, content: str) -> list[Entry]:
    """The files that a content hash stands for.

    Raises
    ------
    InputError
        If it is not known.
    """
    row = connection.execute(select(s.content.c.files).where(s.content.c.content == content)).first()
    if row is None:
        raise InputError("These files are not known any more.", kind="no-content", do="Work it out again.")
    return [Entry(*item) for item in json.loads(row[0])]


def add_answer(
    connection: Connection, id: int, kind: str, answer: Mapping[str, Any], choices: Mapping[str, Any], content: str
) -> KeptAnswer:
    """Keep an answer; parameters as of `boostproof.jobs.kept_answers.KeptAnswers.keep`."""
    seed = int(answer.get("seed", choices.get("seed", 1)))
    kept = KeptAnswer(0, id, kind, dict(choices), content, dict(answer), seed, versions_of(answer), now())
    done = connection.execute(
        insert(s.answer).values(
            job=id, kind=kind, choices=packed(kept.choices), content=content, answer=packed(kept.answer),
            seed=kept.seed, versions=packed(kept.versions), made=kept.made,
        )
    )  # fmt: skip
    return KeptAnswer(**{**vars(kept), "id": new_id(done)})


def answer_from(row: Row[Any]) -> KeptAnswer:
    """A kept answer from its row."""
    from pydantic_core import from_json  # in a third of the time: an answer may hold 200 kB

    read = {name: from_json(row._mapping[name]) for name in ("choices", "answer", "versions")}
    return KeptAnswer(**{**row._mapping, **read})


# Settings and what was done


def history(connection: Connection, id: int) -> tuple[Noted, ...]:
    """What was done to a job, in order."""
    query = select(s.log.c.at, s.log.c.says).where(s.log.c.job == id).order_by(s.log.c.id)
    return tuple(Noted(*row) for row in connection.execute(query))


def setting(connection: Connection, key: str) -> Any:
    """A setting of the shop, None where there is none."""
    row = connection.execute(select(s.setting.c.value).where(s.setting.c.key == key)).first()
    return None if row is None else json.loads(row[0])


def settings_of(connection: Connection, id: int | None) -> dict[str, Any]:
    """All settings of a job by their names there, or all of the shop."""
    key = s.setting.c.key
    start, after = ("job.", "job/") if id is None else (job_key(id, ""), f"job.{id}/")  # "/" comes right after "."
    mine = or_(key < start, key >= after) if id is None else and_(key >= start, key < after)
    found = connection.execute(select(s.setting).where(mine))
    return {row.key if id is None else row.key[len(start):]: json.loads(row.value) for row in found}


def set_setting(connection: Connection, key: str, value: Any) -> None:
    """Keep a setting."""
    connection.execute(s.setting.delete().where(s.setting.c.key == key))
    connection.execute(insert(s.setting).values(key=key, value=packed(value)))


def job_key(id: int, name: str) -> str:
    """The key of what one page of a job keeps."""
    return f"job.{id}.{name}"


# A job as a file


def job_file(connection: Connection, id: int) -> JobFile:
    """What a job holds beside its present files; texts of earlier versions are not in it yet."""
    job, a, v = job_of(connection, id), s.answer.c, s.version.c
    versions = select(v.path, v.sha256, v.changed).where(v.job == id).order_by(v.id)
    answers = tuple(answer_from(row) for row in connection.execute(select(s.answer).where(a.job == id).order_by(a.id)))
    return JobFile(
        state=job.state, created=job.created,
        versions=tuple(Version(*row, text=None) for row in connection.execute(versions)),
        history=history(connection, id),
        settings=settings_of(connection, id),
        contents={content: tuple(manifest(connection, content)) for content in {kept.content for kept in answers}},
        answers=answers,
    )  # fmt: skip


def add_job_file(connection: Connection, id: int, told: JobFile) -> None:
    """What a job held where it comes from, but for its versions; its answers get numbers of their own here."""
    numbers: dict[int, int] = {}
    for kept in told.answers:
        values = {name: value for name, value in vars(kept).items() if name != "id"}
        values["choices"] = renumbered(kept.choices, numbers)
        values |= {name: packed(values[name]) for name in ("choices", "answer", "versions")}
        numbers[kept.id] = new_id(connection.execute(insert(s.answer).values({**values, "job": id})))
    for content, files in told.contents.items():
        add_content(connection, content, files)
    for name, value in told.settings.items():
        set_setting(connection, job_key(id, name), renumbered(value, numbers))
    for noted in told.history:
        connection.execute(insert(s.log).values(job=id, **vars(noted)))
    connection.execute(update(s.job).where(s.job.c.id == id).values(state=told.state, created=told.created))
