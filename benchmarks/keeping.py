"""How fast jobs are kept and found: the calls that a page waits for, in the store of a shop with many years of jobs."""

from __future__ import annotations

import hashlib
import itertools
import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figure import Figure
from benchmarks.timing import best
from boostproof.jobs import schema
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work

JOBS = 2_000
FILES = 8  # of each job
VERDICT = 120_000  # characters of a kept verdict
LOG = 20_000_000  # bytes of a long recording

_CAR = '[car]\nname = "The grey wagon"\ncomplaint = ["boost falls off above 5000 rpm"]\n'


def keeping() -> dict[str, Figure]:
    """Seconds of what a page waits for; the limits are what a person does not notice, on a busy machine."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Store.open(folder) as store:
            _fill(store)
            job = store.new_job(_CAR, {"readings.toml": b"format = 1\n"}).id
            verdict = {"format": 1, "text": "x" * VERDICT}
            store.answers.keep(job, "diagnose", verdict, {}, store.content(job))
        opened = best(lambda: Store.open(folder).close(), 3)
        with Store.open(folder) as store, Work(store, {"nothing": "benchmarks.keeping:nothing"}) as work:
            number = itertools.count()
            log = np.random.default_rng(1).bytes(LOG)

            def page() -> None:
                store.job(job)
                store.answers.latest(job, "diagnose")
                work.tasks(job)
                store.folder(job)

            def save() -> None:
                store.write(job, "readings.toml", f"format = 1\n# {next(number)}\n")

            def save_log() -> None:
                store.write(job, "recordings/log.csv", log + str(next(number)).encode())
                store.folder(job)

            def task() -> None:
                work.wait(work.start(job, "nothing", {"n": next(number)}).id)

            task()  # starts the worker
            timed = {
                "keep_page_s": Figure(f"what a page asks of {JOBS} jobs", best(page, 20), "s", 0.05),
                "keep_search_s": Figure("… searched by words", best(lambda: store.jobs("wagon 1999")), "s", 0.25),
                "keep_save_s": Figure("a reading saved, on the disk", best(save, 20), "s", 0.1),
                "keep_task_s": Figure("a task that does nothing, there and back", best(task), "s", 0.6),
                "keep_log_s": Figure("a recording of 20 MB kept, and its case folder", best(save_log, 3), "s", 1.0),
            }
    return {"keep_open_s": Figure(f"a store of {JOBS} jobs opened", opened, "s", 0.5), **timed}


def nothing(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """A task without work."""
    return {}


def _fill(store: Store) -> None:
    """Jobs with their files and a verdict each, put in at once; the bytes are empty but as many."""
    moment = "2026-01-01T00:00:00.000Z"
    ids = range(1, JOBS + 1)
    hashes = [hashlib.sha256(str(n).encode()).hexdigest() for n in range(JOBS * FILES)]
    for sha256 in hashes:
        path = store.kept.path(sha256)
        path.parent.mkdir(exist_ok=True)
        path.touch()
    files = [
        {"id": n + 1, "job": n // FILES + 1, "path": f"recordings/log-{n % FILES}.csv", "sha256": sha256, "size": 0,
         "changed": moment} for n, sha256 in enumerate(hashes)
    ]  # fmt: skip
    common = {"state": "proved", "created": moment, "changed": moment, "complaint": "boost falls off"}
    answer = json.dumps({"format": 1, "text": "x" * (VERDICT // 10)})
    with store.database.writing() as connection:
        connection.execute(
            schema.job.insert(), [{"id": i, "name": f"wagon {i}", "car": f"wagon {i}", **common} for i in ids]
        )
        connection.execute(schema.version.insert(), files)
        connection.execute(
            schema.present.insert(), [{"job": f["job"], "path": f["path"], "version": f["id"]} for f in files]
        )
        connection.execute(
            schema.answer.insert(),
            [{"job": i, "kind": "diagnose", "choices": "{}", "content": hashes[i], "answer": answer, "seed": 1,
              "versions": "{}", "made": moment} for i in ids],
        )  # fmt: skip
