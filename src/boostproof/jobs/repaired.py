"""A further job for a car that was repaired and is not right yet: it is judged by what was made after the repair alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from boostproof.case_names import CAR, PULLS, READINGS, is_recording, is_set_aside
from boostproof.errors import InputError
from boostproof.jobs.after_repair import after_repair

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.jobs.records import Job
    from boostproof.jobs.store import Store
    from boostproof.recording.pull_numbers import PullNumbers

_CAME_FROM, _WENT_ON = "came-from", "went-on"  # settings of the two jobs: the other one


def go_on_repaired(store: Store, job_id: int, name: str, why: str) -> Job:
    """Start a job with the files of another, but for the recordings, pulls and readings from before its repair. Each of the
    two keeps which the other one is.

    Parameters
    ----------
    store, job_id : the job that was repaired
    name : of the further one
    why : kept with a stretch of a recording that holds pulls from before the repair

    Raises
    ------
    InputError
        If no pull was made after the repair, or what is said of the recordings cannot be read.
    """
    from boostproof.casefolder.edit import set_value
    from boostproof.casefolder.left_out import LeftOut, names_in
    from boostproof.casefolder.left_out_texts import car_without, empty, pulls_without, readings_without
    from boostproof.casefolder.readings_edit import readings_in

    after, files = after_repair(store, job_id).since, store.files(job_id)
    if not after.recordings and not after.pulls:
        raise InputError(
            "No recording was made after the repair.", kind="nothing-after", where=f"job {job_id}",
            do="Drive again, and drop the log.",
        )  # fmt: skip
    logs = [f.path for f in files if is_recording(f.path)]
    names = names_in(readings_in(store.text(job_id, READINGS)))
    before = LeftOut(
        tuple(path for path in logs if not after.pulls_of(path)),
        tuple(name for name in names if name not in after.readings),
    )

    def pulls_from_after(text: str, before: LeftOut) -> str:
        text = pulls_without(text, before)
        for path, numbers in after.pulls:
            text = _without_earlier(text, path, _times(store, job_id, path), numbers, why)
        return text

    trims: dict[str, Callable[[str, LeftOut], str]] = {PULLS: pulls_from_after, READINGS: readings_without}
    kept = {
        file.path: store.read(job_id, file.path) for file in files
        if file.path not in before.recordings and not is_set_aside(file.path) and file.path not in (CAR, *trims)
    }  # fmt: skip
    for path, trim in trims.items():
        text = trim(store.text(job_id, path), before)
        if text.strip() and not empty(text):
            kept[path] = text.encode()
    further = store.new_job(set_value(car_without(store.text(job_id, CAR), before), "car.name", name), kept)
    for one, setting, other in ((job_id, _WENT_ON, further), (further.id, _CAME_FROM, store.job(job_id))):
        store.settings.of_job(one).set(setting, {"job": other.id, "created": other.created})
    return further


def came_from(store: Store, job_id: int) -> Job | None:
    """The job of the same car before its repair, None where there is none here."""
    return _other(store, job_id, _CAME_FROM)


def went_on(store: Store, job_id: int) -> Job | None:
    """The job of the same car after the repair, None where there is none here."""
    return _other(store, job_id, _WENT_ON)


def _other(store: Store, job_id: int, setting: str) -> Job | None:
    told = store.settings.of_job(job_id).get(setting)
    if not isinstance(told, dict) or not isinstance(told.get("job"), int):
        return None
    try:
        found = store.job(told["job"])
    except InputError:
        return None
    return found if found.created == told.get("created") else None  # a case from elsewhere: another job has this number


def _times(store: Store, job_id: int, path: str) -> Sequence[tuple[float, float]]:
    """Where the pulls of a recording lie, in seconds, as it was read last.

    Raises
    ------
    InputError
        If it was not read yet.
    """
    kept = store.answers.latest(job_id, "inspect", {"path": path}, current=False)
    pulls: Sequence[dict[str, Any]] = () if kept is None else kept.answer.get("pulls", ())
    if not pulls:
        raise InputError(
            "The recording that holds pulls of before and after the repair was not read yet.", kind="not-read", where=path,
            do="Wait until its pulls are shown.",
        )  # fmt: skip
    return [(pull["from_s"], pull["to_s"]) for pull in pulls]


def _without_earlier(text: str, path: str, times: Sequence[tuple[float, float]], after: PullNumbers, why: str) -> str:
    """pulls.toml with the stretches of a recording that hold its pulls from before the repair left out: those that stay are
    counted anew."""
    from boostproof.casefolder.edit_pulls import with_excluded, with_set_up

    text = with_set_up(text, path, {"after_repair": ""})
    run: list[tuple[float, float]] = []
    for number, (start, end) in enumerate([*times, (0.0, 0.0)], 1):
        if number <= len(times) and number not in after:
            run.append((start, end))
            continue
        if run:
            first = 0.0 if run[0] == times[0] else run[0][0]
            text = with_excluded(text, path, first, run[-1][1], why)
        run = []
    return text
