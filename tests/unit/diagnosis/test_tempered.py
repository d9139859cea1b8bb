"""Tempered sampling against integrals that are known: in closed form, or on a grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.diagnosis.made_problems import ONE, Linear, Made, grid_integral

from boostproof.bench.response import Array
from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import Draws
from boostproof.diagnosis.inference.tempered import added, sample, shared_out

SHARP = {"log": 0.01, "bench": 0.03}
MANY = 2000


def sharp() -> Linear:
    """Twelve unknowns of which eight sums are known to a hundredth or so of what was believed before."""
    return Linear(4, 12, {"log": 6, "bench": 2}, SHARP)


def exact_mode(problem: Linear) -> Mode:
    return Mode(0, problem.mean(), problem.case.everything, precision=problem.precision())


def drawn(case: Made, modes: list[Mode], count: int = MANY, seed: int = 1) -> list[Draws]:
    return sample(case, ONE, modes, count, seed=seed)  # type: ignore[arg-type]


def whitened(z: Array, problem: Linear) -> Array:
    """Draws as numbers that are standard normal under the exact posterior."""
    factor = np.linalg.cholesky(problem.precision())
    return np.asarray(factor.T @ (z - problem.mean()[:, None]))


# -- all linear and normal ------------------------------------------------------------------------------


def test_evidence_and_moments_of_a_sharp_posterior_in_twelve_dimensions() -> None:
    problem = sharp()
    sd = 1.0 / np.sqrt(np.linalg.eigvalsh(problem.precision()))
    assert sd.min() < 0.01 and (sd < 0.1).sum() == 8  # or the test is of nothing
    (draws,) = drawn(problem.case, [exact_mode(problem)])
    assert draws.log_evidence(problem.case.everything) == pytest.approx(problem.log_evidence(), abs=0.05)
    u = whitened(draws.z, problem)
    # resampling and moves leave fewer independent candidates than there are: half of them is allowed for
    assert np.abs(u.mean(axis=1)).max() < 4.0 / np.sqrt(0.5 * MANY)
    spread = np.linalg.eigvalsh(u @ u.T / MANY)
    # largest and smallest eigenvalue of 1000 draws of 12 numbers (Marchenko & Pastur 1967, from memory)
    edge = np.sqrt(12 / (0.5 * MANY))
    assert (1.0 - edge) ** 2 - 0.05 < spread.min() and spread.max() < (1.0 + edge) ** 2 + 0.05


def test_a_start_that_is_off_and_too_wide_comes_to_the_same() -> None:
    """The normal approximation stands two standard deviations off; the start is half as wide again by `WIDEN`."""
    problem = sharp()
    root = np.linalg.cholesky(np.linalg.inv(problem.precision()))
    start = exact_mode(problem)
    off = replace(start, z=start.z + root @ (np.ones(12) / np.sqrt(3.0)))
    (draws,) = drawn(problem.case, [off])
    assert draws.log_evidence(problem.case.everything) == pytest.approx(problem.log_evidence(), abs=0.25)
    assert np.abs(whitened(draws.z, problem).mean(axis=1)).max() < 0.2


def test_the_mean_over_small_runs_is_not_off() -> None:
    """96 candidates, as the product takes them: the evidence itself, not its logarithm, is right on average."""
    problem = sharp()
    runs = drawn(problem.case, [exact_mode(problem)] * 40, count=96)
    of = np.array([d.log_evidence(problem.case.everything) for d in runs]) - problem.log_evidence()
    ratio = np.exp(of)
    assert ratio.mean() == pytest.approx(1.0, abs=4.0 * ratio.std() / np.sqrt(40) + 1e-3)
    assert of.std() < 0.2


# -- curved ------------------------------------------------------------------------------------------------


def banana(width: float) -> Made:
    """A ridge along a parabola, of a width small against its bow."""

    def residuals(z: Array, hypothesis: object) -> Array:
        return np.stack([(z[1] + 0.8 * z[0] ** 2 - 0.5) / width, (z[0] - 0.6) / 0.9])

    return Made(2, {"ridge": 1, "along": 1}, residuals)


def test_a_banana_against_a_grid() -> None:
    case = banana(0.3)
    log_evidence, mean, covariance = grid_integral(case, -5.0, 5.0)
    runs = drawn(case, [case.fitted(np.array([0.3, 0.3]))] * 4)
    found = [d.log_evidence(case.everything) for d in runs]
    assert np.mean(found) == pytest.approx(log_evidence, abs=0.1)
    z = np.concatenate([d.z for d in runs], axis=1)
    sd = np.sqrt(np.diag(covariance))
    assert z.mean(axis=1) == pytest.approx(mean, abs=0.1)
    assert z.std(axis=1) == pytest.approx(sd, rel=0.12)
    assert np.corrcoef(z)[0, 1] == pytest.approx(covariance[0, 1] / sd.prod(), abs=0.2)  # its ends are thin


def test_of_a_sharper_banana_its_ends_are_missed_and_no_more() -> None:
    """A limit: 96 candidates led from the middle do not reach the ends of a ridge a tenth as wide as it is bowed.

    The evidence is then too small by half a nat or so, never too large.
    """
    case = banana(0.1)
    log_evidence, _, _ = grid_integral(case, -5.0, 5.0)
    runs = drawn(case, [case.fitted(np.array([0.3, 0.3]))] * 20, 96)
    short = np.mean([d.log_evidence(case.everything) for d in runs]) - log_evidence
    assert -0.7 < short < 0.1


# -- runs ----------------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_candidates_and_another_others() -> None:
    case = banana(0.3)
    mode = case.fitted(np.zeros(2))
    (one,), (again,), (other,) = drawn(case, [mode], 64), drawn(case, [mode], 64), drawn(case, [mode], 64, seed=2)
    for name in ("z", "by_block", "log_base"):
        assert getattr(one, name).tobytes() == getattr(again, name).tobytes()
    assert not np.any(one.z == other.z)


def test_two_runs_of_one_mode_are_independent_and_do_not_disturb_each_other() -> None:
    problem = sharp()
    mode = exact_mode(problem)
    (alone,) = drawn(problem.case, [mode], 1000)
    one, two = drawn(problem.case, [mode, mode], 1000)
    assert alone.z == pytest.approx(one.z, abs=1e-12)
    u, v = whitened(one.z, problem), whitened(two.z, problem)
    assert not np.any(np.isin(one.z, two.z))
    # correlation of 1000 independent pairs has a standard deviation of 0.03, and half as many allow for repeats
    assert max(abs(np.corrcoef(a, b)[0, 1]) for a, b in zip(u, v, strict=True)) < 4.0 / np.sqrt(500)


# -- several modes ---------------------------------------------------------------------------------------------


def two_modes() -> Made:
    """Two narrow valleys of different worth."""
    return Made(2, {"valleys": 1}, lambda z, h: ((z[0] ** 2 + 0.6 * z[0] - 4.0) / 0.4)[None, :])


def test_separated_modes_add_to_the_whole() -> None:
    case = two_modes()
    log_evidence, mean, _ = grid_integral(case, -6.0, 6.0)
    right, left = case.fitted(np.array([1.5, 0.0])), case.fitted(np.array([-2.5, 0.0]))
    assert right.z[0] > 1.0 and left.z[0] < -1.5
    parts = drawn(case, [right, left], 3000)
    both = added(parts)
    alone = np.array([d.log_evidence(case.everything) for d in parts])
    assert both.log_evidence(case.everything) == pytest.approx(np.log(np.exp(alone).sum()), abs=1e-9)
    assert both.log_evidence(case.everything) == pytest.approx(log_evidence, abs=0.06)
    w = np.exp(both.log_weights(case.everything))
    assert (both.z * w).sum(axis=1) / w.sum() == pytest.approx(mean, abs=0.12)
    assert abs(alone[0] - alone[1]) > 0.2  # so that weights matter


def test_what_two_starts_both_reach_is_counted_once() -> None:
    """Two starts in one broad valley, and two valleys: the whole is right both times."""
    problem = sharp()
    broad = np.linalg.eigh(problem.precision())[1][:, 0]  # a direction of which nothing is known
    starts = [replace(exact_mode(problem), z=problem.mean() + side * 1.6 * broad) for side in (-1.0, 1.0)]
    parts = drawn(problem.case, starts)
    assert added(parts).log_evidence(problem.case.everything) > problem.log_evidence() + 0.4  # twice as much
    found = shared_out(parts, starts).log_evidence(problem.case.everything)
    assert found == pytest.approx(problem.log_evidence(), abs=0.15)

    case = two_modes()
    modes = [case.fitted(np.array([1.5, 0.0])), case.fitted(np.array([-2.5, 0.0]))]
    log_evidence, _, _ = grid_integral(case, -6.0, 6.0)
    found = shared_out(drawn(case, modes, 3000), modes).log_evidence(case.everything)
    assert found == pytest.approx(log_evidence, abs=0.06)


def test_parts_of_unequal_size_add_as_well() -> None:
    case = two_modes()
    (right,) = drawn(case, [case.fitted(np.array([1.5, 0.0]))], 200)
    (left,) = drawn(case, [case.fitted(np.array([-2.5, 0.0]))], 50)
    alone = [d.log_evidence(case.everything) for d in (right, left)]
    assert added([right, left]).log_evidence(case.everything) == pytest.approx(np.logaddexp(*alone), abs=1e-9)


# -- fewer blocks ----------------------------------------------------------------------------------------------


def test_candidates_weighed_for_fewer_blocks_of_evidence() -> None:
    """Candidates of all evidence, weighed anew as if a blunt reading had not been taken."""
    problem = Linear(6, 10, {"log": 5, "bench": 3}, {"log": 0.3, "bench": 4.0})
    (draws,) = drawn(problem.case, [exact_mode(problem)], 4000)
    for mask in (np.array([True, True]), np.array([True, False])):
        assert draws.log_evidence(mask) == pytest.approx(problem.log_evidence(mask), abs=0.08)
        w = np.exp(draws.log_weights(mask) - draws.log_weights(mask).max())
        mean = (draws.z * w).sum(axis=1) / w.sum()
        assert mean == pytest.approx(problem.mean(mask), abs=0.09)
    # and the blunt reading did move it
    assert abs(problem.log_evidence() - problem.log_evidence(np.array([True, False]))) > 1.0
    assert np.abs(problem.mean() - problem.mean(np.array([True, False]))).max() > 0.15
