"""Answers of jobs, each kept with what it was made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import Row, func, select

from boostproof.errors import InputError
from boostproof.jobs import rows
from boostproof.jobs import schema as s
from boostproof.jobs.database import Database
from boostproof.jobs.plain import packed
from boostproof.jobs.records import KeptAnswer
from boostproof.jobs.remembered import Remembered, remembered


class KeptAnswers:
    """Answers of the jobs in one database.

    Parameters
    ----------
    database, memory : of the store
    content : hash of the files of a job, by its number, that a kind of answer rests on
    """

    def __init__(self, database: Database, memory: Remembered, content: Callable[[int, str], str]) -> None:
        self.memory = memory
        self._database, self._content = database, content

    def keep(
        self, job_id: int, kind: str, answer: Mapping[str, Any], choices: Mapping[str, Any], content: str
    ) -> KeptAnswer:
        """Keep an answer with what it was made from; seed and versions are taken from it where it says them."""
        with self._database.writing() as connection:
            rows.job_of(connection, job_id)
            rows.remember_content(connection, job_id)
            return rows.add_answer(connection, job_id, kind, answer, choices, content)

    @remembered
    def latest(
        self, job_id: int, kind: str, choices: Mapping[str, Any] | None = None, *, current: bool = True
    ) -> KeptAnswer | None:
        """The latest answer of a kind.

        Parameters
        ----------
        job_id : of the job
        kind : of the answer
        choices : None for any
        current : only one that rests on the files as they are now
        """
        a = s.answer
        content = self._content(job_id, kind) if current else ""
        query = select(a).where(a.c.job == job_id, a.c.kind == kind).order_by(a.c.id.desc()).limit(1)
        if choices is not None:
            query = query.where(a.c.choices == packed(choices))
        self._must_be(job_id)
        with self._database.reading() as connection:
            if current:
                query = query.where(a.c.content == content)
            row = connection.execute(query).first()
        return None if row is None else self._from(row)

    @remembered
    def of_job(self, job_id: int, kind: str | None = None) -> list[KeptAnswer]:
        """Every answer of a job, or every one of a kind, the latest first."""
        self._must_be(job_id)
        with self._database.reading() as connection:
            query = select(s.answer).where(s.answer.c.job == job_id).order_by(s.answer.c.id.desc())
            if kind is not None:
                query = query.where(s.answer.c.kind == kind)
            return [self._from(row) for row in connection.execute(query)]

    @remembered
    def newest(self) -> dict[int, int]:
        """The number of the latest answer of each job that has one, by job: tells whether there is a new one."""
        query = select(s.answer.c.job, func.max(s.answer.c.id)).group_by(s.answer.c.job)
        with self._database.reading() as connection:
            return {int(job): int(answer) for job, answer in connection.execute(query)}

    @remembered
    def numbered(self, answer: int) -> KeptAnswer:
        """One answer by its own number.

        Raises
        ------
        InputError
            If there is none.
        """
        with self._database.reading() as connection:
            row = rows.numbered(connection, s.answer, answer)
        if row is None:
            raise InputError(f"There is no kept answer {answer}.", kind="no-answer", do="Work it out again.")
        return self._from(row)

    @remembered
    def _must_be(self, job_id: int) -> None:
        """Raise where there is no such job."""
        with self._database.reading() as connection:
            rows.job_of(connection, job_id)

    def _from(self, row: Row[Any]) -> KeptAnswer:
        """A kept answer, which is never changed: its text is read once."""
        return self.memory.lasting(f"answer {row.id} {row.made} {row.content}", lambda: rows.answer_from(row))
