"""``job.json`` of an exported case: what a job holds beside its files, as text and read again.

It lies beside car.toml, and a case without it is a case all the same. What it says was written by whoever handed the
case over, so that nothing of it is believed before it is checked.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boostproof.case_names import JOB
from boostproof.errors import InputError
from boostproof.jobs.files import Entry, checked_path
from boostproof.jobs.plain import content_of, packed
from boostproof.jobs.records import STATES, KeptAnswer, Noted

FORMAT = 1
LARGEST = 200_000_000  # bytes: thousands of answers
LONGEST_TEXT = 256 * 1024  # bytes of an earlier version; car.toml and its like are far smaller, logs stay behind

_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|\+00:00)")
_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Version:
    """One version of a file: its path, hash and time, and its text where it is an earlier one and short."""

    path: str
    sha256: str
    changed: str
    text: str | None


@dataclass(frozen=True)
class JobFile:
    """What a job holds beside its present files.

    Attributes
    ----------
    state, created : of the job
    versions : of its files, the oldest first; the present ones lie beside
    history : what was done, in order
    settings : what was written on its pages, by name: decision, money, card, sign-off, report
    contents : files that the answers rest on, by their content hash
    answers : kept answers, the oldest first, by their numbers where they were kept
    """

    state: str
    created: str
    versions: tuple[Version, ...]
    history: tuple[Noted, ...]
    settings: Mapping[str, Any]
    contents: Mapping[str, tuple[Entry, ...]]
    answers: tuple[KeptAnswer, ...]


def written(job: JobFile) -> bytes:
    """The file: the same bytes for the same job."""
    told = {
        "format": FORMAT,
        "state": job.state,
        "created": job.created,
        "versions": [{name: value for name, value in vars(v).items() if value is not None} for v in job.versions],
        "history": [vars(noted) for noted in job.history],
        "settings": dict(job.settings),
        "contents": {content: [vars(entry) for entry in files] for content, files in job.contents.items()},
        "answers": [{name: value for name, value in vars(kept).items() if name != "job"} for kept in job.answers],
    }
    return packed(told).encode()


def read(data: bytes) -> JobFile:
    """Read the file.

    Raises
    ------
    InputError
        If it is none of ours, of a newer version, or damaged.
    """
    try:
        told = json.loads(data, parse_constant=_refuse)
        if told["format"] != FORMAT:
            raise _wrong("was written by a newer boostproof.", "Update boostproof, or take job.json out of the case.")
        return _read(told)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, InputError) and error.kind == "job-file":
            raise
        raise _wrong(
            "is damaged, or not the one that boostproof writes.",
            "Take job.json out of the case; it then comes in without its history, answers and decisions.",
        ) from error


def renumbered(value: Any, numbers: Mapping[int, int]) -> Any:
    """Choices and settings with each ``{"answer": 17}`` as the same answer is numbered now; 0 where it is unknown.

    >>> renumbered({"forecast": {"answer": 17}, "old": [{"answer": 3}]}, {17: 2})
    {'forecast': {'answer': 2}, 'old': [{'answer': 0}]}
    """
    if isinstance(value, dict):
        if list(value) == ["answer"] and isinstance(value["answer"], int):
            return {"answer": numbers.get(value["answer"], 0)}
        return {name: renumbered(item, numbers) for name, item in value.items()}
    return [renumbered(item, numbers) for item in value] if isinstance(value, list) else value


def _read(told: Mapping[str, Any]) -> JobFile:
    answers = tuple(
        KeptAnswer(
            _whole(a["id"]), 0, _text(a["kind"]), _table(a["choices"]), _matching(_HASH, a["content"]),
            _table(a["answer"]), _whole(a["seed"]), {_text(k): _text(v) for k, v in a["versions"].items()},
            _matching(_TIME, a["made"]),
        )
        for a in told["answers"]
    )  # fmt: skip
    contents = {
        _matching(_HASH, content): tuple(
            Entry(checked_path(f["path"]), _matching(_HASH, f["sha256"]), _whole(f["size"])) for f in files
        )
        for content, files in told["contents"].items()
    }
    for content, entries in contents.items():
        if content_of(entries) != content:
            raise ValueError("a content that is not of its files")
    for kept in answers:
        if kept.content not in contents:
            raise ValueError("an answer rests on files that are not named")
        for drawing in _drawings(kept.answer):
            _refuse_markup(drawing)
    return JobFile(
        state=STATES[STATES.index(told["state"])],
        created=_matching(_TIME, told["created"]),
        versions=tuple(_version(v) for v in told["versions"]),
        history=tuple(Noted(_matching(_TIME, noted["at"]), _text(noted["says"])) for noted in told["history"]),
        settings={_text(name): value for name, value in _table(told["settings"]).items()},
        contents=contents,
        answers=answers,
    )


def _version(told: Mapping[str, Any]) -> Version:
    digest, text = _matching(_HASH, told["sha256"]), told.get("text")
    if text is not None and hashlib.sha256(_text(text).encode()).hexdigest() != digest:
        raise ValueError("a text that is not what came in")
    return Version(checked_path(_text(told["path"])), digest, _matching(_TIME, told["changed"]), text)


def _drawings(value: Any) -> Iterator[str]:
    """Every drawing in an answer: pages put these in as they are."""
    if isinstance(value, Mapping):
        for name, item in value.items():
            if name == "svg":
                yield _text(item)
            else:
                yield from _drawings(item)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for item in value:
            yield from _drawings(item)


def _refuse_markup(drawing: str) -> None:
    from boostproof.report.document.only_draws import only_draws

    if not only_draws(drawing):
        raise ValueError("a drawing does more than draw")


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    value.encode()  # half a character cannot be kept
    return value


def _whole(value: Any) -> int:
    if type(value) is not int or abs(value) > 2**63 - 1:
        raise TypeError("no whole number")
    return value


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("no table")
    packed(value).encode()  # as it will be kept
    return value


def _matching(form: re.Pattern[str], value: Any) -> str:
    if not form.fullmatch(_text(value)):
        raise ValueError("not in the form that it has")
    return str(value)


def _refuse(name: str) -> None:
    raise ValueError(f"{name} is no number")


def _wrong(says: str, do: str) -> InputError:
    return InputError(f"{JOB} {says}", kind="job-file", where=JOB, do=do)
