"""The database file: opened, brought up to date, and transactions on it."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

from boostproof.errors import InputError
from boostproof.jobs.lock import FileLock
from boostproof.jobs.schema import HEAD, KNOWN
from boostproof.jobs.trouble import explained

NAME = "jobs.sqlite"
BUSY_MS = 10_000  # a writer holds the database for milliseconds; only a stopped program holds it longer

_WRITES = "boostproof_writes"


@dataclass
class _Joint:
    """Several changes of one thread as one transaction; no connection before the first of them."""

    opened: ExitStack
    first: Callable[[Connection], None]
    connection: Connection | None = None


class _Own(threading.local):
    joint: _Joint | None = None


class Database:
    """One SQLite file. Any number of threads and processes may have it open.

    A transaction that writes takes the write lock at its beginning, so that what it read still holds when
    it writes. Every commit is on the disk before it returns.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        self._own = _Own()
        with explained(self.path), FileLock(folder / "opening.lock"):
            self._engine = _engine(self.path)
            try:
                _bring_up_to_date(self._engine, self.path)
            except BaseException:
                self._engine.dispose()
                raise

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database."""
        joint = self._own.joint
        if joint is not None and joint.connection is not None:
            yield joint.connection
            return
        with explained(self.path), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes: kept whole at its end, or not at all where anything is raised."""
        joint = self._own.joint
        if joint is None:
            with self._transaction() as connection:
                yield connection
            return
        if joint.connection is None:
            joint.connection = joint.opened.enter_context(self._transaction())
            joint.first(joint.connection)
        with explained(self.path), joint.connection.begin_nested():
            yield joint.connection

    @contextmanager
    def together(self, first: Callable[[Connection], None]) -> Iterator[None]:
        """All that this thread writes inside is one transaction, which begins with the first write.

        Parameters
        ----------
        first : done when it begins, with all that others wrote before in sight; what it raises ends it
        """
        if self._own.joint is not None:
            raise RuntimeError("changes that belong together cannot stand in others that do")
        with ExitStack() as opened:
            self._own.joint = _Joint(opened, first)
            try:
                yield
            finally:
                self._own.joint = None

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        with explained(self.path), self._engine.connect() as connection:
            connection = connection.execution_options(**{_WRITES: True})
            with connection.begin():
                yield connection

    def copy(self, to: Path) -> None:
        """The database as it stands, into a file that is not there yet."""
        with explained(self.path):
            _copy(self.path, to)

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()


def _engine(path: Path) -> Engine:
    # Room for as many threads as a server may have; a connection costs little.
    engine = create_engine(
        f"sqlite:///{path}", connect_args={"timeout": BUSY_MS / 1000}, pool_size=8, max_overflow=64
    )

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, record: Any) -> None:
        connection.isolation_level = None  # transactions begin where we say, not where the driver guesses
        for line in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", f"busy_timeout={BUSY_MS}"):
            connection.execute(f"PRAGMA {line}")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def stored_head(connection: Connection) -> str | None:
    """Version of the tables, None for an empty database."""
    found = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE name = 'alembic_version'").first()
    row = None if found is None else connection.exec_driver_sql("SELECT version_num FROM alembic_version").first()
    return None if row is None else str(row[0])


def _bring_up_to_date(engine: Engine, path: Path) -> None:
    with engine.connect() as connection:
        head = stored_head(connection)
    if head == HEAD:
        return
    if head is not None:
        if head not in KNOWN:
            raise InputError(
                "These jobs were kept by a newer boostproof, and this one does not know how they are laid out. "
                "Nothing was changed.",
                kind="store-newer", where=str(path),
                do="Update boostproof, or set BOOSTPROOF_DATA to another folder.",
            )  # fmt: skip
        _copy(path, path.with_name(f"{path.stem}-before-{HEAD}.sqlite"))
    upgrade(engine)


def upgrade(engine: Engine) -> None:
    """Run the migrations that are missing, all in one transaction."""
    from alembic import command

    with engine.connect() as connection:
        plain = connection.connection.driver_connection
        assert plain is not None  # it is open
        # A table that is made anew under its old name must not take along what points to it; this can only be
        # said outside a transaction.
        plain.execute("PRAGMA foreign_keys=OFF")
        try:
            connection = connection.execution_options(**{_WRITES: True})
            with connection.begin():
                command.upgrade(alembic_config(connection), "head")
                lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
                if lost:
                    raise RuntimeError(f"the new tables would lose what points to them: {lost[:3]}")
        finally:
            plain.execute("PRAGMA foreign_keys=ON")


def alembic_config(connection: Connection) -> Any:
    """Settings of alembic for a connection; no file is read."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _copy(path: Path, to: Path) -> None:
    """The database as it stands, through the engine's own backup, so that it is whole."""
    with closing(sqlite3.connect(path)) as here, closing(sqlite3.connect(to)) as there:
        here.backup(there)
