"""A further job for a repaired car holds what was made after the repair, and nothing from before."""

from __future__ import annotations

import tomllib

import pytest
from tests.unit.jobs.conftest import CAR_TOML

from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.errors import InputError
from boostproof.jobs.repaired import go_on_repaired
from boostproof.jobs.store import Store

SWEEP, AGAIN = ({"test": "actuator-sweep", "first_movement": f"{psi} psi"} for psi in (9, 15))


def test_it_goes_on_with_what_came_after(store: Store) -> None:
    pulls = 'format = 1\n[[recording]]\nfile = "recordings/old.csv"\ngear = 3\n'
    tried = CAR_TOML + '[[history.tried]]\nwhat = "spring"\nbefore = "recordings/old.csv"\nafter = "recordings/new.csv"\n'
    files = {
        "recordings/old.csv": b"old", "recordings/bus.dbc": b"bus", "maps/wheel.csv": b"map", "pulls.toml": pulls.encode(),
        "readings.toml": add_reading("", SWEEP).encode(),
    }  # fmt: skip
    job = store.new_job(tried, files).id
    with pytest.raises(InputError, match="No recording was made after"):
        go_on_repaired(store, job)
    store.set_state(job, "mended")
    store.write(job, "recordings/new.csv", b"new")
    store.write(job, "readings.toml", add_reading(store.text(job, "readings.toml"), AGAIN))
    before = store.content(job)
    further = go_on_repaired(store, job)
    assert store.content(job) == before and further.state == "new"
    there = [file.path for file in store.files(further.id)]
    assert there == ["car.toml", "maps/wheel.csv", "readings.toml", "recordings/bus.dbc", "recordings/new.csv"]
    assert store.read(further.id, "recordings/new.csv") == b"new"
    assert readings_in(store.text(further.id, "readings.toml")) == [AGAIN]
    tried_now = tomllib.loads(store.text(further.id, "car.toml"))["history"]["tried"]
    assert tried_now == [{"what": "spring", "after": "recordings/new.csv"}]
