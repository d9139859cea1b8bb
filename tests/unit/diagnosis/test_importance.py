"""Importance sampling and the normal approximation against integrals that are known."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import Draws, log_prior, log_sum_exp, proposal_from
from boostproof.diagnosis.inference.quasi_random import random_numbers

D = 6


def _linear_gaussian() -> tuple[np.ndarray, np.ndarray, float]:
    """y = A z + noise: mode, precision and the log evidence in closed form (textbook)."""
    rng = np.random.default_rng(3)
    a, y = rng.standard_normal((4, D)), rng.standard_normal(4)
    precision = np.eye(D) + a.T @ a
    mean = np.linalg.solve(precision, a.T @ y)
    covariance = np.eye(4) + a @ a.T
    _, logdet = np.linalg.slogdet(covariance)
    log_z = -0.5 * (y @ np.linalg.solve(covariance, y) + logdet + 4 * np.log(2 * np.pi))
    return np.concatenate([a, y[:, None]], axis=1), precision, float(log_z) if mean.size else 0.0


def _likelihood(z: np.ndarray, system: np.ndarray) -> np.ndarray:
    residual = system[:, :D] @ z - system[:, D:]
    return -0.5 * (residual**2).sum(axis=0) - 2.0 * np.log(2 * np.pi)


def test_normal_approximation_is_exact_where_all_is_normal() -> None:
    system, precision, log_z = _linear_gaussian()
    z = np.linalg.solve(precision, system[:, :D].T @ system[:, D])
    objective = 0.5 * z @ z - float(_likelihood(z[:, None], system)[0])
    mode = Mode(0, z, np.ones(1, bool), float(objective), precision)
    assert mode.log_evidence == pytest.approx(log_z, abs=1e-9)


def test_sampled_evidence_and_size() -> None:
    system, precision, log_z = _linear_gaussian()
    mean = np.linalg.solve(precision, system[:, :D].T @ system[:, D])
    proposal = proposal_from([Mode(0, mean, np.ones(1, bool), 0.0, precision)])
    normals, uniforms = random_numbers(1, "test", 0, 2048, D)
    z = proposal.draw(normals, uniforms)
    draws = Draws(z, _likelihood(z, system)[None, :], log_prior(z) - proposal.log_density(z))
    everything = np.ones(1, bool)
    assert draws.log_evidence(everything) == pytest.approx(log_z, abs=0.05)
    assert draws.effective_size(everything) > 800


def test_numbers_are_the_mechanisms_own_and_the_nuisances_shared() -> None:
    one, _ = random_numbers(7, "first", 0, 64, D)
    two, _ = random_numbers(7, "second", 0, 64, D)
    assert np.array_equal(one[:-2], two[:-2])
    assert not np.array_equal(one[-1], two[-1])
    assert not np.array_equal(one[-2], two[-2])
    again, _ = random_numbers(7, "first", 32, 32, D)
    assert np.array_equal(again, one[:, 32:])
    other, _ = random_numbers(8, "first", 0, 64, D)
    assert not np.array_equal(one[:-2], other[:-2])


def test_log_sum_exp_bears_extremes() -> None:
    assert float(log_sum_exp(np.array([-1e5, -1e5]), axis=0)) == pytest.approx(-1e5 + np.log(2.0))
