"""How often a proof is wrong, on drawn pulls whose truth is known. docs/proof.md has the longer table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest
from tests.unit.proof.drawn_repairs import faulty, on_a_day, target

from boostproof.proof import Proof, prove
from boostproof.recording import Pull

Sides = tuple[list[Pull], list[Pull]]


def verdicts(count: int, draw: Callable[[np.random.Generator], Sides], **how: object) -> Counter[str]:
    """What a number of proofs say."""
    found: Counter[str] = Counter()
    for seed in range(count):
        before, after = draw(np.random.default_rng([31, seed]))
        proof: Proof = prove(before, after, target=target(), **how)  # type: ignore[arg-type]
        found[proof.verdict] += 1
    return found


def test_a_car_that_nobody_touched_is_seldom_called_cured_or_worse() -> None:
    said = verdicts(30, lambda rng: (faulty(rng, 3, 15.0), faulty(rng, 3, 15.0)), controlled="gauge")
    # Of 30 proofs 5 % are 1.5; more than 4 would come up in one of sixty runs of a rate of 5 %.
    assert said["cured"] <= 4 and said["worse"] <= 4 and said["better"] <= 4
    assert said["no different"] >= 20


def test_the_weather_alone_makes_no_repair() -> None:
    def draw(rng: np.random.Generator) -> Sides:
        # Two days 4 kPa apart move gauge boost by 4 kPa where an absolute pressure is held.
        return on_a_day(rng, 3, 97.0, over=15.0), on_a_day(rng, 3, 101.0, over=15.0)

    said = verdicts(8, draw, controlled="absolute")
    assert said["cured"] == 0 and said["worse"] <= 1 and said["better"] <= 1


def test_a_car_that_is_still_outside_is_seldom_called_cured() -> None:
    # 8 kPa above the target is outside a tolerance of 7; from 20 kPa that is much better all the same.
    said = verdicts(12, lambda rng: (faulty(rng, 3, 20.0), faulty(rng, 3, 8.0)), controlled="gauge")
    assert said["cured"] <= 2 and said["worse"] == 0
    assert said["better"] >= 10


@pytest.mark.parametrize(("over", "least"), [(10.0, 3), (20.0, 4)])
def test_a_real_repair_is_found(over: float, least: int) -> None:
    said = verdicts(4, lambda rng: (faulty(rng, 3, over), faulty(rng, 3)), controlled="gauge")
    assert said["cured"] + said["better"] >= least and said["worse"] == 0
