"""What was made after a repair: the ranking does not see it, and does not grow old by it."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from tests.unit.jobs.conftest import CAR_TOML
from tests.unit.jobs.fake_kinds import FAKE

from boostproof.casefolder.edit_pulls import with_columns
from boostproof.casefolder.left_out import NOTHING, LeftOut
from boostproof.casefolder.readings_edit import add_reading
from boostproof.jobs.after_repair import after_repair, as_found, mended_at
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.recording.model import ColumnChoice
from boostproof.recording.pull_numbers import pull_numbers

OLD, NEW, LATER = (f"recordings/{name}.csv" for name in ("old", "new", "later"))
BOOST = {"boost": ColumnChoice("Pressure", "psi", "gauge")}
SWEEP, TRAVEL = {"test": "actuator-sweep", "first_movement": "9 psi"}, {"test": "free-travel", "arm": "binds"}


@pytest.fixture
def job(store: Store) -> int:
    """One recording and one reading from before, judged."""
    made = store.new_job(CAR_TOML, {OLD: b"old", "readings.toml": add_reading("", SWEEP).encode()})
    for kind in ("diagnose", "inspect"):
        store.answers.keep(made.id, kind, {"verdict": kind}, {}, store.content(made.id))
    return made.id


def proved(store: Store, job: int, after: Sequence[str], **more: Any) -> None:
    choices = {"before": [f"{OLD}#1"], "after": [f"{path}#1" for path in after], **more}
    store.answers.keep(job, "prove", {"verdict": "cured"}, choices, store.content(job))


def current(store: Store, job: int, kind: str = "diagnose") -> bool:
    return store.answers.latest(job, kind) is not None


def test_a_log_that_is_named_after_the_repair_leaves_the_verdict_as_it_was(store: Store, job: int) -> None:
    assert after_repair(store, job) == NOTHING and current(store, job) and current(store, job, "inspect")
    store.write(job, NEW, b"new")
    assert not current(store, job)  # nobody has said what it is
    proved(store, job, [NEW])
    assert after_repair(store, job) == LeftOut((NEW,))
    assert current(store, job) and not current(store, job, "inspect")
    text = with_columns("", NEW, BOOST)
    store.write(job, "pulls.toml", text)
    assert current(store, job)  # what is said of it is left out with it
    store.write(job, "pulls.toml", with_columns(text, OLD, BOOST))
    assert not current(store, job)
    store.write(job, LATER, b"later")  # nobody said that the job is mended, but it was compared as repaired
    assert mended_at(store, job) and after_repair(store, job).recordings == (LATER, NEW)


def test_what_comes_once_the_job_is_mended_is_after_the_repair(store: Store, job: int) -> None:
    store.set_state(job, "mended")
    assert mended_at(store, job) and current(store, job)
    store.write(job, NEW, b"new")
    store.write(job, "readings.toml", add_reading(add_reading(store.text(job, "readings.toml"), SWEEP), TRAVEL))
    assert after_repair(store, job) == LeftOut((NEW,), ("actuator-sweep#2", "free-travel#1"))
    assert current(store, job)
    store.set_state(job, "measuring")  # taken back: nothing was repaired
    assert after_repair(store, job) == NOTHING and not current(store, job)
    store.set_state(job, "mended")
    store.remove(job, OLD)
    store.write(job, LATER, b"later")
    assert after_repair(store, job).recordings == (LATER,)


def test_a_person_has_the_last_word_and_what_comes_later_is_after_again(store: Store, job: int) -> None:
    store.set_state(job, "mended")
    store.write(job, NEW, b"new")
    store.write(job, LATER, b"later")
    store.write(job, "readings.toml", add_reading(add_reading(store.text(job, "readings.toml"), SWEEP), TRAVEL))
    choices = {"before": [f"{OLD}#1", f"{NEW}#1"], "after": [f"{NEW}#2", f"{LATER}#1"], "repeated": ["free-travel#1"]}
    store.answers.keep(job, "prove", {"verdict": "cured"}, choices, store.content(job))
    from_second = ((NEW, pull_numbers("2-")),)
    assert after_repair(store, job) == LeftOut((LATER,), ("free-travel#1",), from_second)
    store.set_state(job, "measuring")  # the next fault; the repair was done all the same
    store.write(job, "readings.toml", add_reading(store.text(job, "readings.toml"), TRAVEL))
    store.write(job, "recordings/last.csv", b"last")
    now = LeftOut(("recordings/last.csv", LATER), ("free-travel#1", "free-travel#2"), from_second)
    assert after_repair(store, job) == now


def test_a_recording_of_both_sides_stays_without_the_pulls_from_after(store: Store, job: int) -> None:
    choices = {"before": [f"{OLD}#1", f"{OLD}#2"], "after": [f"{OLD}#4"]}
    store.answers.keep(job, "prove", {"verdict": "better"}, choices, store.content(job))
    assert after_repair(store, job).names == (f"{OLD}#3-",) and after_repair(store, job).since.names == (f"{OLD}#4-",)
    found = as_found(store, job)
    assert [file.path for file in found.files] == ["car.toml", "readings.toml", OLD, "pulls.toml"]
    assert tomllib.loads(found.text(store, job, "pulls.toml")) == {
        "format": 1, "recording": [{"file": OLD, "after_repair": "3-"}]
    }  # fmt: skip
    assert not current(store, job)  # it rested on all of them
    store.write(job, "pulls.toml", with_columns("", OLD, BOOST))
    text = as_found(store, job).text(store, job, "pulls.toml")
    assert 'after_repair = "3-"' in text and "Pressure" in text
    folder = store.folder(job, store.keep_content(job, "diagnose"))
    assert (folder / "pulls.toml").read_text() == text
    store.answers.keep(job, "diagnose", {"verdict": "x"}, {}, store.content(job, "diagnose"))
    assert current(store, job)
    store.write(job, "pulls.toml", f'format = 1\n[[recording]]\nfile = "{OLD}"\nafter_repair = "3-"\n')
    assert not after_repair(store, job).between  # somebody said where the repair lies


def test_what_pulls_toml_says_of_a_recording_goes_before_all_else(store: Store, job: int) -> None:
    store.write(job, "pulls.toml", f'format = 1\n[[recording]]\nfile = "{NEW}"\nafter_repair = "2, 3"\n')
    assert after_repair(store, job) == NOTHING  # there is no such recording
    store.set_state(job, "mended")
    store.write(job, NEW, b"new")
    store.write(job, LATER, b"later")
    assert after_repair(store, job).names == (LATER, f"{NEW}#2-3")
    proved(store, job, [NEW])
    assert after_repair(store, job).names == (LATER, f"{NEW}#2-3")
    store.write(job, "pulls.toml", f'format = 1\n[[recording]]\nfile = "{NEW}"\nafter_repair = "1-"\n')
    assert after_repair(store, job).names == (LATER, NEW)


def test_files_that_hold_the_same_pulls_go_together_and_what_is_set_aside_is_no_evidence(store: Store, job: int) -> None:
    store.write(job, NEW, b"new")
    store.write(job, LATER, b"dyno")
    store.write(job, "pulls.toml", f'format = 1\n[[recording]]\nfile = "{NEW}"\njoined_with = ["{LATER}"]\n')
    store.write(job, "set-aside/note.txt", b"note")
    store.write(job, "after.toml", b"format = 1\n")
    proved(store, job, [NEW], readings_after="after.toml")
    assert after_repair(store, job).recordings == (LATER, NEW)
    assert [file.path for file in as_found(store, job).files] == ["car.toml", "readings.toml", OLD]
    assert current(store, job)


def test_a_file_that_is_no_toml_is_left_to_whoever_reads_the_case(store: Store, job: int) -> None:
    store.write(job, NEW, b"new")
    store.write(job, "pulls.toml", "[[recording\n")
    proved(store, job, [NEW])
    assert [file.path for file in as_found(store, job).files] == ["car.toml", "pulls.toml", "readings.toml", OLD]


def test_work_on_the_car_as_found_sees_the_files_from_before(store: Store, job: int, tmp_path: Path) -> None:
    text = with_columns(with_columns("", NEW, BOOST), OLD, BOOST)  # never written without the later one
    store.write(job, NEW, b"new")
    store.write(job, "pulls.toml", text)
    proved(store, job, [NEW])
    with Work(store, {**FAKE, "diagnose": FAKE["count"]}) as work:
        task = work.wait(work.start(job, "diagnose").id, 30.0)
        assert task.state == "done" and task.answer is not None
        seen = store.answers.numbered(task.answer).answer["files"]
        assert sorted(seen) == ["car.toml", "pulls.toml", "readings.toml", OLD]
        assert "old.csv" in seen["pulls.toml"] and "new.csv" not in seen["pulls.toml"]
        store.write(job, "recordings/more.csv", b"more")
        proved(store, job, [NEW, "recordings/more.csv"])
        assert work.start(job, "diagnose").id == task.id  # nothing that it rests on has changed
        whole = work.wait(work.start(job, "count").id, 30.0)
        assert whole.answer is not None and NEW in store.answers.numbered(whole.answer).answer["files"]
    store.export_case(job, tmp_path / "away")
    brought = store.import_case(tmp_path / "away")
    assert current(store, brought.id) and after_repair(store, brought.id).recordings == after_repair(store, job).recordings
    kept = store.answers.latest(brought.id, "diagnose")
    assert kept is not None and not (store.folder(brought.id, kept.content) / NEW).exists()
