"""The Pulls page for programs: its JSON, its blocks of floats, and what it refuses."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient
from tests.unit.small_car import small_car

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.app import create_app
from boostproof.workflows.plot_block import unpack

LOG = "recordings/log.csv"


def _log(pulls: int = 1) -> bytes:
    """Pulls, each 2000 to 6000 rpm in 8 s, holding 68.95 kPa = 10.0 psi; 20 samples a second."""
    rows = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa),gate position (%)"]
    for step in range(260 * pulls):
        since = step % 260 / 20 - 2.0
        rising = 0.0 <= since < 8.0
        rpm = 2000 + 500 * since if rising else 2000.0
        boost = min(68.95, 30 * since) if rising else -50.0
        rows.append(f"{step / 20:.2f},{rpm:.1f},{98 if rising else 10},{boost:.2f},{100 if since > 4.0 else 0}")
    return ("\n".join(rows) + "\n").encode()


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with Store.open(tmp_path_factory.mktemp("store")) as store, Work(store, works=False) as work:
        store.new_job(small_car('[limits]\ntarget = "10 psi +/- 1 psi"'), {LOG: _log()})
        store.new_job(small_car())
        yield TestClient(create_app(store, work), base_url="http://localhost")


def test_a_program_reads_the_page_as_it_is_shown(client: TestClient) -> None:
    page = client.get("/jobs/1/pulls?as=json").json()
    (pull,) = page["pulls"]
    assert (pull["key"], pull["name"], pull["ticked"]) == (f"{LOG}#1", "1st", True)
    assert "plateau 10.0\u202fpsi" in pull["says"]
    assert [panel["channel"] for panel in page["panels"] if panel["drawn"]] == ["boost", "gate_position"]
    assert page["files"][0]["state"] == "read" and page["has_target"]
    assert client.get("/jobs/2/pulls?as=json").json()["pulls"] == []


def test_boost_comes_over_engine_speed_with_its_edges_and_the_boost_wanted(client: TestClient) -> None:
    reply = client.get("/jobs/1/pulls/curves?channels=boost,gate_position,nothing")
    assert reply.headers["content-type"] == "application/octet-stream"
    head, rpm, values = unpack(reply.content)
    named = [line["key"] if line["panel"] == "boost" else line["panel"] for line in head["lines"]]
    lines = dict(zip(named, values, strict=True))
    high = rpm > 4500.0
    assert lines[f"{LOG}#1"][high] == pytest.approx(10.0, abs=0.1)
    assert (lines[f"{LOG}#1 low"][high] < lines[f"{LOG}#1"][high]).all()
    assert lines["wanted low"] == pytest.approx(9.0, abs=0.05) and lines["wanted high"] == pytest.approx(11.0, abs=0.05)
    assert lines["gate_position"][rpm > 4300.0] == pytest.approx(100.0)
    assert set(head["panels"]) == {"boost", "gate_position"}
    text = client.get("/jobs/1/pulls/curves?channels=boost&as=json").json()
    assert text["x"] == rpm.tolist()


def test_a_window_of_the_recording_is_in_the_units_of_the_shop(client: TestClient) -> None:
    head, time, (boost,) = unpack(client.get(f"/jobs/1/pulls/window?path={LOG}&channels=boost&from=8&to=9").content)
    assert 7.9 < time[0] < 8.0 < 9.0 < time[-1] < 9.1
    assert boost == pytest.approx(10.0, abs=0.01)
    assert head["whole"] == [0.0, 12.95]
    assert [span["name"] for span in head["spans"]] == ["1st"]
    _, _, (whole,) = unpack(client.get(f"/jobs/1/pulls/window?path={LOG}&channels=boost&from=x&to=nan").content)
    assert np.nanmin(whole) == pytest.approx(-50.0 / 6.894757, abs=0.01)


@pytest.mark.parametrize("path", ["car.toml", "recordings/../car.toml", "/etc/passwd", "recordings/none.csv", ""])
def test_only_recordings_are_reached(client: TestClient, path: str) -> None:
    for address in ("window", "file"):
        assert client.get(f"/jobs/1/pulls/{address}", params={"path": path}).status_code in (404, 422)
    for address in ("remove", "aside", "column", "set-up", "again"):
        said = {"path": path, "channel": "boost", "column": "x"}
        assert client.post(f"/jobs/1/pulls/{address}", data=said).status_code in (404, 422)
    assert client.get("/jobs/1/pulls?as=json").json()["files"][0]["path"] == LOG


def test_names_of_files_and_headers_are_shown_and_never_run(client: TestClient) -> None:
    name = "<img src=x onerror=alert(1)>.csv"
    log = _log().replace(b"gate position (%)", b"<script>alert(1)</script>")
    reply = client.post("/jobs/2/pulls/files", files={"files": (name, log)}, headers={"accept": "text/html"})
    assert reply.status_code == 200
    assert "<script>alert" not in reply.text and "<img src=x" not in reply.text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in reply.text


def test_the_file_comes_back_byte_for_byte(client: TestClient, tmp_path: Path) -> None:
    assert client.get(f"/jobs/1/pulls/file?path={LOG}").content == _log()


def test_recordings_from_after_the_repair_are_marked(tmp_path: Path) -> None:
    with Store.open(tmp_path / "store") as store, Work(store, works=False) as work:
        job = store.new_job(small_car(), {LOG: _log()}).id
        shop = TestClient(create_app(store, work), base_url="http://localhost")
        store.set_state(job, "mended")
        store.write(job, "recordings/new.csv", _log())
        page = shop.get("/jobs/1/pulls?as=json").json()
        assert page["after"] == ["recordings/new.csv"]
        text = shop.get("/jobs/1/pulls", headers={"accept": "text/html"}).text
        assert "new.csv, after the repair" in text and "log.csv, after the repair" not in text
        store.write(job, "recordings/again.csv", _log(2))
        page = shop.get("/jobs/1/pulls?as=json").json()
        assert [file["path"] for file in page["files"]] == [LOG, "recordings/again.csv", "recordings/new.csv"]
        ticked = [(pull["path"], pull["after"]) for pull in page["pulls"] if pull["ticked"]]
        assert len(ticked) == 2 and ticked[0] == (LOG, False) and ticked[1][1]  # one of each side
        assert page["figures"]["names"][1].endswith(", after the repair") and "after" not in page["figures"]["names"][0]
        head, _, _ = unpack(shop.get("/jobs/1/pulls/curves").content)
        names = {line["of"]: line["name"] for line in head["lines"] if line.get("role") == "pull"}
        assert names == {pull["key"]: pull["nth"] for pull in page["pulls"]}


def test_where_a_repair_lies_is_said_on_the_page(tmp_path: Path) -> None:
    with Store.open(tmp_path / "store") as store, Work(store, works=False) as work:
        job = store.new_job(small_car(), {LOG: _log(2)}).id
        shop = TestClient(create_app(store, work), base_url="http://localhost", follow_redirects=False)
        pulls = shop.get("/jobs/1/pulls?as=json").json()["pulls"]
        assert len(pulls) == 2 and not any(pull["after"] for pull in pulls)
        last = pulls[-1]["number"]
        sent = {"path": LOG, "after_repair": f"{last}-"}
        origin = {"origin": "http://localhost"}
        assert shop.post("/jobs/1/pulls/set-up", data=sent, headers=origin).status_code == 303
        page = shop.get("/jobs/1/pulls?as=json").json()
        assert [pull["after"] for pull in page["pulls"]] == [False] * (len(pulls) - 1) + [True]
        assert page["files"][0]["repair"] == f"{last}-" and page["after"] == []
        text = shop.get("/jobs/1/pulls", headers={"accept": "text/html"}).text
        assert f'<option value="{last}-" selected>before the ' in text
        assert store.text(job, "pulls.toml").count("after_repair") == 1
        wrong = shop.post("/jobs/1/pulls/set-up", data=sent | {"after_repair": "soon"}, headers=origin)
        assert wrong.status_code == 422 and "no number of a pull" in wrong.text
        shop.post("/jobs/1/pulls/set-up", data=sent | {"after_repair": ""}, headers=origin)
        assert "after_repair" not in store.text(job, "pulls.toml")


def test_what_was_said_of_a_recording_is_taken_away_by_an_empty_field_and_nobodys_change_is_lost(tmp_path: Path) -> None:
    with Store.open(tmp_path / "store") as store, Work(store, works=False) as work:
        job = store.new_job(small_car(), {LOG: _log()}).id
        shop = TestClient(create_app(store, work), base_url="http://localhost", follow_redirects=False)
        shop.headers["origin"] = "http://localhost"
        said = {"path": LOG, "gear": "4", "note": "windy"}
        assert shop.post("/jobs/1/pulls/set-up", data=said).status_code == 303
        assert shop.post("/jobs/1/pulls/set-up", data={"path": LOG, "gear": ""}).status_code == 303
        text = store.text(job, "pulls.toml")
        assert "gear" not in text and 'note = "windy"' in text
        late = shop.post("/jobs/1/pulls/set-up", data={"path": LOG, "gear": "3", "seen": ""})
        assert late.status_code == 409 and store.text(job, "pulls.toml") == text


@pytest.mark.parametrize(("pulls", "behind"), [(7, 0), (9, 3)])
def test_of_many_pulls_the_last_unticked_stand_behind_the_list(tmp_path: Path, pulls: int, behind: int) -> None:
    with Store.open(tmp_path) as store, Work(store, works=False) as work:
        store.new_job(small_car(), {LOG: _log(pulls)})
        client = TestClient(create_app(store, work), base_url="http://localhost")
        text = client.get("/jobs/1/pulls", params={"show": f"{LOG}#{pulls}"}).text
    listed, _, further = text[text.index('id="pulls-chosen"') :].partition('id="further-pulls"')
    assert text.count('name="show"') == pulls
    assert further.count('name="show"') == behind
    assert f'value="{LOG}#{pulls}" data-line' in listed  # the ticked one
