"""Killed at any moment, nothing that was acknowledged is lost and nothing is half there."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from boostproof.jobs import schema
from boostproof.jobs.store import Store

KILLS = 4


@pytest.mark.skipif(sys.platform == "win32", reason="processes are ended by signals here")
def test_what_was_acknowledged_is_there_after_a_kill(tmp_path: Path) -> None:
    chance = random.Random(20)
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    acknowledged: list[tuple[int, int, str]] = []
    with Store.open(tmp_path):
        pass
    for _ in range(KILLS):
        command = [sys.executable, "-m", "tests.unit.jobs.server", "save", str(tmp_path)]
        process = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        lines = [process.stdout.readline()]  # it is saving now
        time.sleep(chance.uniform(0.0, 0.3))
        process.send_signal(signal.SIGKILL)
        lines += process.communicate()[0].splitlines()
        acknowledged += [(int(j), int(n), sha) for j, n, sha in (x.split() for x in lines if len(x.split()) == 3)]

    assert len(acknowledged) >= KILLS
    with closing(sqlite3.connect(tmp_path / "jobs.sqlite")) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
    with Store.open(tmp_path) as store:
        (job,) = store.jobs()
        versions = [v.sha256 for v in store.versions(job.id, "log.csv")][::-1]
        noted = {entry.says for entry in store.history(job.id)}
        for number, n, sha in acknowledged:
            assert number == job.id and versions[n - 1] == sha and f"saved {n}" in noted
        for n, sha in enumerate(versions, start=1):  # those too whose acknowledgement was lost on the way
            assert store.read(job.id, "log.csv", sha256=sha) == (f"{n}\n" * 3000).encode()
        assert len(versions) - len(acknowledged) <= KILLS


def test_bytes_without_a_row_are_put_out_of_the_way_and_come_back(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml, {"a": b"named"})
    lost = store.kept.put(b"no row names this")
    loose = store.root / "files" / "loose" / lost.sha256
    with Store.open(store.root) as again:
        assert again.read(job.id, "a") == b"named"
        assert not again.kept.has(lost.sha256) and loose.read_bytes() == b"no row names this"
        with again.database.writing() as connection:  # an older list of jobs that was put back may name it
            connection.execute(
                schema.version.insert().values(job=job.id, path="b", sha256=lost.sha256, size=17, changed="")
            )
    with Store.open(store.root) as again:
        assert again.read(job.id, "b", sha256=lost.sha256) == b"no row names this" and not loose.exists()


def test_bytes_out_of_the_way_go_after_a_month(store: Store, car_toml: str) -> None:
    store.new_job(car_toml)
    loose = store.root / "files" / "loose"
    for name, days in (("old", 31), ("young", 29)):
        (loose / name).touch()
        at = time.time() - days * 86400
        os.utime(loose / name, (at, at))
    left = store.root / "files" / "parts" / "left"
    left.touch()
    os.utime(left, (at, at))
    (store.root / "files" / "parts" / "being-written").touch()
    Store.open(store.root).close()
    assert [p.name for p in loose.iterdir()] == ["young"]
    assert [p.name for p in left.parent.iterdir()] == ["being-written"]


def test_files_outlive_the_list_of_jobs(store: Store, car_toml: str) -> None:
    store.new_job(car_toml, {"a": b"precious"})
    store.close()
    for path in store.root.glob("jobs.sqlite*"):
        path.unlink()
    with Store.open(store.root) as again:
        assert again.jobs() == [] and len(list((store.root / "files").glob("??/*"))) == 2  # all in their places
        again.new_job("another")
    Store.open(store.root).close()
    assert b"precious" in [p.read_bytes() for p in (store.root / "files").rglob("*") if p.is_file()]


def test_a_sweep_does_not_take_what_is_about_to_be_named(store: Store, car_toml: str) -> None:
    """The bytes come first: a sweep of another program between them and the row must not win."""
    job = store.new_job(car_toml)
    put = store.kept.put
    swept = []

    def put_and_be_swept(data: bytes | Path) -> object:
        blob = put(data)
        if not swept:
            swept.append(True)
            Store.open(store.root).close()
            assert not store.kept.has(blob.sha256)
        return blob

    store.kept.put = put_and_be_swept  # type: ignore[method-assign,assignment]
    store.write(job.id, "a", b"just in time")
    assert swept and store.read(job.id, "a") == b"just in time"
