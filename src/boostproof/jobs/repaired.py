"""A further job for a car that was repaired and is not right yet: it is judged by what was made after the repair alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from boostproof.errors import InputError
from boostproof.jobs.after_repair import after_repair

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.jobs.records import Job
    from boostproof.jobs.store import Store

_RECORDINGS, _ASIDE, _NO_RECORDING = "recordings/", "set-aside/", ".dbc"


def go_on_repaired(store: Store, job_id: int) -> Job:
    """Start a job with the files of another, but for the recordings and readings from before its repair.

    Parameters
    ----------
    store, job_id : the job that was repaired

    Raises
    ------
    InputError
        If no recording was made after the repair, or what is said of the recordings cannot be read.
    """
    from boostproof.casefolder.left_out import (
        LeftOut,
        car_without,
        empty,
        names_in,
        pulls_without,
        readings_without,
    )
    from boostproof.casefolder.readings_edit import readings_in

    after, files = after_repair(store, job_id), store.files(job_id)
    if not after.recordings:
        raise InputError(
            "No recording was made after the repair.", kind="nothing-after", where=f"job {job_id}",
            do="Drive again, and drop the log.",
        )  # fmt: skip
    logs = [f.path for f in files if f.path.startswith(_RECORDINGS) and not f.path.casefold().endswith(_NO_RECORDING)]
    names = names_in(readings_in(store.text(job_id, "readings.toml")))
    before = LeftOut(
        tuple(path for path in logs if path not in after.recordings),
        tuple(name for name in names if name not in after.readings),
    )
    trims: dict[str, Callable[[str, LeftOut], str]] = {"pulls.toml": pulls_without, "readings.toml": readings_without}
    kept: dict[str, bytes] = {}
    for file in files:
        if file.path in before.recordings or file.path.startswith(_ASIDE) or file.path == "car.toml":
            continue
        if file.path in trims:
            text = trims[file.path](store.text(job_id, file.path), before)
            if not empty(text):
                kept[file.path] = text.encode()
            continue
        kept[file.path] = store.read(job_id, file.path)
    return store.new_job(car_without(store.text(job_id, "car.toml"), before), kept)
