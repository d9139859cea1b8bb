"""Readings of the bench in the worksheet: as typed, as kept, and what they mean; for every page that takes one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from boostproof.case_names import READINGS
from boostproof.errors import BoostproofError
from boostproof.jobs.after_repair import after_repair, mended_at
from boostproof.jobs.once import once
from boostproof.web.once import FIELD
from boostproof.web.page import units_of
from boostproof.web.reading_form import gauge_unit, one
from boostproof.web.said import pressure_unit
from boostproof.web.words import t
from boostproof.workflows.bench_form import PRESSURE_UNITS, Typed, typed_reading
from boostproof.workflows.bench_sheet import (
    Meant,
    ProcedurePage,
    context_of_case,
    meaning_of,
    parted,
    places_of,
    procedure_page,
    read_meaning,
)

if TYPE_CHECKING:
    from pathlib import Path

    from boostproof.casefolder import Case
    from boostproof.jobs.store import Store


def typed_of(values: Mapping[str, Sequence[str]], store: Store) -> Typed:
    """What a form of a reading said."""
    unit = one(values, "unit")
    fields = {k: v for k, v in values.items() if k not in ("test", "of", "unit", "expect", "index", FIELD)}
    return typed_reading(
        one(values, "test"), fields, unit if unit in PRESSURE_UNITS else gauge_unit(store), of=one(values, "of") or None
    )


@lru_cache(maxsize=64)
def rows_in_text(text: str) -> tuple[dict[str, Any], ...]:
    """The readings in a text as they are written, in order; they are shared, so nobody may change them.

    Raises
    ------
    InputError
        If the text is no TOML.
    """
    from boostproof.casefolder.readings_edit import readings_in

    return tuple(readings_in(text))


def meant(store: Store, job_id: int, typed: Typed, index: int | None) -> Meant:
    """What a typed reading means beside those of the job; nothing where the car cannot be read yet."""
    assert typed.reading is not None
    try:
        later = after_repair(store, job_id).readings
        places = places_of(rows_in_text(store.text(job_id, READINGS)), later)
        # what is read from here on tells of the car as it is now, and stands beside what was read of it
        after, place = (bool(mended_at(store, job_id)), None) if index is None or index >= len(places) else places[index]
        sides = _parted(store.folder(job_id), store.content(job_id), later)
        return meaning_of(sides[after], typed.reading, index=place, units=pressure_unit(units_of(store)))
    except BoostproofError as error:
        return Meant((), {}, (f"{error.says} {error.do}".strip(),))


def keep_reading(
    store: Store, job_id: int, values: Mapping[str, Sequence[str]], key: str, leads_to: Callable[[int], str]
) -> tuple[str, dict[str, str]]:
    """Keep what a form says; the address that it leads to, and what is wrong where it was not taken.

    Parameters
    ----------
    key : of what was sent; what was kept under it is not kept again
    leads_to : the address from the place among the readings

    Raises
    ------
    InputError
        If readings.toml was changed elsewhere meanwhile, or cannot be added to.
    """
    from boostproof.casefolder.readings_edit import add_reading, change_reading, readings_in

    typed = typed_of(values, store)
    if typed.problems:
        return "", typed.problems
    told = [k for k in typed.row if k not in ("test", "of", "when", "by", "note", "state")]
    if not told and not typed.row.get("note"):
        return "", {"test": t("bench.form.nothing")}

    def kept() -> str:
        text = store.text(job_id, READINGS)
        count = len(readings_in(text))
        index = index_of(one(values, "index"), count)
        new = add_reading(text, typed.row) if index is None else change_reading(text, index, typed.row)
        store.write(job_id, READINGS, new, expect=one(values, "expect") if "expect" in values else None)
        if store.job(job_id).state == "new":
            store.set_state(job_id, "measuring")
        return leads_to(count if index is None else index)

    return once(store, key, kept), {}


@lru_cache(maxsize=128)
def procedure_of(test: str, units: str) -> ProcedurePage:
    """A test's procedure in the units of the shop."""
    return procedure_page(test, pressure=units, temperature="F" if units == "psi" else "C")


def takes(test: str, units: str) -> str:
    """How long a test takes, in words."""
    low, high = procedure_of(test, units).minutes
    if low == high:
        return t("bench.minutes_one", low=f"{low:.0f}")
    return t("bench.minutes", low=f"{low:.0f}", high=f"{high:.0f}")


def index_of(written: str, count: int) -> int | None:
    """The place among so many readings that is written, None where it is none."""
    return int(written) if written.isdecimal() and int(written) < count else None


@lru_cache(maxsize=32)
def read_of(folder: Path, content: str, later: tuple[str, ...]) -> tuple[Any, Any, Any]:
    """Context of a case that does not change any more, and the meaning of its readings before and after a repair."""
    before, after = _parted(folder, content, later)
    return context_of_case(before), read_meaning(before), read_meaning(after) if later else None


@lru_cache(maxsize=8)
def _parted(folder: Path, content: str, later: tuple[str, ...]) -> tuple[Case, Case]:
    """The case with its readings from before a repair, and with those from after it."""
    return parted(_read_case(folder, content), later)


@lru_cache(maxsize=8)
def _read_case(folder: Path, content: str) -> Case:
    from boostproof.casefolder import read_case

    return read_case(folder)
