"""Long work, done one after another in one process of its own; how far it is stands in the database.

Whichever program holds the lock ``work.lock`` works; any program may ask for work, look, and stop it. When
the one that works is killed, another, or the same when it is opened again, takes up what was unfinished.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import logging
import multiprocessing
import threading
import time
from collections.abc import Mapping
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Any

from sqlalchemy import Connection as Database
from sqlalchemy import Row, case, insert, select, update

from boostproof.errors import InputError
from boostproof.jobs import rows
from boostproof.jobs import schema as s
from boostproof.jobs.kinds import KINDS, QUICK
from boostproof.jobs.lock import FileLock
from boostproof.jobs.plain import packed
from boostproof.jobs.records import UNDER_WAY, Task, now
from boostproof.jobs.remembered import Remembered, remembered
from boostproof.jobs.store import Store
from boostproof.jobs.worker import main, said_of
from boostproof.version import __version__

MOST_TRIES = 3  # a task that takes the whole program down is not taken up for ever
LOOK_EVERY = 0.25  # s, for work and for stops that another program asked for
WRITE_EVERY = 0.5  # s, how far a task is
NO_TASK = 0  # number of what is done after tasks
_LOOK_FOR_LOCK = 1.0  # s
_AFTERWARDS = 30.0  # s, at the most: tasks wait for it

_log = logging.getLogger(__name__)


class Work:
    """Tasks of a store.

    Parameters
    ----------
    store : whose jobs are worked on
    kinds : what can be asked for (`boostproof.jobs.kinds`)
    works : False for a program that only asks and looks
    afterwards : place of a function like that of a kind, called in the worker after each answer while nothing waits, with
        the folder of the store and the ``job``; what comes of it is not kept here
    """

    def __init__(
        self, store: Store, kinds: Mapping[str, str] | None = None, *, works: bool = True, afterwards: str = ""
    ) -> None:
        self._store = store
        self._afterwards = afterwards
        self._answered: dict[int, None] = {}  # jobs, in order
        self._kinds = dict(KINDS if kinds is None else kinds)
        self._wake = threading.Event()
        self._closing = threading.Event()
        self._lock = FileLock(store.root / "work.lock")
        self._taken_up = False
        self._worker: _Worker | None = None
        self._thread: threading.Thread | None = None
        if works:
            self._thread = threading.Thread(target=self._run, name="boostproof-work", daemon=True)
            self._thread.start()
            atexit.register(self.close)

    def close(self) -> None:
        """End the worker; what is unfinished is taken up the next time."""
        self._closing.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
            atexit.unregister(self.close)

    def __enter__(self) -> Work:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # Asked from anywhere

    def start(
        self, job_id: int, kind: str, choices: Mapping[str, Any] | None = None, *, again: bool = False
    ) -> Task:
        """Ask for work on the present files of a job, or on those of them that the kind rests on.

        The same work on the same files that waits, runs or was done by this version is that task. Work of the
        same kind and choices that still waits, but for files as they were before, is given up.

        Parameters
        ----------
        job_id : of the job
        kind, choices : what is wanted
        again : do it again though it was done: something beside the files decides the answer, and changed

        Raises
        ------
        InputError
            If there is no such job or kind.
        """
        self._place(kind)
        said = packed(dict(choices or {}))
        t = s.task
        self._store.job(job_id)
        content = self._store.keep_content(job_id, kind)
        with self._store.database.writing() as connection:
            same = (t.c.job == job_id) & (t.c.kind == kind) & (t.c.choices == said)
            there = select(t).where(same, t.c.content == content, t.c.state.in_(("waiting", "running", "done")))
            row = connection.execute(there.order_by(t.c.id.desc())).first()
            if row is not None and row.state == "done" and (again or not _by_this_version(connection, row.answer)):
                row = None
            if row is None:
                connection.execute(
                    update(t)
                    .where(same, t.c.state == "waiting")
                    .values(state="stopped", says="the files changed before its turn", ended=now())
                )
                done = connection.execute(
                    insert(t).values(
                        job=job_id, kind=kind, choices=said, content=content, state="waiting", says="", share=0.0,
                        tries=0, created=now(), ended="",
                    )
                )  # fmt: skip
                row = connection.execute(select(t).where(t.c.id == rows.new_id(done))).one()
        self._wake.set()
        return _task(row)

    def task(self, id: int) -> Task:
        """One task.

        Raises
        ------
        InputError
            If there is none of this number.
        """
        with self._store.database.reading() as connection:
            row = rows.numbered(connection, s.task, id)
        if row is None:
            raise InputError(f"There is no task {id}.", kind="no-task", do="Start it again from its page.")
        return _task(row)

    @property
    def memory(self) -> Remembered:
        """Of the store."""
        return self._store.memory

    @remembered
    def tasks(self, job_id: int) -> list[Task]:
        """Tasks of a job, the latest first."""
        self._store.job(job_id)
        query = select(s.task).where(s.task.c.job == job_id).order_by(s.task.c.id.desc())
        with self._store.database.reading() as connection:
            return [_task(row) for row in connection.execute(query)]

    def stop(self, id: int) -> None:
        """Stop a task; nothing happens to one that is over.

        Raises
        ------
        InputError
            If there is none of this number.
        """
        self.task(id)
        t = s.task
        with self._store.database.writing() as connection:
            connection.execute(
                update(t)
                .where(t.c.id == id, t.c.state.in_(UNDER_WAY))
                .values(state="stopped", says="stopped", so_far=None, ended=now())
            )
        self._wake.set()

    def wait(self, id: int, seconds: float = 600.0) -> Task:
        """Wait until a task is over, for programs without a page; the task as it is after that time at the latest."""
        end = time.monotonic() + seconds
        while not (task := self.task(id)).over and time.monotonic() < end:
            time.sleep(0.05)
        return task

    # The one thread that works

    def _run(self) -> None:
        last = ""
        try:
            while not self._closing.is_set():
                try:
                    self._turn()
                except Exception as error:
                    # A full disk or a locked database passes; this thread must be there when it has, and what it
                    # was at is taken up again.
                    if str(error) != last:
                        _log.exception("work is held up")
                    last = str(error)
                    self._end_worker()
                    self._taken_up = False
                    self._closing.wait(_LOOK_FOR_LOCK)
        finally:
            self._end_worker()
            self._lock.release()

    def _turn(self) -> None:
        if not self._lock.take():
            self._closing.wait(_LOOK_FOR_LOCK)
            return
        if not self._taken_up:
            self._take_up()
            self._taken_up = True
        self._wake.clear()
        row = self._next()
        if row is not None:
            self._do(row)
        elif self._answered and self._worker is not None:
            self._follow_up(self._answered.popitem()[0], self._worker)
        else:
            self._wake.wait(LOOK_EVERY)

    def _take_up(self) -> None:
        """What ran when its program ended waits again."""
        t = s.task
        given_up = {
            "kind": "given-up", "where": "", "says": f"The program ended {MOST_TRIES} times while it worked on this.",
            "do": "Close other programs to free memory, or cut the recording down to the pulls, and start it again.",
        }  # fmt: skip
        with self._store.database.writing() as connection:
            running = update(t).where(t.c.state == "running")
            connection.execute(
                running.where(t.c.tries >= MOST_TRIES)
                .values(state="failed", error=packed(given_up), so_far=None, ended=now())
            )
            connection.execute(running.values(state="waiting", says="", share=0.0, so_far=None))

    def _next(self) -> Row[Any] | None:
        """The task whose turn it is, marked as running."""
        t = s.task
        slow = case((t.c.kind.in_(sorted(QUICK)), 0), else_=1)
        query = select(t).where(t.c.state == "waiting").order_by(slow, t.c.id).limit(1)
        with self._store.database.reading() as connection:
            if connection.execute(query).first() is None:
                return None
        with self._store.database.writing() as connection:
            row = connection.execute(query).first()
            if row is not None:
                connection.execute(
                    update(t).where(t.c.id == row.id).values(state="running", tries=row.tries + 1, says="starting")
                )
        return row

    def _do(self, row: Row[Any]) -> None:
        try:
            folder = self._store.folder(row.job, row.content)
            choices = {name: self._given(value) for name, value in json.loads(row.choices).items()}
            place = self._place(row.kind)
            if self._worker is None or not self._worker.lives:
                self._end_worker()
                self._worker = _Worker()
            self._worker.pipe.send((row.id, place, str(folder), choices))
        except Exception as error:
            self._end_worker()
            self._change(row.id, state="failed", error=packed(said_of(error)))
            return
        self._watch(row, self._worker)

    def _place(self, kind: str) -> str:
        """Where the function of a kind stands."""
        if kind not in self._kinds:
            known = ", ".join(self._kinds)
            raise InputError(f'There is no work called "{kind}".', kind="no-kind", do=f"There is: {known}.")
        return self._kinds[kind]

    def _given(self, value: Any) -> Any:
        if isinstance(value, Mapping) and list(value) == ["answer"] and isinstance(value["answer"], int):
            return self._store.answers.numbered(value["answer"]).answer
        return value

    def _watch(self, row: Row[Any], worker: _Worker) -> None:
        """Take what the worker says until the task is over, or this program ends."""
        looked = written = time.monotonic()
        said: dict[str, Any] = {}
        while True:
            if self._closing.is_set():
                self._end_worker()
                self._set_aside(row)
                return
            if time.monotonic() - looked >= LOOK_EVERY or self._wake.is_set():
                looked = time.monotonic()
                self._wake.clear()
                if self.task(row.id).state != "running":
                    self._end_worker()
                    return
            if said and ("so_far" in said or time.monotonic() - written >= WRITE_EVERY):
                written = time.monotonic()
                with contextlib.suppress(InputError):  # how far it is may stay unsaid on a full disk
                    self._change(row.id, **said)
                said = {}
            try:
                if not worker.pipe.poll(0.05):
                    continue
                what, task, *rest = worker.pipe.recv()
            except (EOFError, OSError):
                self._end_worker()
                self._change(row.id, state="failed", error=packed(_DIED))
                return
            if task != row.id:
                continue
            if what == "says":
                said |= {"says": str(rest[0]), "share": min(1.0, max(0.0, rest[1]))}
                if rest[2] is not None:
                    said["so_far"] = rest[2]
            elif what == "error":
                self._change(row.id, state="failed", error=packed(rest[0]))
                return
            else:
                self._keep(row, rest[0])
                return

    def _keep(self, row: Row[Any], answer: dict[str, Any]) -> None:
        try:
            with self._store.database.writing() as connection:
                kept = rows.add_answer(
                    connection, row.job, row.kind, answer, json.loads(row.choices), row.content
                )
                self._set(connection, row.id, state="done", answer=kept.id, share=1.0, says="done")
            if self._afterwards:
                self._answered[row.job] = None
        except Exception as error:  # a full disk: this much smaller row may still have room; or what no row can hold
            self._change(row.id, state="failed", error=packed(said_of(error)))

    def _follow_up(self, job_id: int, worker: _Worker) -> None:
        """What is done after an answer, and what becomes of it, is nothing to a task."""
        end = time.monotonic() + _AFTERWARDS
        try:
            worker.pipe.send((NO_TASK, self._afterwards, str(self._store.root), {"job": job_id}))
            while not self._closing.is_set() and time.monotonic() < end:
                if worker.pipe.poll(0.05):
                    worker.pipe.recv()
                    return
        except (EOFError, OSError):
            pass
        self._end_worker()

    def _set_aside(self, row: Row[Any]) -> None:
        """It waits again, and this turn does not count: the program was closed in good order."""
        self._change(row.id, state="waiting", says="", share=0.0, so_far=None, tries=row.tries)

    def _change(self, id: int, **values: Any) -> None:
        with self._store.database.writing() as connection:
            self._set(connection, id, **values)

    def _set(self, connection: Database, id: int, **values: Any) -> None:
        """Change a task that still runs; one that was stopped meanwhile stays so."""
        if values.get("state") in ("done", "failed"):
            values |= {"ended": now(), "so_far": None}
        connection.execute(update(s.task).where(s.task.c.id == id, s.task.c.state == "running").values(values))

    def _end_worker(self) -> None:
        if self._worker is not None:
            self._worker.end()
            self._worker = None


_DIED = {
    "kind": "worker-died", "where": "",
    "says": "The work ended without an answer: its process was ended by the system, most often for want of memory.",
    "do": "Close other programs, or cut the recording down to the pulls, and start it again.",
}  # fmt: skip


class _Worker:
    """A process that works, and the pipe to it."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        self.pipe: Connection = here
        self._process: SpawnProcess = context.Process(
            target=main, args=(there,), name="boostproof-worker", daemon=True
        )
        self._process.start()
        there.close()

    @property
    def lives(self) -> bool:
        """It can still be given work."""
        return self._process.is_alive()

    def end(self) -> None:
        """End it at once."""
        self._process.kill()
        self._process.join()
        with contextlib.suppress(OSError):
            self.pipe.close()


def _by_this_version(connection: Database, answer: int) -> bool:
    told = connection.execute(select(s.answer.c.versions).where(s.answer.c.id == answer)).scalar_one()
    return bool(json.loads(told).get("boostproof", __version__) == __version__)


def _task(row: Row[Any]) -> Task:
    return Task(
        row.id, row.job, row.kind, json.loads(row.choices), row.state, row.says, row.share,
        None if row.error is None else json.loads(row.error), row.answer, row.created, row.ended, row.content,
        None if row.so_far is None else json.loads(row.so_far),
    )  # fmt: skip
