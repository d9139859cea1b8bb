"""The report page: what it says before, how it asks, what it shows and hands out."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car

from boostproof.casefolder.files import read_car
from boostproof.casefolder.toml_file import read_toml
from boostproof.jobs.store import Store
from boostproof.report.document.compose import compose
from boostproof.report.document.results import Results, Told


@pytest.fixture
def job(store: Store) -> int:
    return store.new_job(small_car()).id


@pytest.fixture
def document(store: Store, job: int) -> dict[str, Any]:
    """A small document, of a job of which only the car is known."""
    path = store.folder(job) / "car.toml"
    car = read_car(read_toml(path, instead="")).car
    return dict(compose(Results(car=car, why_not="No pull."), Told(done=("Hose <renewed> & tied",))))


def keep(store: Store, job: int, document: dict[str, Any], **choices: Any) -> None:
    """As if it had been made."""
    store.settings.of_job(job).set("report", choices)
    store.answers.keep(job, "report", document, choices, store.content(job))


def test_before_there_is_one_it_says_what_it_would_hold(client: TestClient, job: int) -> None:
    answer = client.get(f"/jobs/{job}/report")
    assert answer.status_code == 200
    assert "Make the report" in answer.text and "what was not tested" in answer.text
    assert ".pdf" not in answer.text
    assert client.get(f"/jobs/{job}/report.pdf").status_code != 200


def test_it_is_made_as_long_work_with_what_was_typed(client: TestClient, store: Store, job: int) -> None:
    store.settings.set("shop", "Bay & Sons")
    typed = {"made_for": "shop", "done": " Hose renewed \n\n Clamp new", "by": "A. Fitter", "dated": "1 May"}
    answer = client.post(f"/jobs/{job}/report", data=typed)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{job}/report")
    (task,) = client.get(f"/jobs/{job}/tasks").json()["tasks"]
    assert task["kind"] == "report"
    assert task["choices"] == {
        "customer": False, "units": "psi", "done": ["Hose renewed", "Clamp new"], "shop": "Bay & Sons", "by": "A. Fitter",
        "dated": "1 May",
    }  # fmt: skip
    page = client.get(f"/jobs/{job}/report", params={"as": "json"}).json()
    assert page["stage"] in ("working", "shown") and page["asked"]["done"] == "Hose renewed\nClamp new"


def test_the_document_is_shown_and_handed_out(
    client: TestClient, store: Store, job: int, document: dict[str, Any]
) -> None:
    keep(store, job, document, customer=True, done=["Hose <renewed> & tied"])
    text = client.get(f"/jobs/{job}/report").text
    assert "Hose &lt;renewed&gt; &amp; tied" in text and "<renewed>" not in text
    assert text.count("<h1") == 1 and 'style="' not in text and "document.css" in text
    assert f"/jobs/{job}/report.pdf" in text and "Something was changed" not in text
    page = client.get(f"/jobs/{job}/report", params={"as": "json"}).json()
    assert page["document"] == document and page["stage"] == "shown" and not page["stale"]
    forms = {"pdf": ("application/pdf", b"%PDF-"), "html": ("text/html", b"<!doctype"), "json": ("application/json", b"{")}
    for form, (kind, start) in forms.items():
        file = client.get(f"/jobs/{job}/report.{form}")
        assert file.headers["content-type"].startswith(kind) and file.content.startswith(start)
        assert file.headers["content-disposition"] == f'attachment; filename="report-{job}.{form}"'
    assert json.loads(client.get(f"/jobs/{job}/report.json").content) == document
    assert client.get(f"/jobs/{job}/report.docx").status_code >= 400


def test_a_change_of_the_case_is_told(client: TestClient, store: Store, job: int, document: dict[str, Any]) -> None:
    keep(store, job, document, customer=True)
    store.write(job, "car.toml", small_car() + "\n[limits]\ntarget = \"90 kPa\"\n")
    assert "Something was changed since this report was made" in client.get(f"/jobs/{job}/report").text


def test_a_forecast_and_a_proof_that_came_since_are_taken_in(
    client: TestClient, store: Store, job: int, document: dict[str, Any]
) -> None:
    keep(store, job, document, customer=True)
    content = store.content(job)
    store.answers.keep(job, "forecast", {"repairs": []}, {"repairs": ["port 30 mm"]}, content)
    store.answers.keep(job, "prove", {"verdict": "cured"}, {"before": ["a.csv"], "after": ["b.csv"], "seed": 3}, content)
    text = client.get(f"/jobs/{job}/report").text
    assert "Something was changed" in text and re.search(r"forecast of the repair; the proof", text)
    client.post(f"/jobs/{job}/report", data={"made_for": "customer"})
    (task,) = client.get(f"/jobs/{job}/tasks").json()["tasks"]
    assert task["choices"]["repairs"] == ["port 30 mm"]
    assert (task["choices"]["before"], task["choices"]["after"]) == (["a.csv"], ["b.csv"])
