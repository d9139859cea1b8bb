"""What disk and database refuse is said in plain words, and nothing kept before is touched."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from boostproof.errors import InputError
from boostproof.jobs.store import Store


def _damage(store: Store, start: int, length: int) -> Path:
    store.close()
    path = store.root / "jobs.sqlite"
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(path.read_bytes())
    data[start : start + length] = b"\xa5" * len(data[start : start + length])
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("start", [0, 4096])  # the head of the file, and everything behind its first page
def test_a_damaged_list_of_jobs_is_said(store: Store, car_toml: str, start: int) -> None:
    store.new_job(car_toml, {"a": b"1"})
    path = _damage(store, start, 1 << 30 if start else 100)
    with pytest.raises(InputError) as raised, Store.open(store.root) as again:
        again.jobs()
    assert raised.value.kind == "store-damaged" and raised.value.where == str(path)
    assert "is damaged and cannot be read" in raised.value.says and "backup" in raised.value.do
    assert len([p for p in (store.root / "files").rglob("*") if p.is_file()]) == 2


def test_jobs_of_a_newer_version_are_left_alone(store: Store, car_toml: str) -> None:
    store.new_job(car_toml)
    store.close()
    with closing(sqlite3.connect(store.root / "jobs.sqlite")) as plain, plain:
        plain.execute("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(InputError) as raised:
        Store.open(store.root)
    assert raised.value.kind == "store-newer" and "kept by a newer boostproof" in raised.value.says
    assert raised.value.do.startswith("Update boostproof")
    with closing(sqlite3.connect(store.root / "jobs.sqlite")) as plain:
        assert plain.execute("SELECT count(*) FROM job").fetchone() == (1,)


def test_a_full_database_is_said_and_nothing_of_it_is_kept(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    # The database's own limit of size gives the very answer of a full disk.
    with store.database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(InputError) as raised:
        store.answers.keep(job.id, "bench", {"says": "x" * 1_000_000}, {}, store.content(job.id))
    assert raised.value.kind == "store-full" and "The disk is full" in raised.value.says
    with Store.open(store.root) as again:
        assert again.answers.of_job(job.id) == [] and again.text(job.id, "car.toml") == car_toml


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EIO])
def test_a_disk_that_refuses_a_file_is_said(
    store: Store, car_toml: str, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    job = store.new_job(car_toml)

    def refuse(handle: int) -> None:
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", refuse)
        with pytest.raises(InputError) as raised:
            store.write(job.id, "log.csv", b"1")
    kinds = {errno.ENOSPC: "store-full", errno.EROFS: "store-read-only", errno.EIO: "store-unreadable"}
    assert raised.value.kind == kinds[code] and raised.value.do
    assert [f.path for f in store.files(job.id)] == ["car.toml"]
    assert list((store.root / "files" / "parts").iterdir()) == []
    assert store.write(job.id, "log.csv", b"1").size == 1


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that another user may enter."""
    folder = Path(tempfile.mkdtemp(prefix="boostproof-"))
    folder.chmod(0o755)
    yield folder
    for path in folder.rglob("*"):
        if path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(folder)


_OPEN = """
import os, sys
sys.path[:0] = sys.argv[2:]
from boostproof.errors import InputError
from boostproof.jobs.store import Store
if os.getuid() == 0:  # nothing is read-only for root
    os.setgid(65534); os.setuid(65534)
try:
    Store.open(__import__("pathlib").Path(sys.argv[1]))
except InputError as error:
    print(error.kind, "|", error.says, "|", error.do)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="folders are made read-only by their mode here")
@pytest.mark.parametrize("made", [False, True])
def test_a_read_only_folder_is_said(open_folder: Path, car_toml: str, made: bool) -> None:
    folder = open_folder / "shop"
    if made:
        with Store.open(folder) as store:
            store.new_job(car_toml)
    for path in [open_folder, *open_folder.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    command = [sys.executable, "-c", _OPEN, str(folder), *(os.path.abspath(path) for path in sys.path if path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60, cwd=open_folder)
    assert done.stdout.startswith("store-read-only | The jobs cannot be written here. |"), done.stdout + done.stderr
    assert "BOOSTPROOF_DATA" in done.stdout


def test_a_program_that_holds_the_jobs_is_said(store: Store, car_toml: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from boostproof.jobs import database

    monkeypatch.setattr(database, "BUSY_MS", 50)
    job = store.new_job(car_toml)
    with Store.open(store.root) as impatient, store.database.writing():
        assert impatient.text(job.id, "car.toml") == car_toml  # reading goes on
        with pytest.raises(InputError) as raised:
            impatient.set_state(job.id, "found")
    assert raised.value.kind == "store-busy" and "Close other programs" in raised.value.do


def test_other_errors_go_through(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.database.writing():
        raise ZeroDivisionError
    with pytest.raises(FileNotFoundError), store.database.reading():
        raise FileNotFoundError(errno.ENOENT, "no")
