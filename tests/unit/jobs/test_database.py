"""The database is laid out by its migrations, and says what it promises of safety."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from boostproof.jobs import database, schema
from boostproof.jobs.database import alembic_config
from boostproof.jobs.once import once
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
    assert store.settings.get("a") is None


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


NEXT = """
import sqlalchemy as sa
from alembic import op
revision = "next"
down_revision = "{head}"
def upgrade() -> None:
    with op.batch_alter_table("job", recreate="always") as table:
        table.add_column(sa.Column("colour", sa.Text(), server_default="grey", nullable=False))
"""


@pytest.fixture
def next_form(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """As if a later version made the table of jobs anew with one column more; the file of that step."""
    here = Path(database.__file__).parent / "migrations"
    there = tmp_path / "migrations"
    shutil.copytree(here, there, ignore=shutil.ignore_patterns("__pycache__"))
    step = there / "versions" / "v9999_next.py"
    step.write_text(NEXT.replace("{head}", schema.HEAD))
    config_of = database.alembic_config

    def config(connection: Connection) -> Any:
        found = config_of(connection)
        found.set_main_option("script_location", str(there))
        return found

    monkeypatch.setattr(database, "alembic_config", config)
    monkeypatch.setattr(database, "HEAD", "next")
    monkeypatch.setattr(database, "KNOWN", (*schema.KNOWN, "next"))
    return step


def _told(path: Path, query: str) -> list[Any]:
    with closing(sqlite3.connect(path)) as plain:
        return plain.execute(query).fetchall()


def test_an_older_list_is_brought_up_to_date_without_loss(
    store: Store, car_toml: str, request: pytest.FixtureRequest
) -> None:
    job = store.new_job(car_toml, {"log.csv": b"1"})
    store.answers.keep(job.id, "bench", {"says": "x"}, {}, store.content(job.id))
    store.close()
    request.getfixturevalue("next_form")
    with Store.open(store.root) as newer:
        assert [f.path for f in newer.files(job.id)] == ["car.toml", "log.csv"]
        assert newer.answers.latest(job.id, "bench") is not None
    path = store.root / "jobs.sqlite"
    assert _told(path, "SELECT name, colour FROM job") == [("The grey wagon", "grey")]
    assert _told(path, "PRAGMA foreign_key_check") == [] and _told(path, "PRAGMA integrity_check") == [("ok",)]
    before = store.root / "jobs-before-next.sqlite"
    assert _told(before, "SELECT version_num FROM alembic_version") == [(schema.HEAD,)]
    assert _told(before, "SELECT name FROM job") == [("The grey wagon",)]


def test_jobs_of_the_first_form_are_found_again(tmp_path: Path, car_toml: str) -> None:
    (tmp_path / "jobs.sqlite").touch()
    engine = database._engine(tmp_path / "jobs.sqlite")
    with engine.connect() as connection, connection.begin():
        command.upgrade(alembic_config(connection), "0001")
        connection.exec_driver_sql("INSERT INTO setting VALUES ('units', '\"metric\"')")
    engine.dispose()
    with Store.open(tmp_path) as store:
        assert store.settings.get("units") == "metric"
        job = store.new_job(car_toml).id
        assert once(store, "a" * 64, lambda: f"/jobs/{job}") == f"/jobs/{job}"
    assert _told(tmp_path / f"jobs-before-{schema.HEAD}.sqlite", "SELECT version_num FROM alembic_version") == [("0001",)]


def test_a_step_that_fails_leaves_the_list_as_it_was(
    store: Store, car_toml: str, request: pytest.FixtureRequest
) -> None:
    store.new_job(car_toml)
    store.close()
    step: Path = request.getfixturevalue("next_form")
    step.write_text(step.read_text() + '    op.execute("DELETE FROM job")\n')
    with pytest.raises(RuntimeError, match="would lose what points to them"):
        Store.open(store.root)
    path = store.root / "jobs.sqlite"
    assert _told(path, "SELECT version_num FROM alembic_version") == [(schema.HEAD,)]
    assert _told(path, "SELECT name FROM job") == [("The grey wagon",)]
    assert "colour" not in {row[1] for row in _told(path, "PRAGMA table_info(job)")}
