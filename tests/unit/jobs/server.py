"""A program that works on a store until it is killed. Run by the tests as a process of its own."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.unit.jobs.fake_kinds import FAKE

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work


def serve(folder: str) -> None:
    """Open the store and work."""
    with Store.open(Path(folder)) as store, Work(store, FAKE):
        while True:
            time.sleep(1)


def save(folder: str) -> None:
    """Save as fast as it goes; say what is acknowledged."""
    with Store.open(Path(folder)) as store:
        job = store.jobs()[0].id if store.jobs() else store.new_job("").id
        n = len(store.versions(job, "log.csv"))
        while True:
            n += 1
            kept = store.write(job, "log.csv", f"{n}\n" * 3000)
            store.log(job, f"saved {n}")
            print(job, n, kept.sha256, flush=True)  # noqa: T201


if __name__ == "__main__":
    {"serve": serve, "save": save}[sys.argv[1]](sys.argv[2])
