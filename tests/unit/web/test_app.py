"""Shop page, settings, errors, the interface for programs: as pages and as JSON."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.requests import Request
from starlette.responses import Response
from tests.unit.web.a_car import CAR

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.app import create_app

LARGEST_PAGE = 200_000  # bytes, with everything that it loads


def as_json(client: TestClient, path: str) -> dict:
    answer = client.get(path, headers={"accept": "application/json"})
    assert answer.headers["content-type"] == "application/json"
    return answer.json()


def test_an_empty_shop_explains_itself(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "No job yet" in page.text and "Open the demo job" in page.text
    assert as_json(client, "/")["jobs"] == []


def test_a_new_job_leads_to_its_car_page_and_stands_in_the_list(client: TestClient, store: Store) -> None:
    answer = client.post("/jobs", data={"car": ' The "blue"  one ', "complaint": "slow\n\n climbs  late\r\n"})
    assert answer.status_code == 303 and answer.headers["location"] == "/jobs/1/car"
    written = 'format = 1\n\n[car]\nname = "The \\"blue\\" one"\ncomplaint = ["slow", "climbs late"]\n'
    assert store.text(1, "car.toml") == written
    row = as_json(client, "/")["jobs"][0]
    assert row["job"]["name"] == 'The "blue" one' and row["address"] == "/jobs/1" and row["step"] == 1


def test_a_job_without_a_car_is_sent_back_with_what_was_typed(client: TestClient, store: Store) -> None:
    answer = client.post("/jobs", data={"car": "  ", "complaint": "runs & roars"})
    assert answer.status_code == 422
    assert "Say what the car is called." in answer.text and "runs &amp; roars" in answer.text
    assert 'aria-invalid="true"' in answer.text and 'aria-describedby="h-car w-car"' in answer.text
    assert store.jobs() == []


def test_what_people_write_is_text_and_never_markup(client: TestClient, store: Store) -> None:
    store.new_job(CAR)
    page = client.get("/").text
    assert "&lt;b&gt;worse&lt;/b&gt;" in page and "<b>worse" not in page


def test_jobs_are_found_by_car_and_by_state(client: TestClient, store: Store) -> None:
    for name in ("Blue Estate", "Red Coupe", "Red Estate"):
        store.new_job(f'format = 1\n[car]\nname = "{name}"\n')
    store.set_state(2, "measuring")

    def names(query: str) -> list[str]:
        return sorted(row["job"]["name"] for row in as_json(client, f"/?{query}")["jobs"])

    assert names("search=estate") == ["Blue Estate", "Red Estate"]
    assert names("search=red&state=measuring") == ["Red Coupe"]
    assert names("state=nonsense") == ["Blue Estate", "Red Coupe", "Red Estate"]
    nothing = client.get("/?search=green")
    assert "No job fits" in nothing.text and "No job yet" not in nothing.text


def test_the_list_follows_files_and_answers(client: TestClient, store: Store) -> None:
    store.new_job(CAR)

    def holds() -> str:
        return as_json(client, "/")["jobs"][0]["holds"]

    assert holds() == ""
    store.write(1, "recordings/log.csv", "time,rpm\n0,1\n")
    assert holds() == "1 recording"
    for verdict in ("better", "cured"):
        store.answers.keep(1, "prove", {"verdict": verdict}, {}, store.content(1))
        assert holds() == f"Proof: {verdict}"
    store.remove(1, "recordings/log.csv")
    assert holds() == "Proof: cured (before the last change)"


@pytest.mark.parametrize("answer", [{"causes": [{}]}, {"causes": 7}, {"causes": [{"probability": "x", "parts": None}]}])
def test_one_odd_answer_does_not_take_the_list_down(client: TestClient, store: Store, answer: dict) -> None:
    store.new_job(CAR)
    store.new_job(CAR.replace("wagon", "coupe"))
    store.answers.keep(1, "diagnose", answer, {}, store.content(1))
    page = client.get("/")
    assert page.status_code == 200 and "/jobs/1" in page.text and "/jobs/2" in page.text


def test_a_job_goes_out_and_comes_in_with_what_was_done(client: TestClient, store: Store) -> None:
    store.new_job(CAR)
    store.answers.keep(1, "prove", {"verdict": "cured"}, {}, store.content(1))
    client.post("/jobs/1/state", data={"state": "proved"})
    client.post("/jobs/1/repair/money", data={"approved": "450", "amount": "120", "what": "gasket"})
    packed = client.get("/jobs/1/case.zip").content
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        files = [("files", (name, archive.read(name))) for name in archive.namelist() if not name.endswith("/")]
    for given in ([("files", ("case.zip", packed))], files):  # as one zip file, or file by file
        address = client.post("/jobs/bring", files=given).headers["location"]
        came = int(address.rsplit("/", 1)[1])
        assert store.job(came).state == "proved" and store.content(came) == store.content(1)
        assert store.settings.of_job(came).get("money") == store.settings.of_job(1).get("money")
        assert store.history(came)[: len(store.history(1))] == store.history(1)
        assert as_json(client, "/")["jobs"][0]["holds"] == "Proof: cured"


def test_a_job_file_that_is_none_is_refused_in_words(client: TestClient, store: Store) -> None:
    answer = client.post("/jobs/bring", files=[("files", ("car.toml", CAR)), ("files", ("job.json", b"{}"))])
    assert answer.status_code == 422 and "job.json is damaged, or not the one that boostproof writes" in answer.text
    assert store.jobs() == []


def test_a_job_leads_to_what_would_help_most(client: TestClient, store: Store) -> None:
    store.new_job('format = 1\n[car]\nname = "x"\n')
    assert client.get("/jobs/1").headers["location"] == "/jobs/1/car"
    store.write(1, "car.toml", CAR)
    assert client.get("/jobs/1").headers["location"] == "/jobs/1/pulls"
    store.write(1, "recordings/log.csv", "time,rpm\n0,1\n")
    assert client.get("/jobs/1").headers["location"] == "/jobs/1/verdict"


def test_a_case_folder_comes_in_as_files_and_goes_out_as_zip(client: TestClient, store: Store) -> None:
    log = b"time,rpm\r\n0,800\r\n"
    sent = client.post("/jobs/bring", files=[("files", ("car.toml", CAR)), ("files", ("log 1.csv", log))])
    assert sent.status_code == 303 and sent.headers["location"] == "/jobs/1"
    assert [file.path for file in store.files(1)] == ["car.toml", "recordings/log 1.csv"]

    packed = client.get("/jobs/1/case.zip")
    assert packed.headers["content-type"] == "application/zip"
    again = client.post("/jobs/bring", files=[("files", ("case.zip", packed.content))])
    assert again.headers["location"] == "/jobs/2"
    assert store.content(2) == store.content(1)
    assert store.read(2, "recordings/log 1.csv") == log


def test_files_that_are_no_case_are_sent_back_with_the_reason(client: TestClient, store: Store) -> None:
    answer = client.post("/jobs/bring", files=[("files", ("log.csv", b"a,b\n1,2\n"))])
    assert answer.status_code == 422 and "There is no car.toml among these files" in answer.text
    nothing = client.post("/jobs/bring", files=[("files", ("", b""))])
    assert nothing.status_code == 422
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("../car.toml", CAR)
    climbing = client.post("/jobs/bring", files=[("files", ("case.zip", out.getvalue()))])
    assert climbing.status_code == 422 and "leads out of its folder" in climbing.text
    assert store.jobs() == []


def test_the_demo_job_is_one_tap_away(client: TestClient, store: Store) -> None:
    assert client.post("/jobs/demo").headers["location"] == "/jobs/1"
    assert {"car.toml", "readings.toml", "recordings/log.csv"} <= {file.path for file in store.files(1)}
    assert "truth.toml" not in {file.path for file in store.files(1)}


def test_settings_are_kept_and_shown(client: TestClient, store: Store) -> None:
    typed = {"shop": "Quay & Sons", "units": "metric", "bay": "dark", "rate_bench": "80..110", "rate_dyno": ""}
    answer = client.post("/settings", data=typed)
    assert answer.status_code == 303 and answer.headers["location"] == "/settings?saved=yes"
    page = client.get("/settings?saved=yes").text
    assert "Saved." in page and "Quay &amp; Sons" in page and 'data-bay="dark"' in page
    assert store.settings.get("units") == "metric" and store.settings.get("rates") == {"bench": "80..110"}
    assert as_json(client, "/")["units"] == "metric"


@pytest.mark.parametrize("rate", ["cheap", "110..80", "-5", "80..", "1e3"])
def test_a_rate_that_cannot_be_read_is_sent_back_and_nothing_is_kept(client: TestClient, store: Store, rate: str) -> None:
    answer = client.post("/settings", data={"shop": "New name", "units": "metric", "rate_dyno": rate})
    assert answer.status_code == 422
    assert 'id="w-rate_dyno"' in answer.text and "New name" in answer.text and 'href="#f-rate_dyno"' in answer.text
    assert store.settings.get("shop") is None and store.settings.get("units") is None


@pytest.mark.parametrize(
    "path", ["/nothing", "/jobs/7", "/jobs/seven", "/jobs/7/car.html", "/jobs/7/case.zip", "/jobs/7/tasks/9",
             f"/jobs/{10**30}/car", f"/jobs/-{10**30}/car", f"/jobs/1/tasks/{10**30}"]
)  # fmt: skip
def test_what_is_not_there_says_so_and_what_to_do(client: TestClient, path: str) -> None:
    page = client.get(path)
    assert page.status_code == 404 and "Back to the jobs" in page.text
    error = as_json(client, path)["error"]
    assert set(error) == {"kind", "where", "says", "do"} and error["says"]


def test_a_state_that_there_is_not_is_refused(client: TestClient, store: Store) -> None:
    store.new_job(CAR)
    assert client.post("/jobs/1/state", data={"state": "sold"}).status_code == 422
    assert client.post("/jobs/1/state", data={}).status_code == 422
    set_now = client.post("/jobs/1/state", data={"state": "found", "back": "/jobs/1/verdict"})
    assert set_now.headers["location"] == "/jobs/1/verdict"
    assert store.job(1).state == "found"


@pytest.mark.parametrize("back", ["http://evil.example/", "//evil.example", "/jobs/1//x", "/jobs/10/car", "/settings",
                                  "/jobs/1/../../settings"])  # fmt: skip
def test_nobody_is_led_elsewhere(client: TestClient, store: Store, back: str) -> None:
    store.new_job(CAR)
    answer = client.post("/jobs/1/state", data={"state": "found", "back": back})
    assert answer.headers["location"] == "/jobs/1"


def test_what_a_browser_keeps_of_one_folder_is_not_taken_for_another(
    client: TestClient, work: Work, tmp_path: Path
) -> None:
    with Store.open(tmp_path / "other") as other:
        elsewhere = TestClient(create_app(other, work), base_url=str(client.base_url))
        names = [re.findall(r'<html [^>]*data-store="(\w{8})"', one.get("/").text) for one in (client, client, elsewhere)]
    assert len(names[0]) == 1 and names[0] == names[1] != names[2]
    script = re.search(r'src="(/static/\w+/keep\.js)"', client.get("/").text)
    assert script is not None and "dataset.store" in client.get(script[1]).text


def test_a_fault_of_ours_shows_nothing_of_the_inside(app: FastAPI, client: TestClient) -> None:
    def fail(request: Request) -> Response:
        raise RuntimeError("secret inside")

    app.add_route("/fail", fail)
    page = client.get("/fail")
    assert page.status_code == 500 and "Something failed inside the program" in page.text
    assert "secret" not in page.text and "RuntimeError" not in page.text and "Traceback" not in page.text
    assert as_json(client, "/fail")["error"]["kind"] == "internal"


@pytest.mark.parametrize("choices", ["[1", "1", '{"seed": NaN}', '{"seed": 1e999}', '{"a":' * 3000 + "1" + "}" * 3000])
def test_choices_that_are_none_are_refused(client: TestClient, store: Store, choices: str) -> None:
    store.new_job(CAR)
    answer = client.post("/jobs/1/tasks", data={"kind": "bench", "choices": choices}, headers={"accept": "application/json"})
    assert answer.status_code == 422 and answer.json()["error"]["kind"] == "not-understood"


def test_work_is_started_shown_and_stopped(client: TestClient, store: Store) -> None:
    store.new_job(CAR)
    assert client.post("/jobs/1/tasks", data={"kind": "guess"}).status_code == 422
    assert client.post("/jobs/1/tasks", data={"kind": "diagnose", "choices": "[1"}).status_code == 422
    started = client.post("/jobs/1/tasks", data={"kind": "diagnose", "back": "/jobs/1/verdict"})
    assert started.headers["location"] == "/jobs/1/verdict"
    task = as_json(client, "/jobs/1/tasks")["tasks"][0]
    assert task["kind"] == "diagnose" and task["choices"] == {}
    place = f"/jobs/1/tasks/{task['id']}"
    assert client.post(f"{place}/stop").headers["location"] == place
    assert as_json(client, place)["state"] in {"stopped", "failed"}
    assert client.get(f"/jobs/2/tasks/{task['id']}").status_code == 404


def test_the_interface_lists_every_address_with_what_it_does(client: TestClient) -> None:
    description = as_json(client, "/api/openapi.json")
    assert description["openapi"].startswith("3.1")
    routes = as_json(client, "/api")["routes"]
    assert {(row["method"], row["path"]) for row in routes} == {
        (method.upper(), path) for path, operations in description["paths"].items() for method in operations
    }
    assert all(row["says"].endswith(".") for row in routes)
    shop = next(row for row in routes if row["path"] == "/")
    assert shop["gives"] == "ShopPage" and [one["name"] for one in shop["takes"]] == ["search", "state"]
    page = client.get("/api").text
    assert all(row["path"] in page for row in routes)


def test_the_json_of_a_page_is_as_described(client: TestClient, store: Store) -> None:
    import jsonschema

    store.new_job(CAR)
    description = as_json(client, "/api/openapi.json")
    schema = {"$ref": "#/components/schemas/ShopPage", "components": description["components"]}
    jsonschema.validate(as_json(client, "/"), schema)


def test_pages_are_small_and_what_they_load_is_kept_for_ever(client: TestClient, store: Store) -> None:
    for number in range(30):
        store.new_job(f'format = 1\n[car]\nname = "Car {number}"\ncomplaint = ["{"long " * 60}"]\n')
    for path in ("/", "/settings", "/api"):
        page = client.get(path)
        total = len(page.content)
        for address in set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page.text)):
            file = client.get(address)
            assert file.status_code == 200 and "immutable" in file.headers["cache-control"]
            total += len(file.content)
        assert total < LARGEST_PAGE, path


def test_a_static_file_under_an_old_address_is_not_kept(client: TestClient) -> None:
    assert client.get("/static/0000/base.css").headers["cache-control"] == "no-cache"
    assert client.get("/static/0000/nothing.css").status_code == 404
    assert client.get("/static/0000/..%2f..%2fapp.py").status_code == 404


def test_the_plots_come_from_an_installed_package(client: TestClient) -> None:
    page = client.get("/").text
    version = urlsplit(re.findall(r'href="(/static/[^"]+base\.css)"', page)[0]).path.split("/")[2]
    assert "uPlot (v1.6.31)" in client.get(f"/static/{version}/uplot.js").text[:200]


def test_a_language_of_a_browser_that_asks_for_both_gets_the_page(client: TestClient) -> None:
    both = client.get("/", headers={"accept": "text/html,application/json;q=0.9"})
    assert both.headers["content-type"].startswith("text/html")
    assert client.get("/?as=json").headers["content-type"] == "application/json"


def test_no_folder_is_left_behind(client: TestClient, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import tempfile

    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    store.new_job(CAR)
    client.get("/jobs/1/case.zip")
    client.post("/jobs/bring", files=[("files", ("car.toml", CAR))])
    assert list(place.iterdir()) == []
