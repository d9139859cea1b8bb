"""Proof: choosing pulls, what is said of a comparison, sign-off."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car
from tests.unit.web import made_up
from tests.unit.workflows.test_prove import CAR, READINGS, write_log

from boostproof.casefolder.readings_edit import add_reading
from boostproof.jobs.kinds import prove
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.pages.report import _parts, report_page

HOME = "/jobs/1/proof"


@pytest.fixture(scope="module")
def driven(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case with three drawn pulls before a repair and three after it."""
    folder = tmp_path_factory.mktemp("driven") / "case"
    (folder / "recordings").mkdir(parents=True)
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    (folder / "readings.toml").write_text(READINGS.format(first=60, full=95), encoding="utf-8")
    write_log(folder / "recordings" / "old.csv", 1, 18.0, 210.0)
    write_log(folder / "recordings" / "new.csv", 2, 0.0, 200.0)
    return folder


def as_json(client: TestClient, path: str = HOME) -> dict:
    return client.get(path, headers={"accept": "application/json"}).json()


def kept(store: Store, answer: dict) -> int:
    job = store.new_job(small_car())
    store.answers.keep(job.id, "prove", answer, {"before": [], "after": []}, store.content(job.id))
    return job.id


def test_without_pulls_the_page_sends_to_them(client: TestClient, store: Store) -> None:
    store.new_job(small_car())
    assert as_json(client)["stage"] == "no pulls"
    assert 'href="/jobs/1/pulls"' in client.get(HOME).text


def test_pulls_are_named_and_those_after_the_repair_are_supposed_by_when_they_came(
    client: TestClient, store: Store, work: Work, driven: Path
) -> None:
    job = store.import_case(driven)
    assert {p["side"] for p in as_json(client)["pulls"]} == {""}  # no repair was done yet
    store.remove(job.id, "recordings/new.csv")
    store.set_state(job.id, "mended")
    store.write(job.id, "recordings/newer.csv", (driven / "recordings" / "new.csv").read_bytes())
    pulls = as_json(client)["pulls"]
    assert {p["file"]: p["side"] for p in pulls} == {"old.csv": "before", "newer.csv": "after"}
    assert [p["key"] for p in pulls if p["side"] == "before"] == [
        f"recordings/old.csv#{k}" for k in (1, 2, 3)
    ]
    low = (driven / "recordings" / "old.csv").read_text().splitlines()
    low = [low[0], *(row for row in low[1:] if float(row.split(",")[0]) < 30.0 and float(row.split(",")[1]) < 4500.0)]
    store.write(job.id, "recordings/low.csv", "\n".join(low))
    sides = {p["side"] for p in as_json(client)["pulls"] if p["file"] == "low.csv"}
    assert sides == {""}  # it ends far below the others
    store.remove(job.id, "recordings/low.csv")
    store.answers.keep(job.id, "forecast", made_up.forecast(), {}, store.content(job.id))
    forecast = store.answers.latest(job.id, "forecast", current=False)
    assert forecast is not None
    client.post(
        HOME,
        data={"before": "recordings/old.csv#1", "after": "recordings/newer.csv#2", "other_sensor": "yes"},
    )
    task = next(task for task in work.tasks(job.id) if task.kind == "prove")
    assert task.choices == {
        "before": ["recordings/old.csv#1"], "after": ["recordings/newer.csv#2"], "same_sensor": False,
        "forecast": {"answer": forecast.id}, "repeated": [],
    }  # fmt: skip
    work.stop(task.id)


