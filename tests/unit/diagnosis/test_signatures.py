"""Signatures: what every cause makes of a pull, against what the trade reasons; where they differ, a reason stands."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from tests.unit.diagnosis.signature_table import OVERRULED, REASONS, TABLE, page
from tests.unit.diagnosis.usual_cars import FITTED, TARGET, usual_car

from boostproof.diagnosis.catalogue.signature import QUANTITIES, letters
from boostproof.diagnosis.catalogue.signature_drives import Traces, drive
from boostproof.diagnosis.causes import BY_ID, CATALOGUE
from boostproof.physics import system
from boostproof.physics.change import apply_all

PAGE = Path(__file__).resolve().parents[3] / "docs" / "causes-signatures.md"
SEVERITIES = np.array([0.25, 0.5, 0.75, 1.0])
CASES = [
    (cause, kind) for cause, (kinds, _) in TABLE.items() for kind in ((kinds,) if isinstance(kinds, str) else kinds)
]


@cache
def sound(kind: str) -> Traces:
    return drive(usual_car(kind, 2), TARGET)


@cache
def found(cause: str) -> dict[str, frozenset[str]]:
    """Letters at any severity, of any variant, on any kind of car that the table names."""
    out: dict[str, set[str]] = {name: set() for name in QUANTITIES}
    for kind in (k for c, k in CASES if c == cause):
        for _, changes in BY_ID[cause].variants_for(FITTED[kind].controller):
            faulty = apply_all(changes, usual_car(kind, len(SEVERITIES)), SEVERITIES)
            traces = drive(np.concatenate([usual_car(kind), faulty], axis=1), TARGET)
            for car in range(1, 1 + len(SEVERITIES)):
                for name, some in letters(traces, car).items():
                    out[name] |= some
    return {name: frozenset(some) for name, some in out.items()}


@pytest.mark.parametrize("kind", FITTED)
def test_a_sound_car_shows_nothing(kind: str) -> None:
    shown = letters(sound(kind), 1)
    duty = "=" if FITTED[kind].solenoid else "n"
    assert shown == {name: {"L" if name == "boost" else duty if name == "duty" else "="} for name in QUANTITIES}


@pytest.mark.parametrize("kind", FITTED)
def test_the_usual_cars_hold_a_level(kind: str) -> None:
    """Level within 10 kPa from two thirds of redline on, with the gate neither shut nor at its stop."""
    traces = sound(kind)
    late = traces.speed > 0.65
    boost = traces.ramp[late, system.OUTPUT_INDEX["boost"], 0]
    travel = traces.ramp[late, system.OUTPUT_INDEX["travel"], 0]
    assert 4.5e4 < boost.mean() < 1.05e5
    assert np.ptp(boost) < (2.0e4 if "just" in kind else 1.0e4)
    assert 1.0e-3 < travel.mean() < 1.1e-2


def test_the_table_holds_every_cause() -> None:
    assert set(TABLE) == {cause.id for cause in CATALOGUE}
    assert all(len(code.split("|")) == len(QUANTITIES) for _, code in TABLE.values())
    assert all(set(REASONS) >= {why for _, why in some.values()} for some in OVERRULED.values())
    assert set(REASONS) == {why for some in OVERRULED.values() for _, why in some.values()}


@pytest.mark.parametrize(("cause", "kind"), CASES)
def test_it_is_simulated_on_a_car_that_can_have_it(cause: str, kind: str) -> None:
    assert BY_ID[cause].applies(FITTED[kind])


@pytest.mark.parametrize("cause", TABLE)
def test_every_letter_is_right_or_overruled(cause: str) -> None:
    code = dict(zip(QUANTITIES, TABLE[cause][1].split("|"), strict=True))
    wrong = {}
    for name in QUANTITIES:
        wanted, shown = set(code[name].split()), found(cause)[name]
        instead = set(OVERRULED.get(cause, {}).get(name, ("", ""))[0].split())
        if wanted == {"."}:
            assert not instead
        elif wanted & shown:
            assert not instead, f"{name}: the table is right, the overruling is stale"
        elif not instead or not instead <= shown:
            wrong[name] = (sorted(wanted), sorted(shown))
    assert wrong == {}


def test_the_page_says_what_is_overruled() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()
