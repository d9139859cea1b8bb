"""Kernels: both engines give the same, threads and chunks change nothing, and the loop stays vectorised."""

from __future__ import annotations

import contextlib
import math
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from tests.unit.physics import toy_turbo
from tests.unit.physics.assembly import READABLE, lane_loop
from tests.unit.physics.kernels import run_python, toy_candidates, toy_kernel, toy_pull

from boostproof.errors import InputRangeError, NotDoneError
from boostproof.physics import layout, system
from boostproof.physics.lanes import CHUNK, LANES, _over_chunks, make_kernel
from boostproof.physics.ops import component, where

SCALE = np.array([0.1, 0.3, 0.05, 0.05, 100.0])[:, None]  # usual size of the toy's outputs


@pytest.fixture(scope="module", autouse=True)
def kernels_elsewhere(tmp_path_factory):
    """Compiled kernels of these tests do not go into the user's cache."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BOOSTPROOF_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module")
def kernel():
    return toy_kernel()


@pytest.fixture(scope="module")
def big(kernel):
    """Candidates of more than one chunk, and their outputs."""
    par = toy_candidates(CHUNK + 45)
    return par, kernel.run(par, *toy_pull(), engine="lanes", threads=1)


# ---------------------------------------------------------------- what is computed


def test_lanes_equal_numpy_in_float32(kernel, big):
    par, lanes = big
    numpys = kernel.run(par, *toy_pull(), engine="numpy")
    assert lanes.dtype == numpys.dtype == np.float32
    assert lanes.shape == numpys.shape == (toy_pull()[3], toy_turbo.N_OUT, par.shape[1])
    assert np.abs((lanes - numpys) / SCALE).max() < 2e-4
    assert numpys.std(axis=(0, 2)).min() > 1e-3  # candidates and slots do differ


def test_lanes_equal_numpy_in_float64_and_audit_float32(kernel, big):
    par, single = big
    exact = kernel.run(par, *toy_pull(), engine="numpy", dtype=np.float64)
    lanes = kernel.run(par, *toy_pull(), engine="lanes", dtype=np.float64)
    assert lanes.dtype == np.float64
    assert np.abs((lanes - exact) / SCALE).max() < 1e-11
    assert 1e-9 < np.abs((single - exact) / SCALE).max() < 2e-4


@pytest.mark.parametrize("n", [1, 31, 32, 33, 300, CHUNK])
@pytest.mark.parametrize("threads", [1, 3])
def test_a_candidate_does_not_depend_on_its_neighbours(kernel, big, n, threads):
    par, all_of_them = big
    np.testing.assert_array_equal(
        kernel.run(par[:, -n:], *toy_pull(), threads=threads), all_of_them[:, :, -n:]
    )


@pytest.mark.parametrize(("n", "threads"), [(4982, 2), (2397, 2), (1598, 2), (13_568, 4), (1025, 1), (40, 2)])
def test_every_thread_gets_as_much_work(n, threads):
    parts = []
    _over_chunks(lambda start, stop: parts.append((start, stop)), n, threads, None, None)
    parts.sort()
    sizes = [stop - start for start, stop in parts]
    assert [start for start, _ in parts] == [0, *(stop for _, stop in parts[:-1])] and parts[-1][1] == n
    assert max(sizes) <= CHUNK and len(parts) % threads == 0
    assert max(sizes) - min(sizes) < LANES * len(parts)


def test_no_candidates_or_steps(kernel):
    inputs, h, record, slots = toy_pull()
    assert kernel.run(toy_candidates(0), inputs, h, record, slots).shape == (slots, 5, 0)
    assert np.isnan(kernel.run(toy_candidates(3), inputs[:0], h[:0], record[:0], 2)).all()


@pytest.mark.parametrize("engine", ["lanes", "numpy"])
def test_a_slot_holds_the_mean_of_its_steps(kernel, engine):
    inputs, h, _, _ = toy_pull(60)
    par = toy_candidates(40)
    each = kernel.run(par, inputs, h, np.arange(60), 60, engine=engine)
    record = np.full(60, -1)
    record[[3, 4, 5, 40, 59]] = 1  # left and visited again
    record[[6, 20]] = 0  # one follows a step of slot 1 without a gap
    record[50] = 3
    out = kernel.run(par, inputs, h, record, 4, engine=engine)
    np.testing.assert_allclose(out[1], each[[3, 4, 5, 40, 59]].mean(axis=0), rtol=2e-6, atol=1e-7)
    np.testing.assert_allclose(out[0], each[[6, 20]].mean(axis=0), rtol=2e-6, atol=1e-7)
    np.testing.assert_array_equal(out[3], each[50])
    assert np.isnan(out[2]).all()


@component
def fading(state, par, inp, h):  # type: ignore[no-untyped-def]
    return (state[0] - h * par[0] * state[0],), (state[0], 1.0 / inp[0])


@component
def one(par, inp):  # type: ignore[no-untyped-def]
    return (1.0,)


@pytest.mark.parametrize("engine", ["lanes", "numpy"])
def test_closed_form_and_an_infinite_output_at_a_step_without_slot(engine):
    """Explicit steps of dy/dt = -p y are (1 - h p)^k; 1/0 in a step that nobody asked for stays out."""
    kernel = make_kernel(fading, one, 1, 1, 1, 2, sources=[], name="fading")
    p = np.linspace(0.1, 2.0, 50)
    drive = np.full((11, 1), 2.0)
    drive[4] = 0.0 if engine == "lanes" else 1e-45  # Python itself refuses to divide by zero
    record = np.full(11, -1)
    record[10] = 0
    out = kernel.run(p[None], drive, np.full(11, 0.1), record, 1, engine=engine)
    np.testing.assert_allclose(out[0, 0], (1 - 0.1 * p) ** 10, rtol=3e-6)
    np.testing.assert_array_equal(out[0, 1], 0.5)


# ---------------------------------------------------------------- machine code


@component
def widened(x, n):  # type: ignore[no-untyped-def]
    return x * n + x


@component
def careless(state, par, inp, h):  # type: ignore[no-untyped-def]
    y = where(state[0] > 0.1, widened(state[0], 2), par[0])  # an int passed on: rule 3
    return (y - h * y,), (y, y)


@component
def branching(state, par, inp, h):  # type: ignore[no-untyped-def]
    y = state[0]
    for _ in range(int(par[0])):
        y = y - h * y
    return (y,), (y, y)


def vectorised(assembly: str) -> bool:
    found = lane_loop(assembly)
    # Machines older than AVX (no 256 bits) do single roots and shuffles.
    spare = 0 if found.bits >= 256 or "\tv" not in assembly else found.packed // 10
    return found.packed > 10 and found.double == 0 and found.scalar <= spare


@pytest.mark.skipif(not READABLE, reason="assembly of this processor is not known; see the next test")
def test_the_lane_loop_is_vectorised_without_doubles_or_scalars(kernel):
    assert vectorised(kernel.assembly())
    assert lane_loop(kernel.assembly()).packed > 300


@pytest.mark.skipif(not READABLE, reason="assembly of this processor is not known; see the next test")
def test_the_car_model_is_vectorised_without_doubles_or_scalars():
    kernel = make_kernel(
        system.step, system.initial, system.N_STATE, layout.SIZE, system.N_INPUT, system.N_OUTPUT,
        sources=[], name="car",
    )  # fmt: skip
    started = time.process_time()
    assembly = kernel.assembly()
    assert time.process_time() - started < 12.0  # 2.5 s seen; a blow-up of inlined text would show
    assert vectorised(assembly)
    assert lane_loop(assembly).packed > 600


@pytest.mark.skipif(not READABLE, reason="assembly of this processor is not known; see the next test")
@pytest.mark.parametrize("step", [careless, branching])
def test_text_that_breaks_the_rules_is_seen(step):
    assembly = make_kernel(step, one, 1, 1, 1, 2, sources=[], name="bad").assembly()
    with contextlib.suppress(ValueError):  # no packed loop at all
        assert not vectorised(assembly)


@component
def rooted(state, par, inp, h):  # type: ignore[no-untyped-def]
    y = state[0] ** 0.37
    return (y,), (y, y)


@component
def growing(state, par, inp, h):  # type: ignore[no-untyped-def]
    y = math.exp(state[0])
    return (y,), (y, y)


@pytest.mark.parametrize(("step", "called"), [(rooted, "pow"), (growing, "exp")])
def test_text_that_calls_library_functions_is_refused(step, called):
    kernel = make_kernel(step, one, 1, 1, 1, 2, sources=[], name="library")
    with pytest.raises(ValueError, match=rf"text of kernel library_float32 calls .*{called}"):
        kernel.run([[1.0]], [[0.0]], [0.1], [0], 1, engine="lanes")


def test_lanes_are_several_times_faster_than_one_candidate_after_the_other(kernel):
    """The measure that needs no reading of machine code; four float32 lanes can give at most 4."""
    from numba import njit

    step, initial = toy_turbo.step, toy_turbo.initial
    kernel.run(toy_candidates(1), *toy_pull())  # compiled and known to numba

    @njit(fastmath=True, error_model="numpy")
    def one_by_one(par, inputs, h):  # type: ignore[no-untyped-def]
        total = np.float32(0)
        for i in range(par.shape[0]):
            p = as_tuple(par[i])
            state = initial(p, (inputs[0, 0], inputs[0, 1], inputs[0, 2]))
            for k in range(len(h)):
                state, out = step(state, p, (inputs[k, 0], inputs[k, 1], inputs[k, 2]), h[k])
            total += out[0]
        return total

    from numba.np.unsafe.ndarray import to_fixed_tuple

    size = toy_turbo.N_PAR
    as_tuple = njit(lambda row: to_fixed_tuple(row, size))
    inputs, h, record, slots = toy_pull()
    par = toy_candidates(256)
    rows, drive, dt = np.ascontiguousarray(par.T), inputs.astype(np.float32), h.astype(np.float32)
    one_by_one(rows, drive, dt)

    def best(run) -> float:  # type: ignore[no-untyped-def]
        times = []
        for _ in range(5):
            start = time.perf_counter()
            run()
            times.append(time.perf_counter() - start)
        return min(times)

    single = best(lambda: one_by_one(rows, drive, dt))
    lanes = best(lambda: kernel.run(par, drive, dt, record, slots, engine="lanes", threads=1))
    assert single > 3.0 * lanes


# ---------------------------------------------------------------- the car model's own text


def test_the_car_model_keeps_float32_under_numpy():
    """Two literals in one `where`, or a NumPy float64 constant, would widen everything they touch."""
    n = 4
    neutral = np.array([p.neutral for p in layout.PARAMETERS], np.float32)
    par = tuple(np.full(n, value, np.float32) for value in neutral)
    inp = (400.0, 1.0, 8e4, 0.3, 101325.0, 298.0, 0.0)
    with np.errstate(all="ignore"):
        state = tuple(np.asarray(x, np.float32) for x in system.initial(par, inp))
        new, out = system.step(state, par, inp, 0.01)
    wide = [name for name, x in zip((*system.STATES, *system.OUTPUTS), (*new, *out), strict=True)
            if getattr(x, "dtype", np.float32) != np.float32]  # fmt: skip
    assert wide == []


# ---------------------------------------------------------------- threads, progress, cancelling


def test_threads_may_share_a_kernel_that_is_not_compiled_yet(big):
    par, right = big
    kernels = [toy_kernel("shared"), toy_kernel("shared"), toy_kernel("other")]
    gate = threading.Barrier(6)

    def work(i: int):  # type: ignore[no-untyped-def]
        gate.wait()
        return kernels[i % 3].run(par, *toy_pull(), engine="lanes", threads=2)

    with ThreadPoolExecutor(6) as pool:
        for out in pool.map(work, range(6)):
            np.testing.assert_array_equal(out, right)


@pytest.mark.parametrize("threads", [1, 2])
def test_progress_counts_candidates_in_the_calling_thread(kernel, threads):
    seen, callers = [], set()

    def progress(done: int, n: int) -> None:
        seen.append((done, n))
        callers.add(threading.current_thread())

    kernel.run(toy_candidates(3000), *toy_pull(80), threads=threads, progress=progress)
    done = [d for d, _ in seen]
    assert done == sorted(done) and done[-1] == 3000 and len(done) >= 3
    assert {n for _, n in seen} == {3000}
    assert callers == {threading.current_thread()}


@pytest.mark.parametrize(("engine", "threads"), [("lanes", 1), ("lanes", 2), ("numpy", 1)])
def test_cancel_ends_the_run(kernel, engine, threads):
    asked = []

    def cancel() -> bool:
        asked.append(1)
        return len(asked) > 2

    with pytest.raises(NotDoneError, match="Cancelled") as stopped:
        kernel.run(toy_candidates(20_000), *toy_pull(80), engine=engine, threads=threads, cancel=cancel)
    assert stopped.value.kind == "cancelled"
    assert len(asked) == 3


def test_an_error_in_a_callback_reaches_the_caller(kernel):
    def progress(done: int, n: int) -> None:
        raise KeyError("gone")

    with pytest.raises(KeyError, match="gone"):
        kernel.run(toy_candidates(3000), *toy_pull(80), threads=2, progress=progress)


# ---------------------------------------------------------------- wrong calls, missing compiler


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"par": np.ones((3, 5))}, r"par has shape \(3, 5\), expected \(24, n\)"),
        ({"inputs": np.ones((40, 2))}, r"inputs has shape \(40, 2\), expected \(40, 3\)"),
        ({"h": np.ones(7)}, "inputs has shape"),
        ({"record": np.zeros(39, int)}, r"record has shape \(39,\), expected \(40,\)"),
        ({"record": np.full(40, 2)}, "record names slot 2, but there are 2"),
        ({"engine": "gpu"}, "engine 'gpu'"),
        ({"dtype": np.float16}, "float16"),
    ],
)
def test_wrong_arguments_are_named(kernel, change, says):
    inputs, h, record, _ = toy_pull(40)
    right = {"par": toy_candidates(4), "inputs": inputs, "h": h, "record": record * 0, "n_slots": 2}
    with pytest.raises(InputRangeError, match=says):
        kernel.run(**{**right, **change})


WITHOUT_NUMBA = """
import sys
class Blocker:
    def find_spec(self, name, path=None, target=None):
        if name.split('.')[0] in ('numba', 'llvmlite'):
            raise ModuleNotFoundError(f'No module named {name!r}', name=name)
