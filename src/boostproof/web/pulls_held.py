"""What a job holds that the Pulls page rests on: recordings as read, what is said of them, the boost that is wanted."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.case_names import CAR, PULLS
from boostproof.errors import BoostproofError, InputError
from boostproof.jobs.after_repair import after_repair
from boostproof.web.kept_parts import keeps, kept_part

if TYPE_CHECKING:
    from boostproof.jobs.recordings import Looked
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.recording.setup import RecordingSetup
    from boostproof.workflows.recordings_seen import FileSeen

_recent: OrderedDict[tuple[Path, int, str, str], tuple[FileSeen, Path]] = OrderedDict()
_RECENT = 32
keeps(bool)


def recording_at(store: Store, work: Work, job_id: int, path: str) -> tuple[FileSeen, Path]:
    """A recording and its table, at once where the files are as they were when it was asked for last.

    Raises
    ------
    InputError
        If the job holds no such recording, or it could not be read.
    """
    later = after_repair(store, job_id).recordings
    key = (store.root, job_id, f"{store.content(job_id)} {later}", path)
    held = _recent.get(key)
    if held is not None and held[1].is_file():
        return held
    looked = looked_at(store, work, job_id)
    for seen in files_seen(store, job_id, looked):
        if seen.path == path:
            found = (seen, store.table(job_id, path))
            if all(one.fresh for one in looked):
                _recent[key] = found
                while len(_recent) > _RECENT:
                    _recent.popitem(last=False)
            return found
    raise InputError("This job holds no such recording.", kind="no-file", where=path, do="Choose one that is listed.")


def looked_at(store: Store, work: Work, job_id: int) -> list[Looked]:
    """The recordings of a job, those from before its repair first: in this order their pulls are counted."""
    from boostproof.jobs.recordings import Recordings

    later = after_repair(store, job_id).recordings
    return sorted(Recordings(store, work).all(job_id), key=lambda one: one.file.path in later)


def files_seen(store: Store, job_id: int, looked: Sequence[Looked]) -> list[FileSeen]:
    """Recordings that could be read, with their pulls counted through the job."""
    from boostproof.workflows.recordings_seen import file_seen

    told = setups(store, job_id)
    found, place = [], 1
    for one in looked:
        if one.answer is None:
            continue
        seen = file_seen(one.file.path, one.answer, told.get(one.file.path), place)
        place += sum(pull.full_load for pull in seen.pulls)
        found.append(seen)
    return found


def setups(store: Store, job_id: int) -> Mapping[str, RecordingSetup]:
    """What pulls.toml says of each recording; nothing where it cannot be read."""
    from boostproof.casefolder.files import read_pulls
    from boostproof.casefolder.toml_file import read_toml

    def read() -> dict[str, RecordingSetup]:
        try:
            pulls, _ = read_pulls(read_toml(store.folder(job_id) / PULLS, instead=""))
        except InputError:
            return {}
        return {item.file: item for item in pulls.recording}

    return store.memory.lasting(f"set-ups of {_hash(store, job_id, PULLS)}", read)


def wanted_boost(store: Store, job_id: int) -> tuple[Any, float | None]:
    """The target of the car's file and its barometer [Pa abs]; None where they are not told or cannot be read."""
    from boostproof.casefolder.files import read_car
    from boostproof.casefolder.toml_file import read_toml

    def read() -> tuple[Any, float | None]:
        try:
            car = read_car(read_toml(store.folder(job_id) / CAR, instead="")).car
        except BoostproofError:
            return None, None
        barometer = car.weather.barometer
        return car.limits.target, None if barometer is None else float(barometer.value)

    return store.memory.lasting(f"wanted boost of {_hash(store, job_id, CAR)}", read)


def has_target(store: Store, job_id: int) -> bool:
    """Whether a target is told for the car."""
    of = f"target of {_hash(store, job_id, CAR)}"
    return kept_part(store, bool, of, lambda: wanted_boost(store, job_id)[0] is not None)


def _hash(store: Store, job_id: int, path: str) -> str:
    """Hash of a present file, empty where there is none."""
    return next((file.sha256 for file in store.files(job_id) if file.path == path), "")
