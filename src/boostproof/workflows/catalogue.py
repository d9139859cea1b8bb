"""What is considered: every cause and every test, as plain rows, all of them or those that words find."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

from boostproof.bench.procedures import caution, deference, fill, procedure, procedures
from boostproof.bench.procedures.model import Procedure
from boostproof.bench.tests import BY_ID as TESTS
from boostproof.diagnosis.catalogue.text import BASE_RATE_STATUS, TEXTS
from boostproof.diagnosis.causes import BY_ID as CAUSES_BY_ID
from boostproof.diagnosis.causes import CATALOGUE as CAUSES
from boostproof.diagnosis.causes import Cause
from boostproof.errors import InputError
from boostproof.workflows.catalogue_search import Entry, search

Progress = Callable[[str, float], None]

# Fields that words are looked for in, the weightiest first.
_CAUSE_FIELDS = ("id", "title", "looks_like", "told_apart", "repair")
_TEST_FIELDS = ("id", "title", "purpose", "sound", "steps", "tools")


def list_causes(
    words: str = "", *, units: str = "kPa", among: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Causes: all in catalogue order, or those that the words find, best first.

    Parameters
    ----------
    words : an id or number ("port-too-small", "F1"), or words of it; empty for all
    units : of pressures in the text
    among : ids of the causes that are looked through; None for all

    Returns
    -------
    list of dict
        ``id``, ``number``, ``title``, ``looks_like``, ``told_apart``, ``base_rate`` (weight among all causes),
        ``base_rate_share`` and ``base_rate_status``, ``decide_with`` and ``direct_test`` (null where no test
        measures its own part), ``look_alikes``, ``repair``, ``minutes`` (usual time of the repair), ``cautions``.

    Raises
    ------
    InputError
        If the words find nothing; the nearest ids are given.
    """
    total = sum(cause.base_rate for cause in CAUSES)
    chosen = [cause for cause in CAUSES if among is None or cause.id in among]
    return _found([_cause(cause, total, _in(units)) for cause in chosen], words, _CAUSE_FIELDS, "cause")


def causes_of_case(case: str | Path, words: str = "", *, progress: Progress | None = None) -> dict[str, Any]:
    """Causes that the car of a case can have, and which of them nothing at hand can part, computed for it.

    The car is taken as car.toml describes it, with a log of one slow ramp and every test that its shop can do,
    each once; what was read so far does not count (`boostproof.diagnosis.catalogue.confusability`).

    Parameters
    ----------
    case : folder with car.toml
    words : as `list_causes`; groups are those that hold a cause found
    progress : called with what is being done and the share done (0 to 1)

    Returns
    -------
    dict
        ``causes`` as `list_causes`, and ``inseparable``: groups with ``causes`` (``id``, ``title``) and
        ``same_change``, true where they are one change of the car under several names.

    Raises
    ------
    InputError
        If the case cannot be read, or the words find no cause that this car can have.
    """
    from boostproof.casefolder import read_case
    from boostproof.diagnosis.catalogue.confusability import inseparable
    from boostproof.diagnosis.evidence.setup import causes_of

    car = read_case(case, with_readings=False).car
    rows = list_causes(words, among={cause.id for cause in causes_of(car)})
    found = {row["id"] for row in rows}
    groups = [group for group in inseparable(car, progress=progress) if found & set(group)]
    return {
        "causes": rows,
        "inseparable": [
            {
                "causes": [_named_cause(one) for one in group],
                "same_change": len({CAUSES_BY_ID[one].mechanism for one in group}) == 1,
            }
            for group in groups
        ],
    }


def list_tests(words: str = "", *, units: str = "kPa") -> list[dict[str, Any]]:
    """Tests: all in catalogue order, or those that the words find, best first.

    Parameters
    ----------
    words : an id or number ("actuator-sweep", "T2"), or words of it; empty for all
    units : of pressures in the text

    Returns
    -------
    list of dict
        ``id``, ``number``, ``title``, ``purpose``, ``minutes`` (usual) and ``minutes_range``, ``cautions``
        (they come first wherever a test is shown), ``parts_off``, ``tools``, ``need`` (keys of ``[pull_place]``),
        ``connect``, ``steps``, ``write``, ``reading`` and ``pulls`` (examples), ``never``, ``pointless``,
        ``sound``, ``faults``, ``figure`` (null where nothing is drawn).

    Raises
    ------
    InputError
        If the words find nothing; the nearest ids are given.
    """
    return _found([_test(one, _in(units)) for one in procedures()], words, _TEST_FIELDS, "test")


