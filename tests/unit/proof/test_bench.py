"""Bench readings before and after a repair."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.unit.bench.meaning.made_readings import build, facts, quantity, reading

from boostproof.bench.readings import Gauge
from boostproof.proof import ReadingChange, compare_readings

GAUGE = {"smallest_mark": "2 kPa", "class_": "1.6 %", "range": "400 kPa"}


def sweep(first: float, full: float) -> Any:
    return reading(
        "actuator-sweep", first_movement=f"{first} kPa", full_travel=f"{full} kPa", travel="14 mm"
    )


def changes(before: Any, after: Any, *, other_gauge: bool = False) -> dict[str, ReadingChange]:
    known = facts(opening=quantity("80 kPa +/- 4 kPa", "pressure"))
    first = build(Gauge, **GAUGE)
    second = build(Gauge, **{**GAUGE, "range": "401 kPa"}) if other_gauge else first
    found, _ = compare_readings([before], [after], (first, second), known)
    return {change.after.id: change for change in found}


def opening(found: dict[str, ReadingChange]) -> ReadingChange:
    return next(change for name, change in found.items() if "opening" in name and "full" not in name)


def test_a_spring_that_was_weak_and_is_right_now() -> None:
    change = opening(changes(sweep(55.0, 95.0), sweep(80.0, 120.0)))
    assert change.before.verdict == "low" and change.after.verdict == "as it should be"
    assert change.verdict == "cured" and change.difference is not None
    # The scale of the gauge acts on the difference alone: 25 kPa within a few kPa.
    assert change.difference.value == pytest.approx(25.0, abs=1.0)
    assert change.as_json()["unit"] == "kPa gauge"
    back = opening(changes(sweep(80.0, 120.0), sweep(55.0, 95.0)))
    assert back.verdict == "worse"


def test_one_gauge_is_sharper_than_two() -> None:
    one, two = opening(changes(sweep(55.0, 95.0), sweep(80.0, 120.0))), opening(
        changes(sweep(55.0, 95.0), sweep(80.0, 120.0), other_gauge=True)
    )
    assert one.difference is not None and two.difference is not None
    # JCGM 100, F.1.2.3: the zero that both share is not in the difference.
    assert one.difference.sd < 0.7 * two.difference.sd
    # Two gauges share nothing, so that the variances add (equation 10).
    own = [np.std(change.draws[1:]) for change in (two.before, two.after)]
    assert two.difference.sd * 1e3 == pytest.approx(float(np.hypot(*own)), rel=0.05)


def test_the_same_reading_twice_is_no_change_and_yet_not_without_doubt() -> None:
    change = opening(changes(sweep(80.0, 120.0), sweep(80.0, 120.0)))
    assert change.difference is not None and change.difference.value == pytest.approx(0.0)
    # Marks and eye are drawn anew for each of the two.
    assert change.difference.sd > 0.5
    assert change.verdict in ("no different", "cannot say")
