"""Every parameter anywhere within its range, all at once: no NaN, no infinity, in any engine or precision."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.unit.physics.test_convergence import HIGH, LOW, check_pull, drive

from boostproof.physics import layout


def anywhere(rng: np.random.Generator, count: int) -> np.ndarray:
    """Parameters spread evenly, evenly in ratio, or at either end of their ranges. (parameters, count)"""
    share, way = rng.random((2, layout.SIZE, count))
    even = LOW + (HIGH - LOW) * share
    above = np.maximum(LOW, 1e-30)
    by_ratio = np.where(LOW > 0.0, above * (HIGH / above) ** share, even)
    return np.where(way < 0.4, even, np.where(way < 0.7, by_ratio, np.where(way < 0.85, LOW, HIGH)))


@pytest.mark.parametrize(("engine", "kind"), [("numpy", np.float64), ("numpy", np.float32), ("auto", np.float32)])
@pytest.mark.parametrize("seed", range(8))
def test_whole_domain(seed: int, engine: str, kind: Any) -> None:
    rng = np.random.default_rng(seed)
    check_pull(anywhere(rng, 250), *drive(rng), engine, kind)
