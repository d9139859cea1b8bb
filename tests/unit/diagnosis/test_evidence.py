"""Blocks of evidence: what a likelihood must do whatever the car."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from boostproof.bench.response import Candidates, Response
from boostproof.diagnosis.evidence.blocks import EvidenceSet, bent, gaussian_block, response_blocks
from boostproof.observation import none_up_to, reading, word


def _candidates(values: np.ndarray) -> Candidates:
    return Candidates(par=values, pull_speeds=np.array([1.0]), pull_outputs=np.zeros((1, 1, values.shape[1])))


def test_gaussian_block_is_the_normal_density() -> None:
    """Reference: scipy.stats.multivariate_normal, within the size that a right model stays in."""
    covariance = np.array([[4.0, 1.0], [1.0, 2.0]])
    observed = np.array([1.0, -1.0])
    block = gaussian_block("x", lambda c: c.par, observed, covariance, group="bench")
    candidates = _candidates(np.array([[1.5, 2.0], [-0.5, 0.0]]))
    expected = multivariate_normal(observed, covariance).logpdf(candidates.par.T)
    assert block.log_likelihood(block.residuals(candidates)) == pytest.approx(expected, rel=1e-10)


def test_gross_misfit_counts_logarithmically() -> None:
    square = np.array([3.0, 10.0, 100.0, 1000.0])
    assert bent(square, 10.0)[:2] == pytest.approx(square[:2])
    steps = np.diff(bent(square[1:], 10.0))
    assert steps == pytest.approx([10.0 * np.log(10.0)] * 2)


def _response(*observations) -> Response:
    return Response("t", lambda c: {"a": c.par[0], "b": c.par[1]}, observations)


def test_shared_error_makes_two_readings_move_together() -> None:
    """A gauge's zero: both readings 3 high is likelier than one 3 high and one 3 low."""
    zero = 3.0
    blocks = response_blocks(
        _response(reading("a", 0.0, 1.0, shared=zero), reading("b", 0.0, 1.0, shared=zero))
    )
    both, split = _candidates(np.array([[3.0], [3.0]])), _candidates(np.array([[3.0], [-3.0]]))
    like = [float(EvidenceSet(tuple(blocks)).by_block(blocks[0].residuals(c)).sum()) for c in (both, split)]
    assert like[0] > like[1] + 2.0


@pytest.mark.parametrize(("value", "likelier"), [(200.0, True), (50.0, False)])
def test_none_up_to(value: float, likelier: bool) -> None:
    block = response_blocks(_response(none_up_to("a", 100.0, 5.0)))[0]
    like = float(block.log_likelihood(block.residuals(_candidates(np.array([[value], [0.0]]))))[0])
    assert bool(like > np.log(0.5)) is likelier


def test_word_never_forbids() -> None:
    """A word can be written down wrongly: the worst case costs no more than its chance."""
    block = response_blocks(_response(word("a", 0.0, 1.0, 0.1, wrong=0.1)))[0]
    like = block.log_likelihood(block.residuals(_candidates(np.array([[0.5, 1e6], [0.0, 0.0]]))))
    assert float(like[0]) == pytest.approx(np.log(0.9), abs=1e-3)
    assert float(like[1]) == pytest.approx(np.log(0.05), abs=1e-6)


def test_no_evidence_changes_nothing() -> None:
    nothing = EvidenceSet(())
    residuals = nothing.residuals(_candidates(np.zeros((2, 5))))
    assert residuals.shape == (0, 5)
    assert nothing.by_block(residuals).sum() == 0.0
