"""Which cars a suite holds: fixed by their names, kept apart by sets, nested from tier to tier."""

from __future__ import annotations

import numpy as np
import pytest
from evaluation.suites import BASES, base_rates, spread, tasks_of
from evaluation.truths import blank, draw_car, driven, sound_cars

from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import COMPLAINT


def names(count: int, least: int, base: str = "dev") -> dict[str, int]:
    return {t.name: t.seed for t in tasks_of("S1", count, base=BASES[base], least=least, tests=2)}


def test_a_larger_tier_holds_the_cars_of_a_smaller_one() -> None:
    ci, issue, release = names(6, 0), names(600, 8), names(3000, 40)
    assert ci.items() <= issue.items() <= release.items()
    assert len(ci) == 6


def test_the_sets_share_no_seed() -> None:
    assert not set(names(600, 8, "dev").values()) & set(names(600, 8, "score").values())


def test_every_cause_has_enough_cars_and_weights_give_its_rate_back() -> None:
    tasks = tasks_of("S1", 600, base=BASES["dev"], least=8, tests=2)
    rates = base_rates()
    assert sum(rates.values()) == pytest.approx(1.0)
    for cause, rate in rates.items():
        some = [t.weight for t in tasks if t.cause == cause]
        assert len(some) >= 8
        assert sum(some) == pytest.approx(rate)


def test_few_cars_are_spread_evenly_over_the_rates() -> None:
    rates = {f"cause {k:02d}": 1.0 for k in range(40)}
    chosen = spread(rates, 8, 0)
    assert sum(chosen.values()) == 8
    assert np.diff([int(i[-2:]) for i in sorted(chosen)]).tolist() == [5] * 7


def test_every_family_can_have_the_cause_it_is_drawn_for() -> None:
    for task in tasks_of("S1", 600, base=BASES["dev"], least=8, tests=2)[::23]:
        if task.cause != "healthy":
            assert task.cause in {c.id for c in blank(task.family).causes}


def test_pairs_are_of_two_causes_that_one_car_can_have() -> None:
    for task in tasks_of("S4", 20, base=BASES["dev"], least=0, tests=2):
        present = {c.id for c in blank(task.family).causes}
        assert set(task.cause.split(" + ")) <= present


def test_cars_hold_their_target_when_sound_and_are_noticed_when_faulty() -> None:
    simulator = blank(4).simulator
    sound = simulator.prior.sound(sound_cars(4, BASES["dev"]))
    target = simulator.prior.target
    assert target is not None
    reached = simulator.candidates(sound[:, :24], sound[:, :24]).sound_boost[-3:]
    assert np.abs(reached - target).mean() < 8e3
    drawn = [draw_car(4, [BY_ID["charge-leak"]], seed, pool_seed=BASES["dev"]) for seed in range(12)]
    mild = [c for c in drawn if noticed(c.sound, c.actual) < 3e3]
    assert len(mild) < 4  # one in twenty would be brought in for nothing
    again = draw_car(4, [BY_ID["charge-leak"]], 3, pool_seed=BASES["dev"])
    assert np.array_equal(again.actual, drawn[3].actual)


def noticed(sound: np.ndarray, actual: np.ndarray) -> float:
    return float(blank(4).simulator.candidates(sound, actual).noticed[0])


def test_the_true_car_fits_its_own_log_as_well_as_its_errors_allow() -> None:
    squares = []
    for seed in range(24):
        car = draw_car(4, [BY_ID["spring-weak"]], seed, pool_seed=BASES["dev"])
        simulator, causes, _ = driven(car, seed)
        assert any(c.id == "spring-weak" for c in causes)
        log = next(b for b in simulator.evidence.blocks if b.source not in ("target", COMPLAINT))
        squares.append(float((log.residuals(simulator.candidates(car.sound, car.actual)) ** 2).sum()) / log.size)
    # chi-square per degree of freedom: mean 1, and of 24 logs of 18 bins a standard error of 0.07
    assert np.mean(squares) == pytest.approx(1.0, abs=0.25)
