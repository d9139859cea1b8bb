"""The Car page over a store, without a browser."""

from __future__ import annotations

import re
import tomllib
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient
from tests.unit.web.a_car import CAR

from boostproof.car.spec import CarSpec
from boostproof.jobs.store import Store
from boostproof.keys import walk
from boostproof.web.car_form import FIRST, PARTS, every_answer, without_row
from boostproof.web.words import keys

JSON = {"accept": "application/json"}


def car(store: Store, job: int) -> dict[str, Any]:
    """car.toml as it stands."""
    return tomllib.loads(store.text(job, "car.toml"))


def page(client: TestClient, job: int) -> dict[str, Any]:
    """The page as JSON."""
    answer = client.get(f"/jobs/{job}/car", headers=JSON)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def answers(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Every answer of a page by name."""
    out = {}
    for part in [found["first"], *found["parts"]]:
        for one in part["answers"]:
            rows = [one] if one["form"] != "rows" else [inner for row in one["rows"] for inner in row["answers"]]
            out |= {inner["name"]: inner for inner in rows}
    return out


@pytest.fixture
def job(store: Store) -> int:
    """A car of which little is told."""
    return store.new_job(CAR).id


def test_every_key_of_the_schema_is_reachable_on_the_page(client: TestClient, job: int) -> None:
    wanted = {
        ".".join(path) for path, key in walk(CarSpec) if key.kind not in {"format", "table", "rows"} and path != ("format",)
    }
    html = client.get(f"/jobs/{job}/car").text
    names = {without_row(unescape(name)) for name in re.findall(r'name="([\w.]+)"', html)}
    assert wanted - names == set()
    table = every_answer()
    assert set(table) == wanted
    assert len(table) == len(set(table))


def test_every_answer_and_part_has_its_words(client: TestClient, job: int) -> None:
    found = page(client, job)
    labels = {one["label"] for one in answers(found).values()}
    assert len(labels) > 80
    for part in (FIRST, *PARTS):
        assert f"car.part.{part.name}.title" in keys()


def test_little_is_asked_first(client: TestClient, job: int) -> None:
    found = page(client, job)
    assert [part["open"] for part in found["parts"]] == [False] * len(found["parts"])
    assert found["needed"] == ["Redline", "Kind of wastegate", "Kind of boost controller"]
    assert answers(found)["engine.redline"]["needed"]
    assert found["worth"] == []


def test_a_page_keeps_what_a_person_wrote_from_becoming_markup(client: TestClient, job: int) -> None:
    html = client.get(f"/jobs/{job}/car").text
    assert "<b>worse</b>" not in html
    assert "&lt;b&gt;worse&lt;/b&gt; in the cold" in html


def test_saving_changes_what_was_changed_and_nothing_else(client: TestClient, store: Store, job: int) -> None:
    before = store.text(job, "car.toml")
    sent = {
        "_seen": page(client, job)["seen"], "engine.displacement": "2 L", "engine.redline": "6800",
        "limits.target": "11 or 12 psi", "wastegate.kind": ["", "internal flapper"], "engine.water_injection": ["", "no"],
    }  # fmt: skip
    answer = client.post(f"/jobs/{job}/car", data=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{job}/car?saved=1")
    after = store.text(job, "car.toml")
    assert car(store, job)["engine"] == {
        "displacement": "2 L", "cylinders": 4, "redline": "6800 rpm", "water_injection": False,
    }  # fmt: skip
    assert car(store, job)["limits"] == {"target": "11 or 12 psi"}
    assert all(line in after.splitlines() for line in before.splitlines())
    assert answers(page(client, job))["limits.target"]["understood"]["says"] == "11 to 12 psi gauge"


def test_nothing_changed_writes_nothing(client: TestClient, store: Store, job: int) -> None:
    found = page(client, job)
    sent = {name: one["said"] for name, one in answers(found).items() if one["form"] not in ("several", "options")}
    assert client.post(f"/jobs/{job}/car", data={**sent, "_seen": found["seen"]}).status_code == 303
    assert len(store.versions(job, "car.toml")) == 1


def test_a_mistake_is_said_beside_its_answer_and_nothing_is_saved(client: TestClient, store: Store, job: int) -> None:
    sent = {"engine.redline": "6800 psi", "limits.target": "14 psi", "engine.cylinders": "four"}
    answer = client.post(f"/jobs/{job}/car", data=sent)
    assert answer.status_code == 422
    html = unescape(answer.text)
    assert 'value="6800 psi"' in html and 'value="14 psi"' in html and 'value="four"' in html
    assert '"6800 psi" is a pressure, but a rotational speed is expected.' in html
    assert '"four" is not a plain number.' in html
    assert len(store.versions(job, "car.toml")) == 1
    wrong = client.post(f"/jobs/{job}/car", data=sent, headers=JSON).json()["wrong"]
    assert set(wrong) == {"engine.redline", "engine.cylinders"}


def test_answers_that_contradict_each_other_are_not_saved(client: TestClient, store: Store, job: int) -> None:
    answer = client.post(f"/jobs/{job}/car", data={"limits.target": "20 psi", "limits.stop": "15 psi"}, headers=JSON)
    assert answer.status_code == 422
    assert "lies above the stop" in answer.json()["wrong"]["limits.target"]["says"]
    assert "limits" not in car(store, job)


def test_a_car_out_of_scope_is_refused_by_name(client: TestClient, job: int) -> None:
    answer = client.post(f"/jobs/{job}/car", data={"engine.supercharger": "yes"}, headers=JSON)
    assert answer.json()["wrong"]["engine.supercharger"]["says"].startswith("A supercharger beside the turbo is outside")


def test_a_car_keeps_its_name(client: TestClient, store: Store, job: int) -> None:
    answer = client.post(f"/jobs/{job}/car", data={"car.name": "  "}, headers=JSON)
    assert answer.status_code == 422
    assert car(store, job)["car"]["name"] == "Test Estate"
    client.post(f"/jobs/{job}/car", data={"car.name": "The green one"})
    assert store.job(job).name == "The green one"


@pytest.mark.parametrize(
    ("name", "said", "ok", "says"),
    [
        ("limits.target", "11 or 12 psi", True, "11 to 12 psi gauge"),
        ("limits.target", "about 0.8 bar", True, "about 0.8 bar gauge, 0.72 to 0.88 (11.6 psi)"),
        ("limits.stop", "22 psi +/- 1 psi", True, "22 psi gauge ± 1 psi"),
        ("sensors.manifold_range", "300 kPa abs +/- 6 kPa", True, "300 kPa abs ± 6 kPa (43.5 psi)"),
        ("wastegate.port", "26 mm +/- 0.2 mm", True, "26 mm ± 0.2 mm"),
        ("weather.temperature", "20 C +/- 1 C", True, "20 °C ± 1 °C (68 °F)"),
        ("controller.bleed_hole", "none", True, "looked for, and there is none"),
        ("controller.turns_in", "2,5", True, "2.5 turns in"),
        ("wastegate.port", "", True, ""),
        ("limits.target", "14", False, '"14" has no unit.'),
        ("engine.redline", "6800 psi", False, '"6800 psi" is a pressure, but a rotational speed is expected.'),
    ],
)
def test_an_answer_is_understood_at_once(
    client: TestClient, job: int, name: str, said: str, ok: bool, says: str
) -> None:
    found = client.get(f"/jobs/{job}/car/understood", params={"name": name, "said": said}).json()
    assert (found["ok"], found["says"]) == (ok, says)


def test_a_bare_pressure_offers_its_units(client: TestClient, job: int) -> None:
    found = client.get(f"/jobs/{job}/car/understood", params={"name": "limits.target", "said": "1"}).json()
    assert found["offers"] == ["1 psi", "1 bar", "1 kPa"]


def test_an_unknown_answer_is_refused(client: TestClient, job: int) -> None:
    answer = client.get(f"/jobs/{job}/car/understood", params={"name": "engine.colour", "said": "x"}, headers=JSON)
    assert answer.status_code == 422
    assert client.get("/jobs/77/car", headers=JSON).status_code in (404, 422)


def test_a_row_whose_number_is_none_is_no_answer(client: TestClient, store: Store, job: int) -> None:
    before = store.content(job)
    assert client.post(f"/jobs/{job}/car", data={"limits.target.².boost": "1 bar"}).status_code == 303
    assert store.content(job) == before


def test_two_tablets_that_change_different_answers_both_hold(client: TestClient, store: Store, job: int) -> None:
    seen = page(client, job)["seen"]
    client.post(f"/jobs/{job}/car", data={"_seen": seen, "engine.redline": "7000 rpm", "limits.target": ""})
    client.post(f"/jobs/{job}/car", data={"_seen": seen, "engine.redline": "", "limits.target": "14 psi"})
    assert car(store, job)["engine"]["redline"] == "7000 rpm"
    assert car(store, job)["limits"]["target"] == "14 psi"


def test_two_tablets_that_differ_see_both_answers_and_choose(client: TestClient, store: Store, job: int) -> None:
    seen = page(client, job)["seen"]
    client.post(f"/jobs/{job}/car", data={"_seen": seen, "engine.displacement": "1.8 L"})
    answer = client.post(f"/jobs/{job}/car", data={"_seen": seen, "engine.displacement": "2.2 L"})
    assert answer.status_code == 409
    html = unescape(answer.text)
    assert "Saved elsewhere meanwhile: 1.8 L. Yours: 2.2 L." in html
    assert car(store, job)["engine"]["displacement"] == "1.8 L"
    now = re.search(r'name="_seen" value="(\w+)"', html)
    assert now is not None and now[1] != seen
    again = {"_seen": now[1], "engine.displacement": "2.2 L"}
    theirs = {**again, "_take.engine.displacement": "theirs"}
    assert client.post(f"/jobs/{job}/car", data=theirs).status_code == 303
    assert car(store, job)["engine"]["displacement"] == "1.8 L"
    assert client.post(f"/jobs/{job}/car", data={**again, "_take.engine.displacement": "mine"}).status_code == 303
    assert car(store, job)["engine"]["displacement"] == "2.2 L"
    clash = client.post(f"/jobs/{job}/car", data={"_seen": seen, "engine.displacement": "3 L"}, headers=JSON).json()
    assert clash["error"]["kind"] == "changed-elsewhere"
    assert clash["conflicts"] == [
        {"name": "engine.displacement", "before": ["2 L"], "theirs": ["2.2 L"], "mine": ["3 L"]}
    ]


def test_what_changed_is_added_row_by_row(client: TestClient, store: Store, job: int) -> None:
    for number, what in enumerate(("exhaust", "fuel")):
        sent = {f"history.changed.{number}.what": what, f"history.changed.{number}.fault": ["", "after"]}
        assert client.post(f"/jobs/{job}/car", data=sent).status_code == 303
    assert [row["what"] for row in car(store, job)["history"]["changed"]] == ["exhaust", "fuel"]
    rows = next(one for one in page(client, job)["first"]["answers"] if one["name"] == "history.changed")["rows"]
    assert [row["new"] for row in rows] == [False, False, True]
    client.post(f"/jobs/{job}/car", data={"history.changed.0.what": "", "history.changed.0.fault": ""})
    assert car(store, job)["history"]["changed"] == [{"what": "fuel", "fault": "after"}]


def test_notes_may_have_several_lines(client: TestClient, store: Store, job: int) -> None:
    assert client.post(f"/jobs/{job}/car", data={"car.notes": "second owner\r\nmet at the track"}).status_code == 303
    assert car(store, job)["car"]["notes"] == "second owner\nmet at the track"
    found = page(client, job)
    again = {"car.notes": answers(found)["car.notes"]["said"].replace("\n", "\r\n"), "_seen": found["seen"]}
    assert client.post(f"/jobs/{job}/car", data=again).status_code == 303
    assert len(store.versions(job, "car.toml")) == 2


def test_one_boost_or_rows_of_it(client: TestClient, store: Store, job: int) -> None:
    rows = {"limits.target.0.rpm": "3000", "limits.target.0.boost": "12 psi"}
    both = client.post(f"/jobs/{job}/car", data={**rows, "limits.target": "14 psi"}, headers=JSON)
    assert both.status_code == 422 and set(both.json()["wrong"]) == {"limits.target"}
    assert client.post(f"/jobs/{job}/car", data=rows).status_code == 303
    assert car(store, job)["limits"]["target"] == [{"rpm": "3000 rpm", "boost": "12 psi"}]


def test_the_minutes_come_from_the_verdict(client: TestClient, store: Store, job: int) -> None:
    verdict = {
        "missing": ["car: gate port", "car: boost wanted"], "causes": [], "pulls": [],
        "next_tests": [{"id": "port-measure", "minutes": 45.0, "minutes_saved": 12.4}],
        "unknowns": [{"name": "controller.bleed_hole", "minutes_saved": 23.9}],
    }  # fmt: skip
    store.answers.keep(job, "diagnose", verdict, {}, store.content(job))
    worth = {one["name"]: one for one in page(client, job)["worth"]}
    assert list(worth) == ["controller.bleed_hole", "wastegate.port", "limits.target"]  # what saves most first
    assert "would save about 24\u202fmin" in worth["controller.bleed_hole"]["says"]
    assert worth["controller.bleed_hole"]["how"] == "A figure from the papers or the part will do."
    assert worth["wastegate.port"]["says"] == "Knowing how wide the port is would save about 12\u202fmin."
    assert worth["limits.target"]["says"] == "The last verdict had to do without the boost wanted."
    assert answers(page(client, job))["wastegate.port"]["worth"] == worth["wastegate.port"]["says"]
    client.post(f"/jobs/{job}/car", data={"wastegate.port": "26 mm"})
    assert "wastegate.port" not in {one["name"] for one in page(client, job)["worth"]}


def test_a_file_that_someone_wrote_is_said_to_be_wrong_where_it_is(client: TestClient, store: Store, job: int) -> None:
    text = CAR.replace("cylinders", "cylinder").replace('"2 L"', '"2 psi"')
    store.write(job, "car.toml", text)
    found = page(client, job)
    [notice] = found["notices"]
    assert "engine.cylinder" in notice["says"] and 'Did you mean "cylinders"?' in notice["do"]
    assert "but a volume is expected" in answers(found)["engine.displacement"]["understood"]["says"]
    # a mistake that was there before does not keep other answers from being saved
    assert client.post(f"/jobs/{job}/car", data={"engine.redline": "6800"}).status_code == 303
    assert car(store, job)["engine"]["cylinder"] == 4


def test_a_file_that_cannot_be_read_can_be_mended_here(client: TestClient, store: Store, job: int) -> None:
    store.write(job, "car.toml", "[car\n")
    answer = client.get(f"/jobs/{job}/car")
    assert answer.status_code == 200 and "[car\n" in unescape(answer.text)
    assert "a section heading is not closed" in page(client, job)["file_wrong"]
    seen = page(client, job)["seen"]
    bad = client.post(f"/jobs/{job}/car/file", data={"_seen": seen, "file": "[car\nx"})
    assert bad.status_code == 422 and "[car\nx" in unescape(bad.text)
    assert client.post(f"/jobs/{job}/car/file", data={"_seen": seen, "file": CAR.replace("\n", "\r\n")}).status_code == 303
    assert store.text(job, "car.toml") == CAR
    stale = client.post(f"/jobs/{job}/car/file", data={"_seen": seen, "file": CAR + "# mine\n"})
    assert stale.status_code == 409
    assert store.text(job, "car.toml") == CAR
