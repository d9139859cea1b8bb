"""The database is laid out by its migrations, and says what it promises of safety."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.script import ScriptDirectory

from boostproof.jobs import database, schema
from boostproof.jobs.database import alembic_config
from boostproof.jobs.store import Store


def test_the_migrations_make_the_tables_that_the_code_knows(store: Store) -> None:
    with store.database.writing() as connection:
        config = alembic_config(connection)
        command.check(config)  # raises where tables and migrations differ
        scripts = ScriptDirectory.from_config(config)
        assert scripts.get_heads() == [schema.HEAD] == [schema.KNOWN[-1]]
        assert {s.revision for s in scripts.walk_revisions()} == set(schema.KNOWN)


def test_every_connection_is_safe(store: Store) -> None:
    with store.database.reading() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": database.BUSY_MS}


def test_a_transaction_is_kept_whole_or_not_at_all(store: Store, car_toml: str) -> None:
    with pytest.raises(RuntimeError), store.database.writing() as connection:
        connection.execute(schema.setting.insert().values(key="a", value="1"))
        raise RuntimeError
    assert store.setting("a") is None


def test_an_open_store_that_is_up_to_date_needs_no_alembic(store: Store) -> None:
    code = (
        "import sys; from pathlib import Path; from boostproof.jobs.store import Store\n"
        "Store.open(Path(sys.argv[1])).jobs(); print([m for m in ('alembic', 'numpy', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(store.root)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_store_is_started_once_by_many(tmp_path: Path) -> None:
    errors: list[BaseException] = []

    def start() -> None:
        try:
            with Store.open(tmp_path) as store:
                store.new_job("x")
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=start) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with Store.open(tmp_path) as store:
        assert len(store.jobs()) == 6


def test_an_older_list_is_copied_before_it_is_changed(
    store: Store, car_toml: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There is no older form yet: an unknown one is called known, and the copy is made before alembic refuses it."""
    store.new_job(car_toml)
    store.close()
    with closing(sqlite3.connect(store.root / "jobs.sqlite")) as plain, plain:
        plain.execute("UPDATE alembic_version SET version_num = '0000'")
    monkeypatch.setattr(database, "KNOWN", ("0000", "0001"))
    with pytest.raises(Exception, match="Can't locate revision"):
        Store.open(store.root)
    with closing(sqlite3.connect(store.root / "jobs-before-0001.sqlite")) as plain:
        assert plain.execute("SELECT name FROM job").fetchall() == [("The grey wagon",)]
