"""Recordings of a job: kept before they are read, read once, set aside where they are no log."""

from __future__ import annotations

import hashlib
import io
import json
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from tests.unit.small_car import small_car

from boostproof.casefolder.edit_pulls import with_set_up
from boostproof.errors import InputError
from boostproof.jobs.recordings import Recordings
from boostproof.jobs.store import Store
from boostproof.jobs.tables import meanwhile
from boostproof.jobs.work import Work
from boostproof.workflows.recording_window import KeptChannels, window


def _log(level: float = 80.0) -> bytes:
    rows = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa)"]
    for step in range(240):
        since = step / 20 - 2.0
        rising = 0.0 <= since < 8.0
        rpm = 2000 + 500 * since if rising else 2000.0
        rows.append(f"{step / 20:.2f},{rpm:.1f},{98 if rising else 10},{min(level, 30 * since) if rising else -50:.1f}")
    return ("\n".join(rows) + "\n").encode()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store") as opened:
        opened.new_job(small_car())
        yield opened


@pytest.fixture
def recordings(store: Store) -> Iterator[Recordings]:
    with Work(store, works=False) as work:
        yield Recordings(store, work)


def test_a_small_log_is_read_on_sight_once_and_its_table_is_there(store: Store, recordings: Recordings) -> None:
    path = recordings.add(1, "log.csv", _log())
    (first,) = recordings.all(1)
    assert first.answer is not None and first.fresh and len(first.answer["pulls"]) == 1
    assert len(list((store.root / "tables").glob("*.parquet"))) == 1
    before = store.answers.latest(1, "inspect", {"path": path}, current=False)
    (again,) = recordings.all(1)
    assert again.fresh and again.answer == json.loads(json.dumps(first.answer))
    assert store.answers.latest(1, "inspect", {"path": path}, current=False) == before
    assert store.table(1, path).is_file()
    assert len(list((store.root / "tables").glob("*.parquet"))) == 1


def test_it_is_read_again_only_when_what_it_rests_on_changes(store: Store, recordings: Recordings) -> None:
    path = recordings.add(1, "log.csv", _log())
    recordings.all(1)

    def made() -> int:
        recordings.all(1)
        kept = store.answers.latest(1, "inspect", {"path": path}, current=False)
        assert kept is not None
        return kept.id

    first = made()
    store.write(1, "readings.toml", "format = 1\n")
    recordings.add(1, "other.csv", _log(60.0))
    recordings.edit(1, lambda text: with_set_up(text, "recordings/other.csv", {"gear": "3"}))
    assert made() == first
    recordings.edit(1, lambda text: with_set_up(text, path, {"gear": "4"}))
    second = made()
    assert second != first
    store.write(1, "car.toml", small_car().replace("6800", "7000"))
    assert made() != second


def test_the_same_bytes_are_one_file_and_other_bytes_get_a_name_of_their_own(recordings: Recordings) -> None:
    assert recordings.add(1, "C:\\logs\\day 1.csv", _log()) == "recordings/day 1.csv"
    assert recordings.add(1, "day 1.csv", _log()) == "recordings/day 1.csv"
    assert recordings.add(1, "day 1.csv", _log(60.0)) == "recordings/day 1-2.csv"
    assert recordings.add(1, "../../day 1.csv", _log(60.0)) == "recordings/day 1-2.csv"


def test_what_is_no_log_is_set_aside_byte_for_byte_and_can_be_tried_again(store: Store, recordings: Recordings) -> None:
    bytes_ = b"%PDF-1.4\n" + bytes(range(256)) * 8
    path = recordings.add(1, "invoice.pdf", bytes_)
    recordings.look_or_start(1, [path])
    (wrong,) = recordings.set_aside_unread(1, [path])
    assert wrong.error is not None and wrong.error["says"] and wrong.error["do"]
    assert str(store.root) not in wrong.error["where"]
    assert recordings.all(1) == []
    (aside,) = recordings.aside(1)
    assert aside.error == wrong.error
    assert store.read(1, aside.file.path) == bytes_
    assert recordings.take_back(1, aside.file.path) == path
    assert store.read(1, path) == bytes_