def write_setup(test_id: str, file: str | Path, *, dark: bool = False) -> Path:
    """Draw the set-up of a test into a file (.svg, .png or .pdf).

    Raises
    ------
    InputRangeError
        If there is no such test.
    InputError
        If nothing is drawn for it, or the file cannot be written.
    """
    from boostproof.report.setup_drawing import drawings, save_setup

    name = procedure(test_id).figure
    if not name:
        raise InputError(
            f"{test_id} has no drawing: nothing is connected in it.", kind="no-figure", where=test_id,
            do=f"Drawn are: {', '.join(drawings())}.",
        )  # fmt: skip
    return save_setup(name, file, dark=dark)


def _in(units: str) -> Callable[[str], str]:
    return lambda text: fill(text, pressure=units)


def _cause(cause: Cause, total: float, put: Callable[[str], str]) -> dict[str, Any]:
    text = TEXTS[cause.id]
    return {
        "id": cause.id,
        "number": f"F{cause.number}",
        "title": cause.title,
        "looks_like": cause.looks_like,
        "told_apart": text.told_apart,
        "base_rate": cause.base_rate,
        "base_rate_share": cause.base_rate / total,
        "base_rate_status": BASE_RATE_STATUS,
        "decide_with": [_named_test(test) for test in text.decide],
        "direct_test": cause.direct_test or None,
        "look_alikes": [_named_cause(other) for other in text.look_alikes],
        "repair": cause.repair,
        "minutes": cause.minutes,
        "cautions": [put(caution(key).says) for key in text.cautions],
    }


def _test(one: Procedure, put: Callable[[str], str]) -> dict[str, Any]:
    usual = TESTS[one.id].minutes if one.id in TESTS else sum(one.minutes) / 2.0
    return {
        "id": one.id,
        "number": f"T{one.number}",
        "title": put(one.title),
        "purpose": put(one.purpose),
        "minutes": usual,
        "minutes_range": list(one.minutes),
        "cautions": [put(item.says) for item in one.cautions] + [put(deference())],
        "parts_off": [put(text) for text in one.parts_off],
        "tools": [put(text) for text in one.tools],
        "need": list(one.need),
        "connect": [put(text) for text in one.connect],
        "steps": [put(text) for text in one.steps],
        "write": put(one.write),
        "reading": put(one.reading),
        "pulls": put(one.pulls) or None,
        "never": [put(text) for text in one.never],
        "pointless": put(one.pointless),
        "sound": put(one.sound),
        "faults": [
            {"shows": put(fault.shows), "causes": [_named_cause(i) for i in fault.causes]} for fault in one.faults
        ],
        "figure": one.figure or None,
    }


def _named_test(test_id: str) -> dict[str, Any]:
    one = procedure(test_id)
    return {"id": one.id, "title": one.title, "minutes_range": list(one.minutes)}


def _named_cause(cause_id: str) -> dict[str, str]:
    known = CAUSES_BY_ID.get(cause_id)
    title = known.title if known is not None else cause_id.replace("-", " ")
    return {"id": cause_id, "title": title}


def _found(rows: list[dict[str, Any]], words: str, names: tuple[str, ...], what: str) -> list[dict[str, Any]]:
    if not words.strip():
        return rows
    entries = [
        Entry(row["id"], row["number"], tuple(_flat(row[name]) for name in names)) for row in rows
    ]
    by_id = {row["id"]: row for row in rows}
    found, near = search(entries, words)
    if not found:
        do = f"Nearest: {', '.join(near)}." if near else f"'boostproof {what}s' lists all."
        raise InputError(f'No {what} is found by "{words.strip()}".', kind="no-match", where=f"{what}s", do=do)
    return [by_id[i] for i in found]


def _flat(value: str | list[str]) -> str:
    return value if isinstance(value, str) else " ".join(value)
