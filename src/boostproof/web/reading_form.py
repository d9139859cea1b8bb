"""The form of a reading as pages show it: the fields of `boostproof.workflows.bench_form` with their words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.requests import Request

from boostproof.case_names import READINGS, RECORDINGS, is_recording
from boostproof.web.words import keys, t
from boostproof.workflows.bench_form import (
    NO,
    PRESSURE_UNITS,
    YES,
    FormField,
    about_fields,
    form_of,
    reasons_not_done,
    rows_in,
    values_of,
)

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

COMMON = ("heard_at", "loudness", "state")  # folded away: hardly any test is about them
_ROWS = {"controller-vent": 3, "solenoid-check": 3, "sensor-check": 2, "exhaust-back-pressure": 2, "compression": 4}
_MOST_ROWS = 16
_OWN_UNIT = re.compile(r"[^\W\d_]")


@dataclass(frozen=True)
class Word:
    """A word to choose, and how it is said on screen."""

    value: str
    says: str


@dataclass(frozen=True)
class FieldShown:
    """One field.

    Attributes
    ----------
    name, label, help : as sent, as said, one line
    kind : "number" (with steppers), "choice", "several", "text" or "recording"
    unit, step : of a bare number
    options : to choose from; ``open``: or other words
    words : in place of a number
    value : what stands in it
    chosen : words that are chosen
    """

    name: str
    label: str
    help: str
    kind: str
    unit: str
    step: float
    options: tuple[Word, ...]
    open: bool
    words: tuple[Word, ...]
    value: str
    chosen: tuple[str, ...]


@dataclass(frozen=True)
class GroupShown:
    """Fields that belong together, row by row; one row where they are read once."""

    name: str
    heading: str
    help: str
    rows: tuple[tuple[FieldShown, ...], ...]
    many: bool


@dataclass(frozen=True)
class ReadingForm:
    """The form of one reading.

    Attributes
    ----------
    test, of : the test, and the repeated one of a hot repeat
    index : place of the reading that is corrected, None for a new one
    expect : sha256 of readings.toml as it was seen, "" for none
    unit : of the gauge in hand
    groups, common, about : fields of the test, those of every test, and those for people
    reasons : why it could not be done
    repeats : tests that a hot repeat can repeat, with their titles
    wrong : messages by field
    """

    test: str
    of: str
    index: int | None
    expect: str
    unit: str
    groups: tuple[GroupShown, ...]
    common: tuple[FieldShown, ...]
    about: tuple[FieldShown, ...]
    reasons: tuple[str, ...]
    repeats: tuple[Word, ...]
    wrong: Mapping[str, str]


async def sent_values(request: Request) -> dict[str, list[str]]:
    """All values of a form, by name: a dependency for routes whose fields the test decides."""
    form = await request.form()
    found: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        if isinstance(value, str):
            found.setdefault(name, []).append(value)
    return found


def one(values: Mapping[str, Sequence[str]], name: str) -> str:
    """A single value of a form, "" where it was not sent."""
    return values.get(name, [""])[-1]


def gauge_unit(store: Store) -> str:
    """Unit of the gauge in hand: as chosen last, else that of the shop."""
    chosen = store.settings.get("gauge_unit", "")
    if chosen in PRESSURE_UNITS:
        return str(chosen)
    return "psi" if store.settings.get("units", "imperial") == "imperial" else "bar"


def expected(store: Store, job_id: int) -> str:
    """sha256 of readings.toml as it is now, "" for none."""
    return next((f.sha256 for f in store.files(job_id) if f.path == READINGS), "")


def reading_form(
    store: Store,
    job_id: int,
    test: str,
    *,
    of: str = "",
    row: Mapping[str, Any] | None = None,
    index: int | None = None,
    typed: Mapping[str, Sequence[str]] | None = None,
    wrong: Mapping[str, str] | None = None,
    more: int = 0,
    repeats: Sequence[Word] = (),
) -> ReadingForm:
    """The form of one reading.

    Parameters
    ----------
    test, of : the test, and the repeated one of a hot repeat
    row, index : the reading that is corrected
    typed : what was typed and not taken, in place of the reading
    wrong : what is wrong with it, by field
    more : rows to show beside those that are filled
    repeats : tests that can be repeated hot
    """
    unit = one(typed, "unit") if typed else gauge_unit(store)
    unit = unit if unit in PRESSURE_UNITS else gauge_unit(store)
    values: Mapping[str, Sequence[str]] = typed if typed is not None else values_of(row or {})
    shown = min(_MOST_ROWS, max(_ROWS.get(of or test, 1), rows_in(values)) + more)
    recordings = tuple(f.path for f in store.files(job_id) if is_recording(f.path))
    groups: list[GroupShown] = []
    common: tuple[FieldShown, ...] = ()
    for group in form_of(test, unit, of=of or None, rows=shown):
        fields = tuple(_shown(f, values, recordings) for f in group.fields)
        if not group.name:
            common = tuple(f for f in fields if f.name in COMMON)
            fields = tuple(f for f in fields if f.name not in COMMON)
        if fields:
            groups.append(_grouped(group.name, fields, shown if group.rows else 1))
    return ReadingForm(
        test=test, of=of, index=index, unit=unit,
        expect=one(typed, "expect") if typed and "expect" in typed else expected(store, job_id),
        groups=tuple(groups), common=common,
        about=tuple(_shown(f, values, recordings) for f in about_fields(unit)),
        reasons=reasons_not_done(), repeats=tuple(repeats), wrong=dict(wrong or {}),
    )  # fmt: skip


def label_of(key: str) -> str:
    """What a key of readings.toml is called on screen."""
    return t(f"bench.label.{key}")


def in_words(row: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """A reading as written, as pairs of label and value."""
    out: list[tuple[str, str]] = []
    for name, said in values_of(row).items():
        parts = name.split(".")
        label = label_of(parts[-1])
        if parts[0] == "rows":
            label = f"{int(parts[1]) + 1}. {label}"
        elif len(parts) > 1:
            label = f"{t(f'bench.group_short.{parts[0]}')}: {label}"
        out.append((label, ", ".join(_said(parts[-1], one_said) for one_said in said)))
    return tuple(out)


def _grouped(name: str, fields: Sequence[FieldShown], rows: int) -> GroupShown:
    each = len(fields) // rows
    split = tuple(tuple(fields[i * each : (i + 1) * each]) for i in range(rows))
    return GroupShown(name, t(f"bench.group.{name}") if name else "", "", split, name == "rows")


def _shown(field: FormField, values: Mapping[str, Sequence[str]], recordings: Sequence[str]) -> FieldShown:
    said = [v for v in values.get(field.name, ()) if v]
    help_key = f"bench.help.{field.key}"
    words = tuple(Word(w, _said(field.key, w)) for w in field.words)
    options = tuple(Word(o, o) for o in field.options)
    kind = _KINDS[field.kind]
    if kind == "recording":
        options = tuple(Word(r, r.removeprefix(f"{RECORDINGS}/")) for r in recordings)
    if field.kind == "flag":
        options = (Word(YES, t("bench.form.yes")), Word(NO, t("bench.form.no")))
    known = {w.value for w in (*words, *options)}
    value = next((v for v in reversed(said) if v not in known), "")
    value = value.removesuffix(f" {field.unit}") if field.unit else value
    own = bool(field.unit and _OWN_UNIT.search(value.replace("or", "").replace("about", "")))
    label = label_of(field.key)
    told = t(help_key) if help_key in _keys() else _first_line(field.doc)
    return FieldShown(
        name=field.name, label=label, help="" if told.casefold() == label.casefold() else told,
        kind=kind, unit="" if own else field.unit, step=field.step, options=options, open=field.open, words=words,
        value=value, chosen=tuple(v for v in said if v in known),
    )  # fmt: skip


_KINDS = {
    "quantity": "number", "integer": "number", "turns": "number", "number": "number", "choice": "choice",
    "flag": "choice", "choices": "several", "text": "text", "texts": "text", "path": "recording",
}  # fmt: skip


def _said(key: str, word: str) -> str:
    """A word in place of a value as it is said on screen."""
    special = f"bench.word.{word}_{key}"
    if special in _keys():
        return t(special)
    plain = f"bench.word.{word}"
    return t(plain) if plain in _keys() else word


def _first_line(doc: str) -> str:
    return doc.partition(";")[0]


def _keys() -> set[str]:
    if not _KNOWN:
        _KNOWN.update(keys())
    return _KNOWN


_KNOWN: set[str] = set()
