"""A further job for a repaired car holds what was made after the repair, and nothing from before."""

from __future__ import annotations

import tomllib

import pytest
from tests.unit.jobs.conftest import CAR_TOML

from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.errors import InputError
from boostproof.jobs.repaired import came_from, go_on_repaired, went_on
from boostproof.jobs.store import Store

SWEEP, AGAIN = ({"test": "actuator-sweep", "first_movement": f"{psi} psi"} for psi in (9, 15))

NAME = "The grey estate, after its repair"


def test_it_goes_on_with_what_came_after(store: Store) -> None:
    pulls = 'format = 1\n[[recording]]\nfile = "recordings/old.csv"\ngear = 3\n'
    tried = CAR_TOML + '[[history.tried]]\nwhat = "spring"\nbefore = "recordings/old.csv"\nafter = "recordings/new.csv"\n'
    files = {
        "recordings/old.csv": b"old", "recordings/bus.dbc": b"bus", "maps/wheel.csv": b"map", "pulls.toml": pulls.encode(),
        "readings.toml": add_reading("", SWEEP).encode(),
    }  # fmt: skip
    job = store.new_job(tried, files).id
    with pytest.raises(InputError, match="No recording was made after"):
        go_on_repaired(store, job, NAME, "before")
    store.set_state(job, "mended")
    store.write(job, "recordings/new.csv", b"new")
    store.write(job, "readings.toml", add_reading(store.text(job, "readings.toml"), AGAIN))
    before = store.content(job)
    further = go_on_repaired(store, job, NAME, "before")
    assert store.content(job) == before and further.state == "new"
    there = [file.path for file in store.files(further.id)]
    assert there == ["car.toml", "maps/wheel.csv", "readings.toml", "recordings/bus.dbc", "recordings/new.csv"]
    assert store.read(further.id, "recordings/new.csv") == b"new"
    assert readings_in(store.text(further.id, "readings.toml")) == [AGAIN]
    assert further.name == NAME != store.job(job).name
    assert went_on(store, job) == store.job(further.id) and came_from(store, further.id) == store.job(job)
    assert went_on(store, further.id) is None and came_from(store, job) is None
    tried_now = tomllib.loads(store.text(further.id, "car.toml"))["history"]["tried"]
    assert tried_now == [{"what": "spring", "after": "recordings/new.csv"}]


def test_of_a_recording_of_both_sides_the_stretches_from_before_are_left_out(store: Store) -> None:
    log = "recordings/both.csv"
    job = store.new_job(CAR_TOML, {log: b"both"}).id
    choices = {"before": [f"{log}#1", f"{log}#4"], "after": [f"{log}#3"]}  # of the second nobody said anything
    store.answers.keep(job, "prove", {"verdict": "better"}, choices, store.content(job))
    with pytest.raises(InputError, match="not read yet"):
        go_on_repaired(store, job, NAME, "from before")
    seen = {"pulls": [{"from_s": 100.0 * n, "to_s": 100.0 * n + 10.0} for n in (1, 2, 3, 4, 5)]}
    store.answers.keep(job, "inspect", seen, {"path": log}, store.content(job))
    further = go_on_repaired(store, job, NAME, "from before")
    said = tomllib.loads(store.text(further.id, "pulls.toml"))["recording"]
    assert said == [{"file": log, "excluded": [
        {"from": 0.0, "to": 210.0, "why": "from before"}, {"from": 400.0, "to": 410.0, "why": "from before"},
    ]}]  # fmt: skip


def test_a_job_that_came_from_elsewhere_leads_to_no_other(store: Store) -> None:
    job = store.new_job(CAR_TOML, {"recordings/old.csv": b"old"}).id
    store.settings.of_job(job).set("went-on", {"job": job, "created": "2001-01-01T00:00:00+00:00"})
    assert went_on(store, job) is None
    store.settings.of_job(job).set("went-on", {"job": 99, "created": ""})
    assert went_on(store, job) is None
