"""What of a job was made after its repair, and the job's files without it: these tell of the car as found.

A person says what is after the repair when pulls are held against each other. What came in once the job was mended is
taken to be after it as long as nobody has said otherwise.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from boostproof.case_names import CAR, PULLS, READINGS, is_recording, is_set_aside
from boostproof.errors import InputError
from boostproof.jobs.records import KeptAnswer, StoredFile

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.jobs.store import Store
    from boostproof.recording.setup import RecordingSetup

PROVE = "prove"
_MENDED = "State: mended"
_NOT_MENDED = ("State: new", "State: measuring", "State: needs approval")  # somebody took it back


@dataclass(frozen=True)
class AsFound:
    """The files that a ranking of the causes rests on.

    Attributes
    ----------
    files : by path
    texts : of those that were never written so, by path
    """

    files: tuple[StoredFile, ...]
    texts: Mapping[str, str]

    def text(self, store: Store, job_id: int, path: str) -> str:
        """Text of one of the files, empty where there is none."""
        if path in self.texts:
            return self.texts[path]
        file = next((f for f in self.files if f.path == path), None)
        return "" if file is None else _text_of(store, job_id, path, file.sha256)


def after_repair(store: Store, job_id: int) -> LeftOut:
    """Recordings (paths), pulls of others, and readings (``seat-leak#2``) of a job that were made after its repair."""
    return store.memory.get(f"after repair {job_id}", lambda: _after_repair(store, job_id))


def as_found(store: Store, job_id: int) -> AsFound:
    """The files of a job without what was made after its repair, and without what was set aside."""
    return store.memory.get(f"as found {job_id}", lambda: _as_found(store, job_id))


def mended_at(store: Store, job_id: int) -> str:
    """When the job was last set to mended (ISO 8601, UTC), else when pulls before and after were compared; empty where
    neither was done, or the first was taken back."""
    noted = store.history(job_id)
    place = next((k for k in reversed(range(len(noted))) if noted[k].says.startswith(_MENDED)), None)
    proof = _proof(store, job_id)
    if place is None:
        return "" if proof is None or not proof.choices.get("after") else proof.made
    if proof is not None and proof.made > noted[place].at:
        return noted[place].at
    return "" if any(n.says.startswith(_NOT_MENDED) for n in noted[place:]) else noted[place].at


def _proof(store: Store, job_id: int) -> KeptAnswer | None:
    return store.answers.latest(job_id, PROVE, current=False)


def _after_repair(store: Store, job_id: int) -> LeftOut:
    proof, mended = _proof(store, job_id), mended_at(store, job_id)
    choices: Mapping[str, Any] = {} if proof is None else proof.choices
    return replace(_driven(store, job_id, choices, mended), readings=_readings(store, job_id, proof, mended))


def _driven(store: Store, job_id: int, choices: Mapping[str, Any], mended: str) -> LeftOut:
    """Recordings, and pulls of others: what pulls.toml says of one goes before the sides on which its pulls were compared,
    and these go before when it came in."""
    from boostproof.casefolder.left_out import LeftOut, made_after, parted

    came = {file.path: file.changed for file in store.files(job_id) if is_recording(file.path)}
    setups = _setups(store, job_id)
    told = {setup.file: setup.after_repair for setup in setups if setup.after_repair and setup.file in came}
    named = made_after(choices.get("before", ()), choices.get("after", ()))
    first = {parted(name)[0] for name in choices.get("before", ())}
    whole = [path for path in named.recordings if path in came and path not in told]
    supposed = [
        path for path, at in came.items()
        if mended and at > mended and path not in first and path not in whole and path not in told
    ]  # fmt: skip
    if not set(came) - {*whole, *supposed}:  # nothing from before is left that these could be told from
        supposed = []
    found = [*whole, *supposed, *(path for path, numbers in told.items() if numbers.every)]
    beside = [name for setup in setups if setup.file in found for name in setup.joined_with or () if name in came]
    pulls = {path: numbers for path, numbers in named.pulls if path in came} | told
    out = sorted({*found, *beside})
    return LeftOut(
        tuple(out), pulls=tuple((path, pulls[path]) for path in sorted(pulls) if path not in out),
        between=tuple(item for item in named.between if item[0] in came and item[0] not in (*out, *told)),
    )  # fmt: skip


def _setups(store: Store, job_id: int) -> Sequence[RecordingSetup]:
    """What pulls.toml says; nothing where it cannot be read."""
    return _setups_in(store.text(job_id, PULLS))


@lru_cache(maxsize=128)
def _setups_in(pulls: str) -> Sequence[RecordingSetup]:
    from boostproof.casefolder.files import read_pulls
    from boostproof.casefolder.toml_file import parse_toml

    try:
        return read_pulls(parse_toml(pulls.encode(), PULLS, instead=""))[0].recording if pulls.strip() else ()
    except InputError:
        return ()


def _readings(store: Store, job_id: int, proof: KeptAnswer | None, mended: str) -> tuple[str, ...]:
    """Readings that were named, and those that came after the others: after the naming, else after the repair."""
    names = _names(store.text(job_id, READINGS))
    told = proof is not None and "repeated" in proof.choices
    named: Collection[str] = proof.choices["repeated"] if told and proof is not None else ()
    if not mended:
        return tuple(name for name in names if name in named)
    if told and proof is not None:
        old = _text_at(store, job_id, proof.content)
    else:
        versions = store.versions(job_id, READINGS)
        then = next((v for v in versions if v.changed <= mended), None)
        old = "" if then is None else _text_of(store, job_id, READINGS, then.sha256)
    known = set(_names(old))
    return tuple(name for name in names if name in named or name not in known)


@lru_cache(maxsize=128)
def _names(readings: str) -> tuple[str, ...]:
    """Names of the readings in a text, none where it cannot be read."""
    from boostproof.casefolder.left_out import names_in
    from boostproof.casefolder.toml_file import toml_rows

    return names_in(toml_rows(readings, "reading"))


def _text_of(store: Store, job_id: int, path: str, sha256: str) -> str:
    """One version of a file, as text."""
    return store.read(job_id, path, sha256=sha256).decode("utf-8-sig", "replace")


def _text_at(store: Store, job_id: int, content: str) -> str:
    """readings.toml of earlier files."""
    try:
        entry = next((e for e in store.manifest(content) if e.path == READINGS), None)
        return "" if entry is None else _text_of(store, job_id, READINGS, entry.sha256)
    except InputError:  # brought in from elsewhere without it
        return store.text(job_id, READINGS)


def _as_found(store: Store, job_id: int) -> AsFound:
    from boostproof.casefolder.left_out_texts import car_without, empty, pulls_without, readings_without

    left_out, proof = after_repair(store, job_id), _proof(store, job_id)
    repeated = "" if proof is None else str(proof.choices.get("readings_after", ""))
    files = [
        file for file in store.files(job_id)
        if not is_set_aside(file.path) and file.path not in left_out.recordings and file.path != repeated
    ]  # fmt: skip
    if not left_out:
        return AsFound(tuple(files), {})
    if left_out.pulls and all(file.path != PULLS for file in files):
        files.append(StoredFile(PULLS, "", 0, store.job(job_id).created))
    trims: dict[str, Callable[[str, LeftOut], str]] = {
        CAR: car_without, PULLS: pulls_without, READINGS: readings_without,
    }  # fmt: skip
    kept, texts = [], {}
    for file in files:
        trim = trims.get(file.path)
        new = None if trim is None else _trimmed(store.text(job_id, file.path), trim, left_out)
        if new is None:
            kept.append(file)
            continue
        earlier = _that_says(store, job_id, file.path, new)
        if earlier is not None:
            kept.append(earlier)
        elif not empty(new):
            data = new.encode()
            kept.append(replace(file, sha256=hashlib.sha256(data).hexdigest(), size=len(data)))
            texts[file.path] = new
    return AsFound(tuple(kept), texts)


@lru_cache(maxsize=128)
def _trimmed(text: str, trim: Callable[[str, LeftOut], str], left_out: LeftOut) -> str | None:
    """A text without what is left out; None where nothing of it is in there, or it cannot be read."""
    try:
        new = trim(text, left_out)
    except InputError:  # whoever reads the case says so
        return None
    return None if new == text else new


def _that_says(store: Store, job_id: int, path: str, text: str) -> StoredFile | None:
    """The latest version of a file that says just this, so that it is the one that was judged before."""
    from boostproof.casefolder.toml_file import toml_table

    wanted = toml_table(text)
    for version in store.versions(job_id, path):
        if toml_table(_text_of(store, job_id, path, version.sha256)) == wanted:
            return version
    return None
