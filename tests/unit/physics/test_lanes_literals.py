"""Constants of equation text get the lanes' type, wherever they come from, and are folded like Python's."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.physics import toy_turbo
from tests.unit.physics.assembly import READABLE, total

from boostproof.physics.lanes import make_kernel
from boostproof.physics.ops import component

TENTH = 0.1
THREE = 3
SHARE = THREE / 7
COEFFICIENTS = (0.3, -2, 1e-3)
COUNTS = (2, 5)
OTHER = 1


@component
def scaled(x, factor):  # type: ignore[no-untyped-def]
    return factor * x


@component
def constants(state, par, inp, h):  # type: ignore[no-untyped-def]
    x = par[0]
    rising = x
    rising += 1
    rising *= 2.5
    sums = -TENTH * x + (-2) * x + 1 / 3
    return state, (
        0.1 * x, TENTH + x, 2 * x, x / THREE, SHARE - x, 1 - x, x - 7,
        COEFFICIENTS[0] + x * (COEFFICIENTS[1] + x * COEFFICIENTS[2]), COUNTS[1] * x,
        x * toy_turbo.R_AIR, toy_turbo.HEAD[1] + x, toy_turbo.BAR * x, x * (TENTH * TENTH - 1e-2 + THREE),
        scaled(factor=0.1, x=x), rising, sums, x**2, par[OTHER], par[OTHER - 1],
    )  # fmt: skip


@component
def still(par, inp):  # type: ignore[no-untyped-def]
    return (0.0,)


N_OUT = 19


@pytest.fixture
def kernel(tmp_path, monkeypatch):
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    return make_kernel(constants, still, 1, 2, 1, N_OUT, sources=[], name="constants")


@pytest.mark.parametrize(("dtype", "rtol"), [(np.float32, 4e-7), (np.float64, 4e-16)])
def test_values_are_those_of_python(kernel, dtype, rtol):
    """Against Python's own float64; a float32 literal in the float64 kernel would be off by 1e-8."""
    par = np.stack([np.linspace(-3.0, 5.0, 64), np.linspace(1.0, 2.0, 64)]).astype(dtype)
    out = kernel.run(par, [[0.0]], [0.1], [0], 1, engine="lanes", dtype=dtype)[0]
    for column in range(64):
        _, right = constants((0.0,), tuple(par[:, column].astype(float)), (0.0,), 0.1)
        size = np.maximum(np.abs(right), 1.0)  # differences of near-equal numbers keep absolute accuracy
        assert (np.abs(out[:, column] - right) <= rtol * size * 4).all()


@pytest.mark.skipif(not READABLE, reason="assembly of this processor is not known")
def test_float32_text_has_no_double_at_all(kernel):
    assert total(kernel.assembly()).double == 0
    assert total(kernel.assembly(np.float64)).double > 0  # the count sees them