sys.meta_path.insert(0, Blocker())
from boostproof.errors import NotDoneError
from tests.unit.physics.kernels import toy_kernel, toy_candidates, toy_pull
kernel = toy_kernel()
print(kernel.engine)
print(kernel.engine_note)
print(*kernel.run(toy_candidates(3), *toy_pull(200))[5, 0].tolist())
try:
    kernel.run(toy_candidates(3), *toy_pull(), engine='lanes')
except NotDoneError as error:
    print(error)
"""


def test_without_numba_the_numpy_engine_runs_and_says_so(kernel):
    engine, note, numbers, error = run_python(WITHOUT_NUMBA).splitlines()
    assert engine == "numpy"
    assert "numba is not installed" in note and "fewer candidates" in note
    right = kernel.run(toy_candidates(3), *toy_pull(200), engine="lanes")[5, 0]
    np.testing.assert_allclose([float(x) for x in numbers.split()], right, rtol=1e-4)
    assert error == (
        "kernel toy: The fast engine cannot be used: numba is not installed. "
        'Install numba, or use the engine "numpy".'
    )


def test_a_numba_that_is_switched_off_is_passed_over(tmp_path):
    code = (
        "from tests.unit.physics.kernels import *\n"
        "kernel = toy_kernel(); kernel.run(toy_candidates(2), *toy_pull(100)); print(kernel.engine_note)"
    )
    assert "NUMBA_DISABLE_JIT" in run_python(code, NUMBA_DISABLE_JIT="1", BOOSTPROOF_CACHE=str(tmp_path))


def test_a_numba_that_cannot_be_loaded_is_passed_over(tmp_path):
    broken = tmp_path / "numba"
    broken.mkdir()
    (broken / "__init__.py").write_text("raise ImportError('Numba needs another NumPy')")
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from tests.unit.physics.kernels import *\n"
        "kernel = toy_kernel(); out = kernel.run(toy_candidates(2), *toy_pull(100))\n"
        "print(kernel.engine, out.shape, kernel.engine_note)"
    )
    said = run_python(code, tmp_path)
    assert said.startswith("numpy (3, 5, 2)") and "Numba needs another NumPy" in said
