"""The verdict says which pulls and recordings it leaves out, why, and where that is taken back."""

from __future__ import annotations

from dataclasses import replace

from fastapi.testclient import TestClient
from tests.unit.web.made_verdict import judged, verdict
from tests.unit.web.test_verdict import page

from boostproof.casefolder.left_out import LeftOut, told_of
from boostproof.jobs.store import Store
from boostproof.web.pages.ladder import since_repair
from boostproof.workflows.verdict_kept import to_kept


def test_pulls_from_after_the_repair_are_named(client: TestClient, store: Store) -> None:
    job = judged(store)
    path = next(f.path for f in store.files(job) if f.path.startswith("recordings/"))
    store.answers.keep(
        job, "prove", {"verdict": "better"}, {"before": [f"{path}#1"], "after": [f"{path}#3"]}, store.content(job)
    )
    name = path.rpartition("/")[2]
    assert page(client, job)["left_out"] == [
        f"Of {name} pulls 3 on, made after the repair, are left out of the ranking.",
        f"Pull 2 of {name}, between the two sides of the repair and ticked on neither: left out of both.",
    ]
    assert since_repair(store, job)["after"] == [f"{path}#3-"] and since_repair(store, job)["neither"] == [f"{path}#2"]
    shown = client.get(f"/jobs/{job}/verdict").text
    assert f'<a href="/jobs/{job}/proof">What is of before the repair' in shown


def test_a_recording_from_after_something_was_tried_is_named_with_how_to_count_it_again(
    client: TestClient, store: Store
) -> None:
    job = judged(store)
    assert page(client, job)["tried"] == [] and "data-tried" not in client.get(f"/jobs/{job}/verdict").text
    left_out = told_of(LeftOut(("recordings/new.csv",), tried=("recordings/new.csv",)))
    told = replace(verdict(), findings=(*left_out, *verdict().findings))
    store.answers.keep(job, "diagnose", to_kept(told), {}, store.content(job, "diagnose"))
    (says,) = page(client, job)["tried"]
    assert "new.csv" in says and "page Car" in says
    shown = client.get(f"/jobs/{job}/verdict").text
    assert says in shown and f'<a href="/jobs/{job}/car">To count it again' in shown
