"""Answers of jobs, each kept with what it was made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import func, select

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
        content = self._content(job_id, kind) if current else ""
        asked = None if choices is None else packed(choices)
        for id, its_kind, its_choices, its_content, made in self._there(job_id):
            if its_kind == kind and asked in (None, its_choices) and (not current or its_content == content):
                return self._held(id, made, its_content)
        return None

    @remembered
    def of_job(self, job_id: int, kind: str | None = None) -> list[KeptAnswer]:
        """Every answer of a job, or every one of a kind, the latest first."""
        return [self._held(one[0], one[4], one[3]) for one in self._there(job_id) if kind in (None, one[1])]

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
        return self.memory.lasting(f"answer {row.id} {row.made} {row.content}", lambda: rows.answer_from(row))

    @remembered
    def _there(self, job_id: int) -> list[tuple[int, str, str, str, str]]:
        """Number, kind, choices, content and time of every answer of a job, the latest first: a page asks for many kinds."""
        a = s.answer.c
        query = select(a.id, a.kind, a.choices, a.content, a.made).where(a.job == job_id).order_by(a.id.desc())
        with self._database.reading() as connection:
            rows.job_of(connection, job_id)
            return [tuple(row) for row in connection.execute(query)]

    def _held(self, id: int, made: str, content: str) -> KeptAnswer:
        """A kept answer, which is never changed: its text is read once."""

        def read() -> KeptAnswer:
            with self._database.reading() as connection:
                return rows.answer_from(connection.execute(select(s.answer).where(s.answer.c.id == id)).one())

        return self.memory.lasting(f"answer {id} {made} {content}", read)