def test_removing_a_recording_takes_its_words_away_and_keeps_its_versions(store: Store, recordings: Recordings) -> None:
    path = recordings.add(1, "log.csv", _log())
    recordings.edit(1, lambda text: with_set_up(text, path, {"gear": "4"}))
    recordings.remove(1, path)
    assert "log.csv" not in store.text(1, "pulls.toml")
    assert [version.size for version in store.versions(1, path)] == [len(_log())]


def test_nobody_writes_over_what_another_wrote_meanwhile(store: Store, recordings: Recordings) -> None:
    path = recordings.add(1, "log.csv", _log())

    def slow(text: str) -> str:
        if "note" not in text:  # somebody else saves while this one thinks
            store.write(1, "pulls.toml", with_set_up(text, path, {"note": "windy"}))
        return with_set_up(text, path, {"gear": "4"})

    recordings.edit(1, slow)
    assert "windy" in store.text(1, "pulls.toml") and "gear = 4" in store.text(1, "pulls.toml")
    with pytest.raises(InputError) as error:
        recordings.edit(1, lambda text: with_set_up(text, path, {"gear": "5"}), expect="0" * 64)
    assert error.value.kind == "changed-elsewhere"


def test_a_large_log_is_left_to_the_work(store: Store, recordings: Recordings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("boostproof.jobs.recordings.ON_SIGHT", 10)
    monkeypatch.setattr("boostproof.jobs.recordings.AT_ONCE", 10)
    path = recordings.add(1, "log.csv", _log())
    recordings.look_or_start(1, [path])
    (waiting,) = recordings.all(1)
    assert waiting.answer is None and waiting.task is not None and waiting.task.kind == "inspect"
    with Work(store) as works:
        assert works.wait(waiting.task.id, 60.0).state == "done"
    (read,) = recordings.all(1)
    assert read.fresh and read.answer is not None and np.isfinite(read.answer["span_s"]).all()
    assert len(list((store.root / "tables").glob("*.parquet"))) == 1  # the work kept it for the plots
    assert store.table(1, path).is_file()
    assert len(list((store.root / "tables").glob("*.parquet"))) == 1


def test_what_is_dropped_is_written_to_the_disk_once(
    store: Store, recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[str] = []
    put = store.kept.put
    monkeypatch.setattr(store.kept, "put", lambda data: written.append("") or put(data))
    recordings.add(1, "log.csv", _log())
    assert len(written) == 1
    assert recordings.add(1, "log.csv", _log(60.0)) == "recordings/log-2.csv"
    assert len(written) == 2


def test_an_open_file_is_kept_whole_and_the_same_bytes_are_one_file(store: Store, recordings: Recordings) -> None:
    data = bytes(range(256)) * 9_000  # more than is read at a time
    with io.BytesIO(data) as file:
        file.seek(1_000_000)  # wherever who had it before left off
        path = recordings.add(1, "log.bin", file)
        assert recordings.add(1, "log.bin", file) == path
    assert store.read(1, path) == data
    (kept,) = (file for file in store.files(1) if file.path == path)
    assert (kept.size, kept.sha256) == (len(data), hashlib.sha256(data).hexdigest())


def test_a_recording_just_read_is_drawn_without_reading_its_table(
    store: Store, recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = recordings.add(1, "log.csv", _log())
    recordings.look_or_start(1, [path])
    table = store.table(1, path)
    read = window(table, ["boost", "engine_speed"], kept=KeptChannels())
    monkeypatch.setattr(pl, "read_parquet", None)
    held = window(table, ["boost", "engine_speed"])
    assert held.pack() == read.pack()
    assert np.nanmax(held.lines[0].values) == pytest.approx(80e3)


def test_keeping_goes_on_meanwhile_and_is_over_in_the_end() -> None:
    """The one who keeps waits until the block has gone on: in order, both would wait for ever."""
    gone_on, order = threading.Event(), []

    def keep(what: str) -> None:
        assert gone_on.wait(30.0)
        order.append(what)

    with meanwhile(keep) as begin:  # type: ignore[arg-type]
        begin("table")  # type: ignore[arg-type]
        order.append("measured")
        gone_on.set()
    assert order == ["measured", "table"]


def test_a_table_that_cannot_be_kept_is_told() -> None:
    def keep(what: object) -> None:
        raise InputError("The disk is full.", kind="store-full")

    with pytest.raises(InputError, match="full"), meanwhile(keep) as begin:
        begin("table")  # type: ignore[arg-type]