def test_a_recording_of_both_sides_is_parted_where_the_repair_lies(
    client: TestClient, store: Store, driven: Path
) -> None:
    job = store.import_case(driven)
    store.remove(job.id, "recordings/new.csv")
    told = 'format = 1\n[[recording]]\nfile = "recordings/old.csv"\nafter_repair = "3-"\n'
    store.write(job.id, "pulls.toml", told)
    assert [p["side"] for p in as_json(client)["pulls"]] == ["before", "before", "after"]
    assert as_json(client)["stations"][1]["says"].endswith(", 1 after the repair")
    store.write(job.id, "pulls.toml", "format = 1\n")
    assert {p["side"] for p in as_json(client)["pulls"]} == {""}
    sides = {"before": ["recordings/old.csv#1"], "after": ["recordings/old.csv#2"]}
    store.answers.keep(job.id, "prove", made_up.proof("better"), sides, store.content(job.id))
    page = as_json(client)
    assert [p["side"] for p in page["pulls"]] == ["before", "after", ""] and page["go_on"]
    assert _parts(store, job.id)["after"] == ["recordings/old.csv#2"] and "without" not in _parts(store, job.id)
    assert page["neither"] == []
    sides = {"before": ["recordings/old.csv#1"], "after": ["recordings/old.csv#3"]}
    store.answers.keep(job.id, "prove", made_up.proof("better"), sides, store.content(job.id))
    page = as_json(client)
    says = "Pull 2 of old.csv, between the two sides of the repair and ticked on neither: left out of both."
    assert page["neither"] == [says] and client.get(HOME).text.count(says) == 2  # what it rests on, and where it is chosen
    assert page["stations"][1]["says"].endswith(", 1 after the repair")
    assert "without" not in _parts(store, job.id)
    drawn = as_json(client, "/jobs/1/pulls")["pulls"]
    assert [(p["after"], p["between"]) for p in drawn] == [(False, False), (False, True), (True, False)]
    assert client.get("/jobs/1/pulls").text.count("before or after the repair? left out of both") == 1


def test_readings_taken_after_the_repair_are_ticked_and_a_person_may_say_otherwise(
    client: TestClient, store: Store, work: Work, driven: Path
) -> None:
    job = store.import_case(driven)
    assert [(r["key"], r["after"]) for r in as_json(client)["readings"]] == [("actuator-sweep#1", False)]
    assert "8.7\u202fpsi (typed: 60 kPa)" in as_json(client)["readings"][0]["says"]  # 60 kPa are 8.702 psi
    store.set_state(job.id, "mended")
    text = store.text(job.id, "readings.toml")
    for row in (
        {"test": "actuator-sweep", "first_movement": "85 kPa", "full_travel": "120 kPa", "travel": "14 mm"},
        {"test": "seat-leak", "not_done": "no time"},
    ):
        text = add_reading(text, row)
    store.write(job.id, "readings.toml", text)
    rows = as_json(client)["readings"]
    assert [(r["key"], r["after"]) for r in rows] == [("actuator-sweep#1", False), ("actuator-sweep#2", True)]
    assert "85 kPa" in rows[1]["says"] and "travel" in rows[1]["says"]
    assert 'value="actuator-sweep#2" checked' in client.get(HOME).text
    sides = {side: [f"recordings/{name}.csv#{k}" for k in (1, 2, 3)] for side, name in (("before", "old"), ("after", "new"))}
    wrong = client.post(HOME, data={"before": sides["before"], "repeated": "actuator-sweep#1"})
    assert wrong.status_code == 422 and 'value="actuator-sweep#1" checked' in wrong.text
    assert 'value="actuator-sweep#2" checked' not in wrong.text
    client.post(HOME, data={**sides, "repeated": ["actuator-sweep#2", "port-measure#7"]})
    task = next(task for task in work.tasks(job.id) if task.kind == "prove")
    assert task.choices["repeated"] == ["actuator-sweep#2"]
    assert work.wait(task.id, 60.0).state == "done"
    result = as_json(client)["result"]
    assert result["readings"] and not any("not done again" in says for says in result["untested"])
    report = report_page(store, work, job.id, {})
    assert report.stage == "empty" and "before" in report.holds[-1].casefold()
    client.post("/jobs/1/report", data={"made_for": "shop"})
    made = next(task for task in work.tasks(job.id) if task.kind == "report")
    assert made.choices["repeated"] == ["actuator-sweep#2"] and "without" not in made.choices
    work.stop(made.id)
    store.write(job.id, "recordings/later.csv", (driven / "recordings" / "new.csv").read_bytes())
    client.post("/jobs/1/report", data={"made_for": "shop"})
    made = next(task for task in work.tasks(job.id) if task.kind == "report")
    assert made.choices["without"] == ["recordings/later.csv"]
    work.stop(made.id)


