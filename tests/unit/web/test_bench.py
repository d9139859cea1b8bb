"""The bench page: tests in groups, forms made from the keys, readings kept without loss."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car
from tests.unit.web.made_verdict import READINGS, judged

from boostproof.bench.readings import READING_TYPES
from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.jobs.store import Store
from boostproof.keys import walk
from boostproof.web.words import t

AS_JSON = {"accept": "application/json"}


def test_every_key_of_a_reading_has_its_words() -> None:
    for test, spec in READING_TYPES.items():
        for path, key in walk(spec):
            if key.of is None and path[0] not in ("gauge", "test"):
                assert t(f"bench.label.{path[-1]}"), test


@pytest.mark.parametrize("test", READING_TYPES)
def test_every_test_has_its_page_with_cautions_before_all_else(
    client: TestClient, store: Store, test: str
) -> None:
    job = judged(store)
    page = client.get(f"/jobs/{job}/bench?test={test}")
    assert page.status_code == 200 and len(page.content) < 80_000
    text = page.text
    assert text.index('class="cautions"') < text.index('class="steps"') < text.index('id="reading-form"')
    assert 'style="' not in text


def test_the_list_says_what_is_worth_doing_and_why_not(client: TestClient, store: Store) -> None:
    job = judged(store)
    found = client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()
    first = found["worth"][0]
    assert (first["id"], first["says"]) == ("port-measure", "saves about 80\u202fmin")
    assert found["test"]["id"] == "port-measure" and [one["id"] for one in found["done"]] == [
        "actuator-sweep"
    ]
    assert {one["id"]: one["says"] for one in found["not_here"]}["line-sweep"].startswith(
        "Only for a car without"
    )


def test_a_reading_is_kept_behind_the_others(client: TestClient, store: Store) -> None:
    job = judged(store)
    before = store.text(job, "readings.toml")
    sent = {
        "test": "port-measure",
        "unit": "bar",
        "port": "22",
        "lift": ["", "none"],
        "entry": "clean",
        "by": "Ines",
    }
    answer = client.post(f"/jobs/{job}/bench", data=sent)
    assert (
        answer.status_code == 303
        and answer.headers["location"] == f"/jobs/{job}/bench?reading=1&said=changed"
    )
    after = store.text(job, "readings.toml")
    assert after.startswith(before)
    assert readings_in(after)[1] == {
        "test": "port-measure",
        "by": "Ines",
        "port": "22 mm",
        "lift": "none",
        "entry": "clean",
    }
    assert store.job(job).state == "measuring"
    page = client.get(answer.headers["location"]).text
    assert "Kept. Here is what it means." in page and "port diameter" in page


def test_the_first_reading_makes_the_file(client: TestClient, store: Store) -> None:
    job = store.new_job(small_car()).id
    client.post(f"/jobs/{job}/bench", data={"test": "seat-leak", "unit": "psi", "expect": "", "light": "no"})
    assert (
        store.text(job, "readings.toml") == 'format = 1\n\n[[reading]]\ntest = "seat-leak"\nlight = false\n'
    )


def test_what_cannot_be_read_comes_back_as_typed_with_the_reason_beside_it(
    client: TestClient, store: Store
) -> None:
    job = judged(store)
    answer = client.post(
        f"/jobs/{job}/bench", data={"test": "port-measure", "unit": "psi", "port": "many", "lift": "9"}
    )
    assert answer.status_code == 422 and store.text(job, "readings.toml") == READINGS
    assert 'value="many"' in answer.text and 'value="9"' in answer.text
    assert 'id="q-port"' in answer.text and "&#34;many&#34; cannot be read as a length." in answer.text
    assert 'aria-describedby="h-port q-port" aria-invalid="true"' in answer.text


def test_an_empty_form_is_no_reading(client: TestClient, store: Store) -> None:
    job = judged(store)
    answer = client.post(f"/jobs/{job}/bench", data={"test": "free-travel", "unit": "psi", "arm": ""})
    assert answer.status_code == 422 and "Fill in at least one thing that you saw" in answer.text


def test_a_test_that_could_not_be_done_is_not_offered_again(client: TestClient, store: Store) -> None:
    job = judged(store)
    client.post(
        f"/jobs/{job}/bench",
        data={"test": "port-measure", "unit": "psi", "port": "", "not_done": "no access"},
    )
    found = client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()
    assert readings_in(store.text(job, "readings.toml"))[1] == {
        "test": "port-measure",
        "not_done": "no access",
    }
    assert "port-measure" not in [one["id"] for one in found["worth"]]
    assert [one["says"] for one in found["done"]] == ["", "Not done: no access"]


def test_a_reading_is_corrected_where_it_stands(client: TestClient, store: Store) -> None:
    job = judged(store)
    shown = client.get(f"/jobs/{job}/bench?reading=0").text
    assert 'name="index" value="0"' in shown and 'value="9"' in shown and "Correct this reading" in shown
    sent = {
        "test": "actuator-sweep",
        "unit": "psi",
        "index": "0",
        "first_movement": "9 psi",
        "full_travel": "15",
        "travel": "12",
    }
    client.post(f"/jobs/{job}/bench", data=sent)
    assert store.text(job, "readings.toml") == READINGS.replace('"14 psi"', '"15 psi"')


def test_a_reading_is_taken_out_and_its_version_stays(client: TestClient, store: Store) -> None:
    job = judged(store)
    expect = next(f.sha256 for f in store.files(job) if f.path == "readings.toml")
    client.post(f"/jobs/{job}/bench/remove", data={"index": "0", "expect": expect})
    assert readings_in(store.text(job, "readings.toml")) == []
    assert expect in [v.sha256 for v in store.versions(job, "readings.toml")]


@pytest.mark.parametrize("index", ["", "x", "²", "99", "-1"])
def test_a_reading_that_is_not_there_is_not_taken_out(client: TestClient, store: Store, index: str) -> None:
    job = judged(store)
    before = store.content(job)
    assert client.post(f"/jobs/{job}/bench/remove", data={"index": index}).status_code == 422
    assert client.get(f"/jobs/{job}/bench", params={"reading": index}).status_code == 200
    assert store.content(job) == before


def test_what_was_changed_elsewhere_is_not_written_over(client: TestClient, store: Store) -> None:
    job = judged(store)
    old = next(f.sha256 for f in store.files(job) if f.path == "readings.toml")
    store.write(job, "readings.toml", READINGS + "# theirs\n")
    answer = client.post(
        f"/jobs/{job}/bench", data={"test": "port-measure", "unit": "psi", "port": "22", "expect": old}
    )
    assert answer.status_code == 409 and 'value="22"' in answer.text and "changed elsewhere" in answer.text
    assert store.text(job, "readings.toml").endswith("# theirs\n")
    now = next(f.sha256 for f in store.files(job) if f.path == "readings.toml")
    assert f'name="expect" value="{now}"' in answer.text


def test_rows_can_be_added_without_keeping(client: TestClient, store: Store) -> None:
    job = judged(store)
    sent = {"test": "sensor-check", "unit": "psi", "rows.0.applied": "0", "rows.0.reads": "99.5", "more": "2"}
    answer = client.post(f"/jobs/{job}/bench", data=sent)
    assert (
        answer.status_code == 200 and 'name="rows.2.applied"' in answer.text and 'value="99.5"' in answer.text
    )
    assert store.text(job, "readings.toml") == READINGS


def test_a_meaning_comes_before_anything_is_kept(client: TestClient, store: Store) -> None:
    job = judged(store)
    sent = {
        "test": "actuator-sweep",
        "unit": "psi",
        "first_movement": "14",
        "full_travel": "11",
        "index": "0",
    }
    found = client.post(f"/jobs/{job}/bench/meaning", data=sent).json()
    assert list(found["questions"]) == ["full_travel"] and store.text(job, "readings.toml") == READINGS
    good = client.post(f"/jobs/{job}/bench/meaning", data={**sent, "full_travel": "19"}).json()
    assert good["figures"][0]["name"] == "opening pressure" and good["questions"] == {}
    bad = client.post(f"/jobs/{job}/bench/meaning", data={**sent, "first_movement": "x"}).json()
    assert list(bad["wrong"]) == ["first_movement"] and bad["figures"] == []


def test_the_unit_of_the_gauge_in_hand_is_remembered(client: TestClient, store: Store) -> None:
    job = judged(store)
    assert client.post(f"/jobs/{job}/bench/gauge", data={"unit": "bar"}).status_code == 303
    assert client.get(f"/jobs/{job}/bench?test=hose-flow", headers=AS_JSON).json()["form"]["unit"] == "bar"
    client.post(
        f"/jobs/{job}/bench/gauge",
        data={"unit": "bar", "details": "yes", "smallest_mark": "0.05", "class": "1.6"},
    )
    assert '[gauge]\nsmallest_mark = "0.05 bar"\nclass = "1.6 %"\n' in store.text(job, "readings.toml")
    wrong = client.post(
        f"/jobs/{job}/bench/gauge", data={"unit": "bar", "details": "yes", "smallest_mark": "tiny"}
    )
    assert (
        wrong.status_code == 422
        and 'value="tiny"' in wrong.text
        and "tiny" not in store.text(job, "readings.toml")
    )


def test_a_hot_repeat_asks_first_what_is_repeated(client: TestClient, store: Store) -> None:
    job = judged(store)
    assert 'name="of"' in client.get(f"/jobs/{job}/bench?test=hot-repeat").text
    assert 'name="first_movement"' in client.get(f"/jobs/{job}/bench?test=hot-repeat&of=actuator-sweep").text


def test_a_car_that_cannot_be_read_yet_leaves_the_bench_open(client: TestClient, store: Store) -> None:
    job = store.new_job('format = 1\n[car]\nname = "bare"\n').id
    found = client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()
    assert found["notices"][0]["kind"] == "car" and len(found["possible"]) == 28


def test_a_test_that_is_not_there_is_not_found(client: TestClient, store: Store) -> None:
    assert client.get(f"/jobs/{judged(store)}/bench?test=guessing").status_code == 404


@pytest.mark.parametrize("bay", ["bright", "dark"])
def test_set_up_drawings_are_served(client: TestClient, bay: str) -> None:
    drawn = client.get(f"/drawings/hose-flow.svg?bay={bay}")
    assert drawn.headers["content-type"] == "image/svg+xml" and drawn.content.startswith(b"<?xml")
    assert client.get("/drawings/no-such.svg").status_code in (404, 422)


def test_after_a_repair_the_tests_done_before_it_are_offered_again(client: TestClient, store: Store) -> None:
    text = add_reading("", {"test": "actuator-sweep", "first_movement": "9 psi", "full_travel": "14 psi"})
    job = store.new_job(small_car(), {"readings.toml": text.encode()}).id
    assert client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()["again"] == []
    store.set_state(job, "mended")
    page = client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()
    assert [one["id"] for one in page["again"]] == ["actuator-sweep"] and page["test"]["id"] == "actuator-sweep"
    assert page["worth"] == []
    sent = {"test": "actuator-sweep", "unit": "psi", "first_movement": "15", "full_travel": "20"}
    meant = client.post(f"/jobs/{job}/bench/meaning", data=sent).json()
    assert meant["figures"] and not meant["remarks"]  # it is not held against the reading from before
    client.post(f"/jobs/{job}/bench", data=sent)
    page = client.get(f"/jobs/{job}/bench", headers=AS_JSON).json()
    assert page["again"] == [] and [one["says"] for one in page["done"]] == ["", "after the repair"]
    assert "after the repair" in client.get(f"/jobs/{job}/bench").text
