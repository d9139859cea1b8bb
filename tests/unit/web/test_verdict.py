"""The verdict page in all its states, and a reading that moves the ranking."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import update
from tests.unit.small_car import small_car
from tests.unit.web.made_verdict import LOOK, READINGS, UNSURE, OpenAlready, judged, looked_at, verdict

from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.jobs import schema
from boostproof.jobs.plain import packed
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.open_cases import OpenCases
from boostproof.workflows.verdict_kept import to_kept

AS_JSON = {"accept": "application/json"}


@pytest.fixture
def work(store: Store) -> Work:
    """Work that is asked for and not done: no test ranks causes."""
    return Work(store, works=False)


@pytest.fixture(autouse=True)
def open_already(app: FastAPI) -> OpenAlready:
    app.state.open_cases = OpenAlready()
    found: OpenAlready = app.state.open_cases
    return found


def page(client: TestClient, job: int, query: str = "") -> dict:
    found: dict = client.get(f"/jobs/{job}/verdict{query}", headers=AS_JSON).json()
    return found


def test_without_a_log_it_says_what_is_wanted(client: TestClient, store: Store) -> None:
    job = store.new_job(small_car()).id
    assert page(client, job)["state"] == "no log"
    assert f'href="/jobs/{job}/pulls"' in client.get(f"/jobs/{job}/verdict").text


def test_with_a_log_the_causes_can_be_ranked_once(client: TestClient, store: Store, work: Work) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    assert page(client, job)["state"] == "ready"
    for _ in range(2):
        assert client.post(f"/jobs/{job}/verdict/rank").headers["location"] == f"/jobs/{job}/verdict"
    assert [task.kind for task in work.tasks(job)] == ["diagnose"]
    assert page(client, job)["state"] == "running"
    assert f'data-task="/jobs/{job}/tasks/1"' in client.get(f"/jobs/{job}/verdict").text


def test_a_first_look_is_shown_while_the_causes_are_ranked(client: TestClient, store: Store, work: Work) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    task = looked_at(store, work, job, None)
    assert page(client, job)["first_look"] is None
    shown = client.get(f"/jobs/{job}/verdict").text
    assert 'data-so-far="first-look"' in shown and 'id="first-look-heading"' not in shown
    looked_at(store, work, job)
    for _ in range(2):  # a page that is loaded again shows it again
        found = page(client, job)
        assert found["state"] == "running" and found["first_look"]["order_only"] is False
        assert [(r["id"], r["shown"], r["strength"]) for r in found["first_look"]["ranking"]] == [
            ("port-too-small", "about 55 %", "probably"),
            ("port-entry-poor", "about 30 %", "possible"),
            ("healthy", "about 5 %", "less likely"),
            ("charge-leak", "about 5 %", "hardly"),
            ("none_of_these", "about 5 %", "hardly"),
        ]
    shown = client.get(f"/jobs/{job}/verdict").text
    assert 'aria-live="polite"' in shown and "From the highest pull alone, with all readings." in shown
    told = client.get(f"/jobs/{job}/tasks/{task}", headers=AS_JSON).json()["so_far"]
    assert told["provisional"] and told["causes"][0]["id"] == "port-too-small"


def test_a_second_look_says_that_it_is_from_all_pulls(client: TestClient, store: Store, work: Work) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    looked_at(store, work, job, replace(LOOK, all_pulls=True))
    assert page(client, job)["first_look"]["all_pulls"] is True
    shown = client.get(f"/jobs/{job}/verdict").text
    assert "Second look" in shown and "From all pulls and readings, weighed roughly." in shown


def test_a_first_look_at_two_causes_at_once_says_the_order_alone(client: TestClient, store: Store, work: Work) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    looked_at(store, work, job, UNSURE)
    found = page(client, job)["first_look"]
    assert found["order_only"] and {r["shown"] for r in found["ranking"]} == {""}
    shown = client.get(f"/jobs/{job}/verdict").text
    assert "Only the order is said so far" in shown and 'class="bar"' not in shown


def test_after_a_change_the_first_look_stands_beside_the_answer_of_before(
    client: TestClient, store: Store, work: Work
) -> None:
    job = judged(store)
    store.write(job, "car.toml", small_car() + "\n# other tyres\n")
    looked_at(store, work, job)
    found = page(client, job)
    assert found["state"] == "found" and found["stale"] and found["first_look"]["ranking"]
    shown = client.get(f"/jobs/{job}/verdict").text
    assert shown.index('id="first-look-heading"') < shown.index('id="ranking-heading"')


def test_a_ranking_by_re_weighting_needs_no_first_look(client: TestClient, store: Store, work: Work) -> None:
    job = judged(store)
    store.write(job, "readings.toml", add_reading(READINGS, {"test": "port-measure", "port": "31 mm"}))
    looked_at(store, work, job)
    assert page(client, job)["provisional"] == "kept"
    assert 'id="first-look"' not in client.get(f"/jobs/{job}/verdict").text


def test_work_that_was_stopped_can_be_started_again(client: TestClient, store: Store, work: Work) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    work.stop(work.start(job, "diagnose", {}).id)
    shown = client.get(f"/jobs/{job}/verdict")
    assert page(client, job)["state"] == "failed" and "Try again" in shown.text


def test_where_more_of_the_car_must_be_told_the_page_leads_there_and_offers_no_further_try(
    client: TestClient, store: Store, work: Work
) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    task = work.start(job, "diagnose", {}).id
    error = {"kind": "missing", "where": "car.toml", "says": "The litres are missing.", "do": ""}
    with store.database.writing() as connection:
        ended = update(schema.task).where(schema.task.c.id == task)
        connection.execute(ended.values(state="failed", error=packed(error)))
    shown = client.get(f"/jobs/{job}/verdict").text
    assert f'href="/jobs/{job}/car">Tell it on the page Car' in shown and "Try again" not in shown


def test_a_verdict_is_shown_whole(client: TestClient, store: Store) -> None:
    job = judged(store)
    shown = client.get(f"/jobs/{job}/verdict")
    assert shown.status_code == 200 and len(shown.content) < 80_000 and 'style="' not in shown.text
    found = page(client, job)
    assert found["state"] == "found" and not found["provisional"] and not found["stale"]
    assert [(r["id"], r["shown"]) for r in found["view"]["ranking"]][:2] == [
        ("port-too-small", "62 %"),
        ("port-entry-poor", "30 %"),
    ]
    assert found["test"]["id"] == "port-measure" and found["form"]["test"] == "port-measure"
    text = shown.text
    sentences = (
        "Speaks against it", "Seat leak speaks clearly against it.", "Usual repair", "Look the same so far",
        "What would change it", "Leave out what was said", "The log has holes in time.", "Full-load pulls",
    )  # fmt: skip
    for said in sentences:
        assert said in text
    assert text.index('class="cautions"') < text.index('id="reading-form"')
    assert 'width="62.0"' in text  # the bar is as long as the computed share


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"none_of_these": 0.9}, "look for something that nobody has thought of"),
        ({"healthy": 0.9}, "Everything that was measured fits a car without a fault"),
        (
            {"fit": replace(verdict().fit, trust="order only")},
            "In this order; the numbers cannot be trusted yet.",
        ),
        ({"next_tests": ()}, "No open test saves more time than it takes."),
        ({"curves": (), "bands": ()}, "The curves were not kept with this answer."),
        ({"fit": replace(verdict().fit, misfit=1e-4)}, "Even the leading cause does not explain all"),
    ],
    ids=["none", "sound", "order", "no test", "no curves", "misfit"],
)
def test_every_kind_of_answer_has_its_words(
    client: TestClient, store: Store, changes: dict, said: str
) -> None:
    shown = client.get(f"/jobs/{judged(store, verdict(**changes))}/verdict")
    assert shown.status_code == 200 and said in shown.text


def test_only_a_log(client: TestClient, store: Store) -> None:
    job = store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id
    store.answers.keep(job, "diagnose", to_kept(verdict()), {}, store.content(job))
    assert (
        page(client, job)["only_log"]
        and "the car and the log alone" in client.get(f"/jobs/{job}/verdict").text
    )


def test_a_reading_is_tried_without_keeping_it(client: TestClient, store: Store) -> None:
    job = judged(store)
    sent = {"test": "port-measure", "unit": "psi", "port": "31"}
    found = client.post(f"/jobs/{job}/verdict/try", data=sent).json()
    assert found["state"] == "moved" and found["ranking"][0]["id"] == "port-entry-poor"
    assert (found["ranking"][0]["strength_says"], found["ranking"][0]["shown"]) == ("probably", "76 %")
    nothing = client.post(f"/jobs/{job}/verdict/try", data={**sent, "port": ""}).json()
    assert nothing["state"] == "as before" and nothing["ranking"][0]["id"] == "port-too-small"
    unread = client.post(f"/jobs/{job}/verdict/try", data={**sent, "port": "x"}).json()
    assert unread["state"] == "as before"
    assert store.text(job, "readings.toml") == READINGS


def test_a_case_that_is_not_open_says_so(client: TestClient, store: Store, open_already: OpenAlready) -> None:
    job = judged(store)
    for state in ("opening", "closed"):
        open_already.state = state
        found = client.post(
            f"/jobs/{job}/verdict/try", data={"test": "port-measure", "unit": "psi", "port": "31"}
        ).json()
        assert (found["state"], found["ranking"]) == (state, [])


def test_a_reading_kept_moves_the_ranking_until_the_full_answer_is_there(
    client: TestClient, store: Store, work: Work
) -> None:
    job = judged(store)
    sent = {"test": "port-measure", "unit": "psi", "port": "31", "entry": "step"}
    assert client.post(f"/jobs/{job}/verdict", data=sent).headers["location"] == f"/jobs/{job}/verdict"
    assert readings_in(store.text(job, "readings.toml"))[1]["port"] == "31 mm"
    assert [(task.kind, task.state) for task in work.tasks(job)] == [("diagnose", "waiting")]
    found = page(client, job)
    assert found["provisional"] == "kept" and not found["stale"]
    assert (
        found["view"]["ranking"][0]["id"] == "port-entry-poor"
        and found["view"]["explained"][0]["id"] == "port-too-small"
    )
    assert found["view"]["headline"].startswith("Probably poor way into the gate port")
    assert found["view"]["next"]["id"] == "tip-in" and found["view"]["alike"] == []  # the bore was measured
    text = client.get(f"/jobs/{job}/verdict").text
    assert "The full answer is being worked out" in text and "data-provisional" in text
    store.answers.keep(job, "diagnose", to_kept(verdict(next_tests=())), {}, store.content(job))
    assert page(client, job)["provisional"] == "" and page(client, job)["view"]["next"] is None


def test_another_change_is_no_reading(client: TestClient, store: Store) -> None:
    job = judged(store)
    store.write(job, "car.toml", small_car() + "\n# other tyres\n")
    store.write(job, "readings.toml", READINGS + '[[reading]]\ntest = "port-measure"\nport = "31 mm"\n')
    found = page(client, job)
    assert (
        found["stale"]
        and found["provisional"] == ""
        and found["view"]["ranking"][0]["id"] == "port-too-small"
    )
    assert "Rank again" in client.get(f"/jobs/{job}/verdict").text


def test_a_reading_that_was_changed_is_no_added_one(client: TestClient, store: Store) -> None:
    job = judged(store)
    store.write(job, "readings.toml", READINGS.replace("14 psi", "15 psi"))
    assert page(client, job)["stale"]


def test_what_cannot_be_read_stays_in_the_card(client: TestClient, store: Store, work: Work) -> None:
    job = judged(store)
    answer = client.post(f"/jobs/{job}/verdict", data={"test": "port-measure", "unit": "psi", "port": "many"})
    assert (
        answer.status_code == 422
        and 'value="many"' in answer.text
        and "cannot be read as a length" in answer.text
    )
    assert work.tasks(job) == []


def test_history_can_be_left_out(client: TestClient, store: Store, work: Work) -> None:
    job = judged(store)
    assert page(client, job, "?history=without")["state"] == "ready"
    client.post(f"/jobs/{job}/verdict/rank", data={"history": "without"})
    assert work.tasks(job)[0].choices == {"without_history": True}
    left_out = verdict(inputs={"case": "x", "without_history": True}, used=("pulls",))
    store.answers.keep(job, "diagnose", to_kept(left_out), {"without_history": True}, store.content(job))
    text = client.get(f"/jobs/{job}/verdict?history=without").text
    assert "Count what was said" in text and "What was said is left out of this ranking." in text


def test_a_case_that_was_never_worked_out_is_not_opened(store: Store) -> None:
    cases = OpenCases()
    job = judged(store)
    folder = store.folder(job)
    assert cases.ask(lambda: folder, "some content", {}) == "opening"
    for _ in range(300):
        if cases.ask(lambda: folder, "some content", {}) != "opening":
            break
        time.sleep(0.05)
    assert cases.ask(lambda: folder, "some content", {}) == "closed" and cases.get("some content", {}) is None


def test_what_was_made_after_the_repair_is_left_out_and_said(client: TestClient, store: Store, work: Work) -> None:
    job = judged(store)
    store.set_state(job, "mended")
    store.write(job, "recordings/new.csv", "time,rpm\n0,2000\n")
    text = add_reading(store.text(job, "readings.toml"), {"test": "port-measure", "port": "30 mm"})
    store.write(job, "readings.toml", text)
    found = page(client, job)
    assert not found["stale"] and not found["provisional"] and found["test"] is None
    assert found["left_out"] == [
        "1 recording made after the repair is left out of the ranking.",
        "1 reading taken after the repair is left out of the ranking.",
    ]
    assert found["view"]["ranking"][0]["shown"] == "62 %"
    shown = client.get(f"/jobs/{job}/verdict").text
    assert "1 recording made after the repair is left out" in shown and "The repair is done" in shown
    client.post(f"/jobs/{job}/verdict/rank")
    assert work.tasks(job) == []  # there is nothing to rank again
    store.set_state(job, "measuring")
    again = page(client, job)
    assert again["left_out"] == [] and again["stale"] and again["test"] is not None
