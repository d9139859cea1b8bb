"""What a store remembers: nothing that is older than the last write, whoever wrote."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostproof.errors import InputError
from boostproof.jobs import remembered
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work

CAR = '[car]\nname = "The grey wagon"\n'


def test_what_another_store_or_thread_wrote_is_seen_at_once(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store, Store.open(tmp_path) as other:
        job = store.new_job(CAR).id
        for number, writer in enumerate((store, other, store, other)):
            assert len(store.files(job)) == len(other.files(job)) == number + 1
            writer.write(job, f"recordings/{number}.csv", "x\n")
            assert [f.path for f in store.files(job)] == [f.path for f in other.files(job)]
            assert store.answers.latest(job, "bench") is None and other.settings.get("units") == (number or None)
            writer.settings.set("units", number + 1)
            assert store.settings.get("units") == other.settings.get("units") == number + 1
        kept = other.answers.keep(job, "bench", {"format": 1}, {}, store.content(job))
        assert store.answers.latest(job, "bench") == kept
        store.write(job, "car.toml", CAR + "# changed\n")
        assert other.answers.latest(job, "bench") is None
        assert other.answers.latest(job, "bench", current=False) == kept


def test_the_same_question_is_asked_of_the_database_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Store.open(tmp_path) as store, Work(store, works=False) as work:
        job = store.new_job(CAR, {"notes.txt": b"x"}).id
        store.answers.keep(job, "bench", {"format": 1}, {}, store.content(job))

        def questions() -> None:
            store.job(job), store.files(job), store.content(job), store.answers.of_job(job), work.tasks(job)
            assert store.answers.latest(job, "bench", {}) is store.answers.latest(job, "bench", {})

        questions()
        monkeypatch.setattr(store.database, "reading", None)  # a question to it would fail
        questions()


def test_a_list_that_was_given_may_be_changed(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store:
        job = store.new_job(CAR).id
        store.files(job).clear()
        assert [f.path for f in store.files(job)] == ["car.toml"]


def test_a_refusal_is_not_remembered(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store:
        with pytest.raises(InputError):
            store.job(1)
        job = store.new_job(CAR).id
        assert store.job(job).name == "The grey wagon"


def test_what_no_write_can_change_is_made_once(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store:
        job = store.new_job(CAR).id
        kept = store.answers.keep(job, "bench", {"format": 1, "n": 1}, {}, store.content(job))
        first = store.answers.latest(job, "bench")
        assert first == kept
        store.settings.set("units", "metric")
        assert store.answers.latest(job, "bench") is first and store.answers.numbered(kept.id) is first
        assert store.answers.of_job(job) == [kept]
        later = store.answers.keep(job, "bench", {"format": 1, "n": 2}, {}, store.content(job))
        assert store.answers.latest(job, "bench") == later and store.answers.numbered(kept.id).answer["n"] == 1


def test_what_lasts_is_held_up_to_a_number(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembered, "MOST_LASTING", 2)
    with Store.open(tmp_path) as store:
        made: list[str] = []

        def ask(name: str) -> str:
            return store.memory.lasting(name, lambda: made.append(name) or name)

        assert [ask(name) for name in ("a", "b", "a", "c", "a", "b")] == ["a", "b", "a", "c", "a", "b"]
        assert made == ["a", "b", "c", "b"]