def test_a_side_without_pulls_and_a_pull_on_both_are_sent_back(
    client: TestClient, store: Store, driven: Path
) -> None:
    store.import_case(driven)
    none = client.post(HOME, data={"before": "recordings/old.csv#1"})
    assert none.status_code == 422 and "at least one pull from after the repair" in none.text
    assert re.search(r'name="before" value="recordings/old.csv#1" checked', none.text)
    both = client.post(HOME, data={"before": "recordings/old.csv#1", "after": "recordings/old.csv#1"})
    assert both.status_code == 422 and "not both" in both.text


def test_the_kind_proves_with_a_kept_forecast_and_says_it_in_both_units(driven: Path) -> None:
    told = {**made_up.forecast(), "rpm": [4000.0, 6000.0]}
    told["together"] = {
        f"{k}_kpa_gauge": [v] * 2 for k, v in (("low", 80.0), ("middle", 90.0), ("high", 100.0))
    }
    sides = {"before": ["recordings/old.csv"], "after": ["recordings/new.csv"]}
    answer = json.loads(
        json.dumps(prove(driven, {**sides, "forecast": told}, lambda *said: None), allow_nan=False)
    )
    assert answer["verdict"] == "cured" and answer["forecast"]["verdict"] == "as forecast"
    assert "kPa" in answer["sentences"]["kPa"]["says"] and "psi" in answer["sentences"]["psi"]["says"]
    assert answer["says"] == answer["sentences"]["kPa"]["says"]


def test_what_came_of_it_is_said_in_the_shops_units_with_its_reasons(
    client: TestClient, store: Store
) -> None:
    kept(store, made_up.proof())
    page = as_json(client)
    result = page["result"]
    assert (page["stage"], result["head"], result["says"]) == (
        "shown",
        "Cured",
        "The repair cured the car, said in psi.",
    )
    assert result["reasons"][:2] == ["Before: pulls 1, 2 of old.csv.", "After: pull 1 of new.csv."]
    assert result["room"][1] == "The highest boost lies 7.0\u202fpsi below the boost never to be passed."
    assert result["rows"][0][2:4] == ["17.1", "14.5"]
    assert [line["id"] for line in result["boost"]["lines"]] == ["before", "after"]
    assert result["untested"][0] == "Nothing was tested at rest."
    store.settings.set("units", "metric")
    assert as_json(client)["result"]["says"] == "The repair cured the car, said in kPa."
    words = client.get(HOME).text
    assert words.index("Take care") < words.index("Cured</h2>") < words.index("What was not tested")


def test_a_second_fault_and_what_was_not_tested_are_named(client: TestClient, store: Store) -> None:
    job = store.new_job(small_car())
    store.write(job.id, "readings.toml", READINGS.format(first=60, full=95))
    store.answers.keep(job.id, "diagnose", made_up.verdict(), {}, store.content(job.id))
    store.answers.keep(
        job.id,
        "prove",
        made_up.proof("better", second=True),
        {"before": [], "after": []},
        store.content(job.id),
    )
    result = as_json(client)["result"]
    assert result["second_fault"] == ["at the top end"] and result["next"] == "Diagnose the case again."
    assert result["untested"] == [
        "These tests at rest were not done again after the repair: air straight on the actuator.",
        "Above 6,000\u202frpm nothing was driven on both sides; the redline is 6,800\u202frpm.",
        "The cause (gate port too small for this engine and target) was inferred, its own test was not done.",
    ]


