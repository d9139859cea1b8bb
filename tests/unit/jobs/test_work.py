"""Long work is done in one process, outlives whoever asked for it, and fails in plain words."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.unit.jobs.fake_kinds import FAKE

from boostproof.errors import InputError
from boostproof.jobs import schema
from boostproof.jobs.kinds import KINDS
from boostproof.jobs.store import Store
from boostproof.jobs.work import MOST_TRIES, Work

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are ended by signals here")


@pytest.fixture
def work(store: Store) -> Iterator[Work]:
    """Somebody who works on the store."""
    with Work(store, FAKE) as opened:
        yield opened


@pytest.fixture
def job(store: Store, car_toml: str) -> int:
    """A job to work on."""
    return store.new_job(car_toml).id


def _until(condition: Callable[[], object], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not come to that"
        time.sleep(0.02)


def _lines(path: Path) -> list[int]:
    return [int(line) for line in path.read_text().split()] if path.exists() else []


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return Path(f"/proc/{process}/stat").read_text().split()[2] != "Z" if os.path.exists("/proc") else True


def test_work_is_done_elsewhere_and_its_answer_kept(store: Store, work: Work, job: int, car_toml: str) -> None:
    asked = work.start(job, "count")
    done = work.wait(asked.id)
    assert (done.state, done.share, done.error, done.over) == ("done", 1.0, None, True)
    assert done.ended > done.created
    kept = store.answers.latest(job, "count", {})
    assert kept is not None and kept.id == done.answer and kept.content == done.content == store.content(job)
    assert (kept.seed, kept.versions) == (7, {"prior": "1"})
    assert kept.answer["files"] == {"car.toml": car_toml} and kept.answer["process"] != os.getpid()
    again = work.wait(work.start(job, "echo").id)
    assert again.state == "done" and work.tasks(job) == [again, done]


def test_the_same_work_is_not_done_twice(store: Store, work: Work, job: int, tmp_path: Path) -> None:
    choices = {"runs": str(tmp_path / "runs"), "b": [1, 2], "a": None}
    one = work.start(job, "count", choices)
    assert work.start(job, "count", dict(reversed(choices.items()))).id == one.id
    work.wait(one.id)
    assert work.start(job, "count", choices).id == one.id
    assert len(_lines(tmp_path / "runs")) == 1
    assert work.start(job, "count", {**choices, "b": [2, 1]}).id != one.id
    store.write(job, "notes.txt", "new")
    other = work.start(job, "count", choices)
    assert other.id != one.id and work.wait(other.id).content != one.content


def test_work_on_files_that_changed_before_its_turn_is_given_up(store: Store, work: Work, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    running = work.start(job, "gated", gate)
    _until(lambda: _lines(tmp_path / "runs"))
    early = work.start(job, "count")
    store.write(job, "notes.txt", "new")
    late = work.start(job, "count")
    given_up = work.task(early.id)
    assert (given_up.state, given_up.says) == ("stopped", "the files changed before its turn")
    (tmp_path / "gate").touch()
    assert work.wait(running.id).state == "done"  # what ran when the files changed is kept for the files it had
    assert work.wait(late.id).state == "done"
    kept = store.answers.latest(job, "count")
    assert kept is not None and "notes.txt" in kept.answer["files"]
    assert store.answers.latest(job, "gated") is None and store.answers.latest(job, "gated", current=False) is not None


def test_how_far_it_is_stands_in_the_database(store: Store, work: Work, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    asked = work.start(job, "gated", gate)
    with Store.open(store.root) as other, Work(other, FAKE, works=False) as looks:
        _until(lambda: looks.task(asked.id).share == 0.25)
        assert looks.task(asked.id).says == "at the gate" and looks.task(asked.id).state == "running"
        assert looks.task(asked.id).so_far == {"seen": "the gate"}
        (tmp_path / "gate").touch()
        assert looks.wait(asked.id).says == "done" and looks.task(asked.id).so_far is None


def test_what_was_known_of_work_that_was_stopped_is_forgotten(store: Store, work: Work, job: int, tmp_path: Path) -> None:
    asked = work.start(job, "gated", {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")})
    _until(lambda: work.task(asked.id).so_far)
    work.stop(asked.id)
    assert work.task(asked.id).so_far is None


def test_quick_work_goes_first(work: Work, job: int, tmp_path: Path, store: Store) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    work.start(job, "gated", gate)
    _until(lambda: _lines(tmp_path / "runs"))
    slow, quick = work.start(job, "echo"), work.start(job, "inspect")
    (tmp_path / "gate").touch()
    work.wait(slow.id)
    work.wait(quick.id)
    at = {a.kind: a.answer["at"] for a in store.answers.of_job(job) if "at" in a.answer}
    assert at["inspect"] < at["echo"]


def test_an_earlier_answer_is_handed_on(store: Store, work: Work, job: int) -> None:
    kept = store.answers.keep(job, "forecast", {"boost": 1.5}, {}, store.content(job))
    done = work.wait(work.start(job, "echo", {"forecast": {"answer": kept.id}, "n": 2}).id)
    found = store.answers.numbered(done.answer or 0)
    assert found.answer["choices"] == {"forecast": {"boost": 1.5}, "n": 2}
    assert found.choices == {"forecast": {"answer": kept.id}, "n": 2}


def test_work_is_stopped_by_anybody(store: Store, work: Work, job: int, tmp_path: Path) -> None:
    running = work.start(job, "slow", {"runs": str(tmp_path / "runs")})
    _until(lambda: _lines(tmp_path / "runs"))
    waiting = work.start(job, "echo")
    with Store.open(store.root) as other, Work(other, FAKE, works=False) as asks:
        asks.stop(running.id)
    (process,) = _lines(tmp_path / "runs")
    _until(lambda: not _alive(process))
    assert work.task(running.id).state == "stopped" and work.task(running.id).ended
    assert work.wait(waiting.id).state == "done"  # a new worker was started for it
    work.stop(waiting.id)
    assert work.task(waiting.id).state == "done"
    again = work.start(job, "slow", {"runs": str(tmp_path / "runs")})  # stopped work may be asked for again
    assert again.id != running.id
    work.stop(again.id)


def test_what_goes_wrong_is_said(store: Store, work: Work, job: int) -> None:
    def error(kind: str) -> dict[str, str]:
        task = work.wait(work.start(job, kind).id)
        assert task.state == "failed" and task.error is not None and task.answer is None
        return task.error

    assert error("refuse") == {"kind": "no-pull", "where": "recordings", "says": "No pull.", "do": "See car.toml."}
    assert "ZeroDivisionError: division by zero" in error("fail")["says"]
    assert error("die")["kind"] == "worker-died" and "ended by the system" in error("die")["says"]
    assert "not JSON compliant" in error("odd")["says"]
    assert "fake_kinds" in error("missing")["says"]
    assert "OverflowError" in error("vast")["says"]  # and the next piece of work has its turn
    assert work.wait(work.start(job, "count").id).state == "done"
    assert store.answers.latest(job, "odd") is None
    with pytest.raises(InputError, match='There is no work called "dance"'):
        work.start(job, "dance")
    with pytest.raises(InputError, match="There is no job 9"):
        work.start(9, "count")
    with pytest.raises(InputError, match="There is no task 99"):
        work.stop(99)


def test_work_is_done_again_where_it_is_asked_or_another_version_did_it(
    store: Store, work: Work, job: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = work.wait(work.start(job, "echo").id)
    assert work.start(job, "echo").id == first.id
    again = work.start(job, "echo", again=True)
    assert again.id != first.id and work.wait(again.id).state == "done"
    monkeypatch.setattr("boostproof.jobs.work.__version__", "99.0")
    newer = work.start(job, "echo")
    assert newer.id not in (first.id, again.id) and work.wait(newer.id).state == "done"


def test_a_disk_that_was_full_for_a_while_holds_nothing_up_for_ever(
    store: Store, work: Work, job: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    asked = work.start(job, "gated", gate)
    _until(lambda: work.task(asked.id).share == 0.25)

    def refuse() -> None:
        refused.append(True)
        raise InputError("The disk is full.", kind="store-full")

    refused: list[bool] = []
    with monkeypatch.context() as patch:
        patch.setattr(store.database, "writing", refuse)
        (tmp_path / "gate").touch()
        _until(lambda: len(refused) > 2)  # how far it is, its answer, and that it failed
        time.sleep(0.2)
    assert work.wait(asked.id).state == "done"
    assert len(_lines(tmp_path / "runs")) == 2


def test_a_worker_that_was_ended_while_idle_is_replaced(store: Store, work: Work, job: int) -> None:
    first = work.wait(work.start(job, "count").id)
    os.kill(store.answers.numbered(first.answer or 0).answer["process"], signal.SIGKILL)
    assert work.wait(work.start(job, "count", {"n": 2}).id).state == "done"


def test_closed_in_good_order_it_is_taken_up_and_does_not_count(store: Store, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    for turn in range(MOST_TRIES + 1):
        with Work(store, FAKE) as work:
            asked = work.start(job, "gated", gate)
            _until(lambda turn=turn: len(_lines(tmp_path / "runs")) == turn + 1)  # type: ignore[misc]
        assert work.task(asked.id).state == "waiting"
    (tmp_path / "gate").touch()
    with Work(store, FAKE) as work:
        assert work.wait(asked.id).state == "done"
    _until(lambda: not any(map(_alive, _lines(tmp_path / "runs"))))


def _server(store: Store) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-m", "tests.unit.jobs.server", "serve", str(store.root)], env=_env())


def _env() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}


def test_killed_at_work_it_is_taken_up_again(store: Store, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    with Work(store, FAKE, works=False) as asks:
        asked = asks.start(job, "gated", gate)
        server = _server(store)
        _until(lambda: asks.task(asked.id).share == 0.25)
        server.send_signal(signal.SIGKILL)
        server.wait()
        (worker,) = _lines(tmp_path / "runs")
        _until(lambda: not _alive(worker))  # it does not go on by itself
        assert asks.task(asked.id).state == "running"

    (tmp_path / "gate").touch()
    with Store.open(store.root) as opened, Work(opened, FAKE) as work:
        done = work.wait(asked.id)
        assert done.state == "done" and opened.answers.numbered(done.answer or 0).answer["process"] != worker
    assert len(_lines(tmp_path / "runs")) == 2


def test_another_program_takes_over_from_a_killed_one(store: Store, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    server = _server(store)
    with Work(store, FAKE, works=False) as asks:
        asked = asks.start(job, "gated", gate)
        _until(lambda: asks.task(asked.id).share == 0.25)
    with Work(store, FAKE) as work:  # open beside it, and idle while it works
        time.sleep(0.5)
        assert len(_lines(tmp_path / "runs")) == 1
        server.send_signal(signal.SIGKILL)
        server.wait()
        (tmp_path / "gate").touch()
        assert work.wait(asked.id).state == "done"


def test_what_takes_the_program_down_is_not_taken_up_for_ever(store: Store, job: int, tmp_path: Path) -> None:
    gate = {"runs": str(tmp_path / "runs"), "gate": str(tmp_path / "gate")}
    with Work(store, FAKE, works=False) as asks:
        asked = asks.start(job, "gated", gate)
        with store.database.writing() as connection:  # all but the last try are over
            connection.execute(schema.task.update().values(tries=MOST_TRIES - 1))
        server = _server(store)
        _until(lambda: _lines(tmp_path / "runs"))
        server.send_signal(signal.SIGKILL)
        server.wait()
    with Work(store, FAKE) as work:
        failed = work.wait(asked.id)
    assert failed.state == "failed" and failed.error is not None and failed.error["kind"] == "given-up"
    assert f"ended {MOST_TRIES} times" in failed.error["says"]


def test_what_is_done_after_an_answer_fails_no_task(store: Store, job: int) -> None:
    answered = store.root / "answered"
    with Work(store, FAKE, afterwards="tests.unit.jobs.fake_kinds:afterwards") as work:
        assert work.wait(work.start(job, "count").id).state == "done"
        _until(lambda: _lines(answered) == [job])
        assert work.wait(work.start(job, "count", {"n": 2}).id).state == "done"
        _until(lambda: len(_lines(answered)) == 2)  # it dies there
        assert work.wait(work.start(job, "count", {"n": 3}).id).state == "done"
        _until(lambda: len(_lines(answered)) == 3)
        assert work.wait(work.start(job, "refuse").id).state == "failed"
        assert work.wait(work.start(job, "count", {"n": 4}).id).state == "done"
        _until(lambda: len(_lines(answered)) == 4)  # none for what gave no answer
    assert len(store.answers.of_job(job)) == 4


def test_every_kind_has_its_function() -> None:
    import importlib

    for kind, place in KINDS.items():
        module, _, name = place.partition(":")
        assert callable(getattr(importlib.import_module(module), name)), kind
