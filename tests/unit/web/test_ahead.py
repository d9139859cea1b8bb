"""What the worker makes ready is what the pages show, and they make nothing more."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.unit.small_car import small_car
from tests.unit.web import made_up
from tests.unit.web.made_verdict import OpenAlready, judged

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web import ahead, kept_parts, pulls_page
from boostproof.web.ahead import make_ready
from boostproof.web.page import units_of
from boostproof.web.pages import bench, car, repair_page, verdict

PARTS = 4  # of the verdict, the bench, the car and the pulls


def _progress(says: str, share: float, so_far: object = None, /) -> None: ...


@pytest.fixture(autouse=True)
def opened_anew() -> None:
    ahead._opened.cache_clear()


def _shown(root: Path, job: int) -> tuple[Any, ...]:
    """The pages of a job for somebody who opens the store anew."""
    with Store.open(root) as store:
        work = Work(store, works=False)
        return (
            bench.bench_page(store, work, job, {}),
            verdict.verdict_page(store, work, job, {}, cases=OpenAlready()),
            car.car_page(store, work, job, {}),
            pulls_page.pulls_page(store, work, job, {}),
        )


def test_pages_show_what_was_made_ready_and_make_nothing(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    job = judged(store)
    as_made = _shown(store.root, job)
    folder = store.root / kept_parts.FOLDER
    assert len(list(folder.iterdir())) == PARTS
    for part in folder.iterdir():
        part.unlink()
    make_ready(store.root, {"job": job}, _progress)
    assert len(list(folder.iterdir())) == PARTS

    def never(path: Path, text: bytes) -> None:
        raise AssertionError(f"made at the page: {text[:80]!r}")

    monkeypatch.setattr(kept_parts, "_keep", never)
    assert _shown(store.root, job) == as_made


def test_repairs_are_made_ready_as_they_stand_first(store: Store, work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    job = store.new_job(small_car()).id
    store.answers.keep(job, "repair_options", made_up.options(), {}, store.content(job))
    as_made = repair_page.repair_page(store, work, job, {})
    for part in (store.root / kept_parts.FOLDER).iterdir():
        part.unlink()
    make_ready(store.root, {"job": job}, _progress)
    monkeypatch.setattr(repair_page, "_option", None)
    monkeypatch.setattr(repair_page, "_detail", None)
    with Store.open(store.root) as anew:
        assert repair_page.repair_page(anew, work, job, {}) == as_made
    assert [one.here for one in as_made.options] == [True, False]


def test_another_verdict_and_other_units_have_parts_of_their_own(store: Store) -> None:
    job = judged(store)
    make_ready(store.root, {"job": job}, _progress)
    first = _shown(store.root, job)
    store.settings.set("units", "metric" if units_of(store) == "imperial" else "imperial")
    assert _shown(store.root, job)[1] != first[1]
    store.settings.set("units", "imperial" if units_of(store) == "metric" else "metric")
    answer = store.answers.latest(job, "diagnose")
    assert answer is not None
    sound = {**answer.answer, "healthy": 0.99, "causes": [{**c, "probability": 0.001} for c in answer.answer["causes"]]}
    store.answers.keep(job, "diagnose", sound, {}, store.content(job))
    assert _shown(store.root, job)[1].view.headline != first[1].view.headline


def test_a_job_that_cannot_be_read_yet_is_left_to_its_pages(store: Store) -> None:
    job = store.new_job("format = 1\n").id
    assert make_ready(store.root, {"job": job}, _progress) == {}