def test_a_sign_off_is_kept_with_name_note_and_date_and_sets_the_job(
    client: TestClient, store: Store
) -> None:
    job = kept(store, made_up.proof())
    wrong = client.post(f"{HOME}/sign", data={"name": " ", "note": "told <b>all</b>", "state": "proved"})
    assert (
        wrong.status_code == 422
        and "Write who signs." in wrong.text
        and "told &lt;b&gt;all&lt;/b&gt;" in wrong.text
    )
    assert client.post(f"{HOME}/sign", data={"name": "Ada", "state": "sold"}).status_code == 422
    assert store.job(job).state == "new"
    done = client.post(f"{HOME}/sign", data={"name": " Ada ", "note": "drives well", "state": "proved"})
    assert done.status_code == 303 and store.job(job).state == "proved"
    assert store.history(job)[-2].says == "Signed off by Ada: cured. drives well"
    (signed,) = as_json(client)["signed"]
    assert (signed["name"], signed["verdict"], signed["state"], signed["note"]) == (
        "Ada",
        "cured",
        "proved",
        "drives well",
    )
    assert datetime.now(UTC) - datetime.fromisoformat(signed["at"]) < timedelta(minutes=5)


def test_nothing_can_be_signed_before_a_comparison(client: TestClient, store: Store) -> None:
    store.new_job(small_car())
    answer = client.post(f"{HOME}/sign", data={"name": "Ada", "state": "proved"})
    assert answer.status_code == 422 and store.job(1).state == "new"


def test_a_car_that_is_not_right_yet_goes_on_as_a_job_of_its_own(client: TestClient, store: Store) -> None:
    job = store.new_job(small_car(), {"recordings/old.csv": b"x\n"}).id
    store.set_state(job, "mended")
    store.write(job, "recordings/new.csv", "x,y\n")
    sides = {"before": ["recordings/old.csv#1"], "after": ["recordings/new.csv#1"]}
    store.answers.keep(job, "prove", made_up.proof(), sides, store.content(job))
    assert not as_json(client)["go_on"] and "go-on" not in client.get(HOME).text
    store.answers.keep(job, "prove", made_up.proof("better", second=True), sides, store.content(job))
    assert as_json(client)["go_on"]
    token = re.search(r'action="/jobs/1/proof/go-on"><input[^>]*name="(\w+)" value="([^"]+)"', client.get(HOME).text)
    assert token is not None
    for _ in range(2):  # sent again after a lost answer it opens no second one
        opened = client.post(f"{HOME}/go-on", data={token[1]: token[2]})
        assert opened.headers["location"] == "/jobs/2/car"
    assert [job.id for job in store.jobs()] == [2, 1] or [job.id for job in store.jobs()] == [1, 2]
    assert [f.path for f in store.files(2)] == ["car.toml", "recordings/new.csv"]
    first, further = store.job(1), store.job(2)
    assert further.name == f"{first.name}, after the repair"
    assert as_json(client)["went_on"]["id"] == 2 and as_json(client, "/jobs/2/car")["came_from"]["name"] == first.name
    page = client.get(HOME).text
    assert f'<a href="/jobs/2">{further.name}</a>' in page and "/go-on" not in page
    assert f'Before the repair: <a href="/jobs/1">{first.name}</a>' in client.get("/jobs/2/car").text
    assert store.history(2)[-1].says == "Goes on from job 1, after its repair"
    assert store.history(1)[-1].says == "The car as repaired goes on as job 2"
    store.set_state(2, "mended")
    store.write(2, "recordings/newest.csv", "x,y\n")
    sides = {"before": ["recordings/new.csv#1"], "after": ["recordings/newest.csv#1"]}
    store.answers.keep(2, "prove", made_up.proof("better"), sides, store.content(2))
    assert client.post("/jobs/2/proof/go-on").headers["location"] == "/jobs/3/car"
    assert store.job(3).name == f"{first.name}, after 2 repairs"
