"""The helpers of equation text, against NumPy's own functions: plain, and compiled into a kernel."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from tests.unit.physics.kernels import run_python

from boostproof.physics import ops
from boostproof.physics.lanes import make_kernel
from boostproof.physics.ops import absolute, clip, component, maximum, minimum, sign, sqrt, where

NUMBERS = hnp.arrays(
    np.float32, 17, elements=st.floats(-1e6, 1e6, width=32, allow_nan=False, allow_subnormal=False)
)
N_OUT = 13


@component
def every_helper(state, par, inp, h):  # type: ignore[no-untyped-def]
    a, b = par
    both = (a > 0.0) & (b > 0.0)
    either = (a > 1.0) | (b > 1.0)
    results = (
        minimum(a, b), maximum(a, b), minimum(a, 0.5), maximum(-0.5, b), clip(a, -1.0, 2.0),
        sqrt(absolute(a)), absolute(b), sign(a), where(a > b, a, b * 2), where(both, a, 0.0),
        where(either, 1.0, b), where(a == b, 7.0, a), ops.clip(b, 0, inp[0]),
    )  # fmt: skip
    return state, results


@component
def nothing(par, inp):  # type: ignore[no-untyped-def]
    return (par[0],)


def expected(a, b):  # type: ignore[no-untyped-def]
    """The same in NumPy's words."""
    return (
        np.minimum(a, b), np.maximum(a, b), np.minimum(a, 0.5), np.maximum(-0.5, b), np.clip(a, -1.0, 2.0),
        np.sqrt(np.abs(a)), np.abs(b), np.sign(a), np.where(a > b, a, b * 2),
        np.where((a > 0) & (b > 0), a, 0), np.where((a > 1) | (b > 1), 1, b), np.where(a == b, 7, a),
        np.clip(b, 0, 3),
    )  # fmt: skip


@given(NUMBERS, NUMBERS)
def test_arrays_follow_numpy_and_keep_float32(a, b):
    _, results = every_helper((a,), (a, b), (3.0,), 0.1)
    assert len(results) == N_OUT
    for ours, numpys in zip(results, expected(a, b), strict=True):
        assert ours.dtype == np.float32
        np.testing.assert_array_equal(ours, numpys)


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_python_floats_follow_numpy_and_stay_python_floats(a, b):
    _, results = every_helper((a,), (a, b), (3.0,), 0.1)
    for ours, numpys in zip(results, expected(a, b), strict=True):
        assert type(ours) in (float, int)
        assert ours == pytest.approx(float(numpys), rel=1e-15, abs=0.0)


@pytest.mark.parametrize(("dtype", "rtol"), [(np.float32, 3e-7), (np.float64, 1e-14)])
def test_compiled_helpers_follow_numpy(dtype, rtol, tmp_path, monkeypatch):
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    rng = np.random.default_rng(3)
    a = (rng.normal(size=500) * 10.0 ** rng.integers(-3, 4, 500)).astype(dtype)
    b = np.where(rng.random(500) < 0.2, a, rng.normal(size=500)).astype(dtype)
    a[:5], b[3:8] = 0.0, 0.0
    kernel = make_kernel(every_helper, nothing, 1, 2, 1, N_OUT, sources=[], name="helpers")
    out = kernel.run(np.stack([a, b]), [[3.0]], [0.1], [0], 1, engine="lanes", dtype=dtype)[0]
    for ours, numpys in zip(out, expected(a, b), strict=True):
        np.testing.assert_allclose(ours, numpys, rtol=rtol, atol=0.0)


def test_where_takes_a_plain_condition():
    assert where(True, 1.0, 2.0) == 1.0
    assert where(np.bool_(False), 1.0, 2.0) == 2.0


def test_a_component_stays_the_function_that_it_is():
    def plain(x):
        return x + 1

    before = list(ops.COMPONENTS)
    try:
        assert component(plain) is plain
        assert ops.COMPONENTS[-1] is plain
    finally:
        ops.COMPONENTS[:] = before


def test_neither_ops_nor_a_new_kernel_imports_numba():
    code = (
        "import sys; from tests.unit.physics.kernels import toy_kernel\n"
        "assert toy_kernel().engine == 'lanes'\n"
        "print(sorted(m for m in sys.modules if m.split('.')[0] in ('numba', 'llvmlite', 'scipy')))"
    )
    assert run_python(code) == "[]"
    assert "boostproof.physics.ops" in sys.modules
