"""How often a proof is wrong, on drawn pulls whose truth is known. docs/proof.md has the longer table."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.proof.drawn_repairs import Sides, faulty, on_a_day, verdicts

STREAM = 31


def test_a_car_that_nobody_touched_is_seldom_called_cured_or_worse() -> None:
    said = verdicts(30, lambda rng: (faulty(rng, 3, 15.0), faulty(rng, 3, 15.0)), stream=STREAM, controlled="gauge")
    # Of 30 proofs 5 % are 1.5; more than 4 would come up in one of sixty runs of a rate of 5 %.
    assert said["cured"] <= 4 and said["worse"] <= 4 and said["better"] <= 4
    assert said["no different"] >= 20


def test_the_weather_alone_makes_no_repair() -> None:
    def draw(rng: np.random.Generator) -> Sides:
        # Two days 4 kPa apart move gauge boost by 4 kPa where an absolute pressure is held.
        return on_a_day(rng, 3, 97.0, over=15.0), on_a_day(rng, 3, 101.0, over=15.0)

    said = verdicts(8, draw, stream=STREAM, controlled="absolute")
    assert said["cured"] == 0 and said["worse"] <= 1 and said["better"] <= 1


def test_a_car_that_is_still_outside_is_seldom_called_cured() -> None:
    # 8 kPa above the target is outside a tolerance of 7; from 20 kPa that is much better all the same.
    said = verdicts(12, lambda rng: (faulty(rng, 3, 20.0), faulty(rng, 3, 8.0)), stream=STREAM, controlled="gauge")
    assert said["cured"] <= 2 and said["worse"] == 0
    assert said["better"] >= 10


@pytest.mark.parametrize(("over", "least"), [(10.0, 3), (20.0, 4)])
def test_a_real_repair_is_found(over: float, least: int) -> None:
    said = verdicts(4, lambda rng: (faulty(rng, 3, over), faulty(rng, 3)), stream=STREAM, controlled="gauge")
    assert said["cured"] + said["better"] >= least and said["worse"] == 0
