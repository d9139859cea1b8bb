"""The shop that is photographed holds a verdict that is being worked out, with its first look."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car
from tests.unit.web.made_verdict import LOOK
from tools import screen_jobs

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.workflows import diagnose
from boostproof.workflows.first_look import first_ranking

AS_JSON = {"accept": "application/json"}


def test_the_first_look_is_of_a_diagnosis_that_is_not_recalled(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id

    def told(folder: Any, *, fresh: bool = False, first_look: Any) -> None:
        if fresh:  # one that is recalled tells no first look
            first_look(first_ranking(LOOK))
            raise AssertionError("the full answer is not asked for")

    monkeypatch.setattr(diagnose, "diagnose", told)
    assert screen_jobs._first_look(store, job)["causes"][0]["id"] == "port-too-small"


def test_work_in_hand_is_shown_with_the_first_look_and_says_what_it_does(
    client: TestClient, store: Store, work: Work
) -> None:
    for _ in range(screen_jobs.WORKING):
        store.new_job(small_car(), {"recordings/log.csv": b"x\n"})
    screen_jobs._working(store, work, first_ranking(LOOK).as_json())
    home = f"/jobs/{screen_jobs.WORKING}"
    shown = client.get(f"{home}/verdict", headers=AS_JSON).json()
    assert shown["state"] == "running" and shown["first_look"]["ranking"][0]["id"] == "port-too-small"
    assert 'id="first-look-heading"' in client.get(f"{home}/verdict").text
    assert "driving candidate cars up the ladder" in client.get(f"{home}/repair/ladder").text
