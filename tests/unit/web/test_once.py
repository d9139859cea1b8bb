"""A form that is sent again after a lost answer counts once; the second answer is that of the first."""

from __future__ import annotations

import importlib
import re
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car
from tests.unit.web import made_up

from boostproof.jobs.store import Store
from boostproof.web.app import PAGES
from boostproof.web.once import FIELD, sent_key

READING = 'format = 1\n[[reading]]\ntest = "port-measure"\nport = "24 mm"\n'
# Page with the form, where it is sent to, what is typed.
FORMS: dict[str, tuple[str, str, dict[str, str]]] = {
    "a sum spent": ("/jobs/1/repair", "/jobs/1/repair/money", {"amount": "50", "what": "gasket"}),
    "a decision": ("/jobs/1/repair", "/jobs/1/repair/decide", {"option": "0"}),
    "left as it is": ("/jobs/1/repair", "/jobs/1/repair/leave", {}),
    "a repair done": ("/jobs/2/repair", "/jobs/2/repair/done", {}),
    "a sign-off": ("/jobs/1/proof", "/jobs/1/proof/sign", {"name": "Ada", "state": "proved"}),
    "ticks": ("/jobs/1/repair/ladder", "/jobs/1/repair/card", {"ticked": "oil"}),
    "a reading": ("/jobs/1/bench?test=seat-leak", "/jobs/1/bench",
                  {"test": "seat-leak", "unit": "psi", "expect": "", "light": "no"}),
    "a reading at the verdict": ("/jobs/1/bench?test=seat-leak", "/jobs/1/verdict",
                                 {"test": "seat-leak", "unit": "psi", "expect": "", "light": "no"}),
    "a reading taken out": ("/jobs/2/bench?reading=0", "/jobs/2/bench/remove", {"index": "0"}),
    "a car that goes on": ("/jobs/3/proof", "/jobs/3/proof/go-on", {}),
    "a job": ("/", "/jobs", {"car": "The grey one"}),
    "the demo job": ("/", "/jobs/demo", {}),
    "a case": ("/", "/jobs/bring", {}),
}  # fmt: skip


@pytest.fixture
def shop(store: Store) -> Store:
    """A job that is judged, forecast, planned and proved, one that is decided on and has a reading, and one that is better
    after its repair and not right."""
    for files in ({}, {"readings.toml": READING.encode()}):
        job = store.new_job(small_car(), files)
        content = store.content(job.id)
        store.answers.keep(job.id, "diagnose", made_up.verdict(), {}, content)
        store.answers.keep(job.id, "repair_options", made_up.options(), {}, content)
        store.answers.keep(job.id, "plan", made_up.plan(), {}, content)
        store.answers.keep(job.id, "prove", made_up.proof(), {"before": [], "after": []}, content)
    store.settings.of_job(2).set("repair", {"repairs": [], "title": "a bigger port", "done": False})
    better = store.new_job(small_car(), {"recordings/old.csv": b"x\n"}).id
    store.set_state(better, "mended")
    store.write(better, "recordings/new.csv", "x,y\n")
    sides = {"before": ["recordings/old.csv#1"], "after": ["recordings/new.csv#1"]}
    store.answers.keep(better, "prove", made_up.proof("better", second=True), sides, store.content(better))
    return store


def token(text: str, action: str) -> str:
    """The token of the form that is sent there, as the page holds it; at the verdict the form of the bench stands."""
    at = action.replace("/verdict", "/bench")
    found = re.search(rf'<form[^>]* action="{at}".*?name="{FIELD}" value="([\w-]+)"', text, re.DOTALL)
    assert found is not None and "</form>" not in found[0], f"no token in the form to {action}"
    return found[1]


def everything(store: Store) -> dict[str, list[Any]]:
    """Every row that the store holds."""
    with closing(sqlite3.connect(store.database.path)) as plain:
        names = [name for (name,) in plain.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: plain.execute(f"SELECT * FROM {name}").fetchall() for name in names}


def kept(store: Store) -> dict[str, list[Any]]:
    """The same without work under way."""
    return {name: rows for name, rows in everything(store).items() if name not in {"task", "sqlite_sequence"}}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_form_again_changes_nothing_and_leads_to_the_same_page(
    client: TestClient, shop: Store, tmp_path: Path, form: str
) -> None:
    at, action, typed = FORMS[form]
    sent = {FIELD: token(client.get(at).text, action), **typed}
    if form == "a reading taken out":
        sent["expect"] = shop.files(2)[1].sha256
    packed = tmp_path / "case.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("car.toml", small_car())

    def send() -> Any:
        files = {"files": ("case.zip", packed.read_bytes())} if form == "a case" else None
        return client.post(action, data=sent, files=files)

    untouched = kept(shop)
    first = send()
    before = kept(shop)
    assert first.status_code == 303 and {k: v for k, v in before.items() if k != "sent"} != untouched
    again = send()
    assert (again.status_code, again.headers["location"]) == (303, first.headers["location"])
    assert kept(shop) == before


def test_a_page_that_was_gone_back_to_takes_another_sum(client: TestClient, shop: Store) -> None:
    one = token(client.get("/jobs/1/repair").text, "/jobs/1/repair/money")
    other = token(client.get("/jobs/1/repair").text, "/jobs/1/repair/money")
    assert one != other  # each page has its own
    for key, amount in ((one, "50"), (one, "50"), (one, "70"), (other, "50")):
        client.post("/jobs/1/repair/money", data={FIELD: key, "amount": amount})
    assert [row["amount"] for row in shop.settings.of_job(1).get("money")["spent"]] == [50.0, 70.0, 50.0]


def test_a_sum_that_was_not_understood_is_taken_when_it_is(client: TestClient, shop: Store) -> None:
    key = token(client.get("/jobs/1/repair").text, "/jobs/1/repair/money")
    assert client.post("/jobs/1/repair/money", data={FIELD: key, "amount": "lots"}).status_code == 422
    assert client.post("/jobs/1/repair/money", data={FIELD: key, "amount": "60"}).status_code == 303
    assert [row["amount"] for row in shop.settings.of_job(1).get("money")["spent"]] == [60.0]


def test_every_address_that_counts_once_is_tried_here() -> None:
    pages = [importlib.import_module(f"boostproof.web.pages.{name}").router for name in PAGES]
    counts_once = {
        route.path for router in pages for route in router.routes
        if isinstance(route, APIRoute) and any(one.call is sent_key for one in route.dependant.dependencies)
    }  # fmt: skip
    assert counts_once == {re.sub("/jobs/[123]", "/jobs/{job_id}", action) for _, action, _ in FORMS.values()}
