"""Saving the answers of the Car page: only what was changed, put right together with what others saved meanwhile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from boostproof.case_names import CAR
from boostproof.casefolder.toml_file import parse_toml
from boostproof.errors import InputError
from boostproof.web import car_form
from boostproof.web.words import t
from boostproof.workflows.car_answer import Problem, Said, tidied, understood
from boostproof.workflows.car_changes import Conflict, changed, merged
from boostproof.workflows.car_sheet import Sheet, read_sheet, rows_in

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

SEEN = "_seen"
_TAKE = "_take."  # "_take.<name>" = "theirs": the other's answer holds
_TRIES = 4  # how often others may save in between before we give up


class Refused(Exception):
    """Answers that are not saved: as typed, what is wrong with them, and where two people differ."""

    def __init__(
        self, values: Mapping[str, Said], problems: Mapping[str, Problem], conflicts: tuple[Conflict, ...] = ()
    ) -> None:
        super().__init__("not saved")
        self.values = values
        self.problems = problems
        self.conflicts = conflicts


def seen_and_raw(store: Store, job_id: int) -> tuple[str, bytes]:
    """Hash and bytes of car.toml, both empty where there is none yet."""
    found = next((file for file in store.files(job_id) if file.path == CAR), None)
    if found is None:
        return "", b""
    return found.sha256, store.read(job_id, CAR, sha256=found.sha256)


def save_answers(store: Store, job_id: int, sent: Mapping[str, Sequence[str]]) -> None:
    """Save what a form changed.

    Parameters
    ----------
    sent : by name of the answer, as typed; with ``_seen``, the hash of the file that the form was made of. Names
        that were not sent stay as they are.

    Raises
    ------
    Refused
        If an answer cannot be used, or someone else changed it too. Nothing is saved then.
    InputError
        If the file as it stands cannot be read.
    """
    for attempt in range(_TRIES):
        now_seen, raw = seen_and_raw(store, job_id)
        now = read_sheet(raw)
        new = _merged_text(now, _base(store, job_id, sent, now_seen, now), sent)
        if new == now.text:
            return
        try:
            store.write(job_id, CAR, new, expect=now_seen)
        except InputError as error:
            if error.kind != "changed-elsewhere" or attempt == _TRIES - 1:
                raise
        else:
            return


def save_file(store: Store, job_id: int, text: str, seen: str) -> None:
    """Save car.toml as a whole.

    Raises
    ------
    InputError
        If it is no TOML, or another version is there than was seen.
    """
    raw = text.replace("\r\n", "\n").encode()
    parse_toml(raw, CAR, instead=t("car.whole_file_do"))
    store.write(job_id, CAR, raw, expect=seen)


def _base(store: Store, job_id: int, sent: Mapping[str, Sequence[str]], now_seen: str, now: Sheet) -> Sheet:
    """The sheet that the form was made of."""
    seen = (sent.get(SEEN) or [now_seen])[-1]
    if seen == now_seen:
        return now
    try:
        return read_sheet(store.read(job_id, CAR, sha256=seen) if seen else b"")
    except InputError:  # a version that is not known: what stands there now was not seen, so nothing is taken as seen
        return read_sheet(b"")


def _merged_text(now: Sheet, base: Sheet, sent: Mapping[str, Sequence[str]]) -> str:
    mine = {
        name: said
        for name, said in sent.items()
        if _asked(name) and (sent.get(f"{_TAKE}{name}") or ["mine"])[-1] != "theirs"
    }
    found = merged(base.values, now.values, mine)
    values = {**found.changes, **{one.name: one.mine for one in found.conflicts}}
    problems = {
        name: problem for name, said in values.items() if isinstance(problem := understood(name, said), Problem)
    }
    problems |= _refused(now, values)
    if problems or found.conflicts:
        raise Refused(values, problems, found.conflicts)
    new = changed(now.text, found.changes)
    after = read_sheet(new.encode())
    new_problems = {name: p for name, p in after.problems.items() if name not in now.problems}
    if new_problems:
        raise Refused(values, new_problems)
    return new


def _refused(now: Sheet, values: Mapping[str, Said]) -> dict[str, Problem]:
    """What can be said only of several answers together."""
    found: dict[str, Problem] = {}
    if "car.name" in values and not values["car.name"]:
        found["car.name"] = Problem(t("car.name_needed"), "")
    rows = [name for name, said in values.items() if name.startswith("limits.target.") and said]
    one = values.get("limits.target", now.values.get("limits.target", ()))
    kept_rows = rows_in(now.values, "limits.target") and "limits.target" in values and not rows
    if one and (rows or (kept_rows and not _all_cleared(now, values))):
        found["limits.target"] = Problem(t("car.target_twice"), "")
    return found


def _all_cleared(now: Sheet, values: Mapping[str, Said]) -> bool:
    """Whether every row of the boost wanted is taken out."""
    return all(not values.get(name, said) for name, said in now.values.items() if name.startswith("limits.target."))


def _asked(name: str) -> bool:
    return car_form.without_row(name) in _EVERY


_EVERY = frozenset(car_form.every_answer())

__all__ = ["CAR", "SEEN", "Refused", "save_answers", "save_file", "seen_and_raw", "tidied"]
