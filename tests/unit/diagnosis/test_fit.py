"""Finding modes: exact where all is linear, against a general minimiser where it is not, and never worse."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.made_problems import ONE, Linear, Made

from boostproof.bench.response import Array
from boostproof.diagnosis.inference.fit import STEP, Mode, find_modes, linearise, price

LOG = np.array([True, False])


def linear() -> Linear:
    return Linear(2, 10, {"log": 7, "bench": 4}, {"log": 0.4, "bench": 0.7})


def valley(steep: float = 3.0) -> Made:
    """Rosenbrock's valley as residuals (Rosenbrock 1960; 10 is his own): curved and narrow, the prior beside it."""
    return Made(2, {"valley": 2}, lambda z, h: np.stack([steep * (z[1] - z[0] ** 2), 1.0 - z[0]]))


def wavy() -> Made:
    """Steps of 0.2 across it show slopes that hold nowhere."""

    def residuals(z: Array, hypothesis: object) -> Array:
        return np.stack([4.0 * (z[0] - 1.0) + np.sin(9.0 * z[1]), 3.0 * np.tanh(2.0 * z[1]) - 1.0 + 0.5 * np.sin(7.0 * z[0])])

    return Made(3, {"wavy": 2}, residuals)


def start(case: Made, z: Array) -> Mode:
    return Mode(0, np.array(z, float), case.everything)


def find(case: Made, modes: list[Mode], rounds: int) -> list[Mode]:
    return find_modes(case, ONE, modes, rounds)  # type: ignore[arg-type]


def objective_at(case: Made, mode: Mode) -> float:
    """Computed again, in another way, up to the prior's constant."""
    return -float(case.log_posterior(mode.z[:, None])[0]) - 0.5 * len(mode.z) * float(np.log(2.0 * np.pi))


def least(case: Made, z: Array) -> float:
    """The lowest objective near a place, by a general minimiser (SciPy's Nelder and Mead)."""
    from scipy.optimize import minimize

    def cost(x: Array) -> float:
        return -float(case.log_posterior(x[:, None])[0])

    found = minimize(cost, z, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000})
    return float(found.fun) - 0.5 * len(z) * float(np.log(2.0 * np.pi))


# -- where all is linear ----------------------------------------------------------------------------------


def test_one_round_reaches_the_mode_of_a_linear_case() -> None:
    problem = linear()
    (mode,) = find(problem.case, [start(problem.case, np.full(10, 0.3))], 1)
    assert mode.z == pytest.approx(problem.mean(), abs=1e-9)
    assert mode.precision == pytest.approx(problem.precision(), rel=1e-9)
    assert mode.log_evidence == pytest.approx(problem.log_evidence(), abs=1e-9)
    assert mode.by_block.sum() - 0.5 * mode.z @ mode.z == pytest.approx(-mode.objective, abs=1e-9)


def test_many_starts_at_once_reach_it_together() -> None:
    problem = linear()
    rng = np.random.default_rng(1)
    modes = find(problem.case, [start(problem.case, rng.normal(size=10)) for _ in range(5)], 6)
    for mode in modes:
        assert mode.z == pytest.approx(problem.mean(), abs=1e-6)


def test_fewer_blocks_from_a_mode_of_all() -> None:
    """The slopes are taken over, so that one round of trials is all that is simulated."""
    problem = linear()
    (mode,) = find(problem.case, [start(problem.case, np.zeros(10))], 3)
    fewer = mode.for_less(LOG)
    assert fewer.z == pytest.approx(mode.z, abs=0.0)
    assert fewer.objective == pytest.approx(0.5 * mode.z @ mode.z - mode.by_block[0], abs=1e-12)
    before, kept = len(problem.case.asked), mode.jacobian.copy()
    find(problem.case, [fewer], 1)
    assert len(problem.case.asked) == before + 1 and problem.case.asked[-1] < 10
    assert fewer.z == pytest.approx(problem.mean(LOG), abs=1e-9)
    assert fewer.log_evidence == pytest.approx(-fewer.objective - 0.5 * np.linalg.slogdet(problem.precision(LOG))[1])
    # the mode of all evidence is left as it was
    assert np.array_equal(mode.jacobian, kept) and mode.mask.all()
    assert mode.z == pytest.approx(problem.mean(), abs=1e-9)


def test_the_precision_of_fewer_blocks_is_theirs() -> None:
    problem = linear()
    (mode,) = find(problem.case, [start(problem.case, np.zeros(10))], 3)
    (fewer,) = find(problem.case, [mode.for_less(LOG)], 3)
    assert fewer.precision == pytest.approx(problem.precision(LOG), rel=1e-7)
    assert fewer.log_evidence == pytest.approx(problem.log_evidence(LOG), abs=1e-7)


# -- where it is not ----------------------------------------------------------------------------------------


PLACES = [(-1.2, 1.0), (0.0, 2.0), (1.8, -1.0)]


@pytest.mark.parametrize("z", PLACES)
def test_the_end_of_a_curved_valley_is_reached(z: tuple[float, float]) -> None:
    case = valley()
    (mode,) = find(case, [start(case, np.array(z))], 40)
    best = least(case, np.array([0.6, 0.4]))
    assert best - 1e-6 <= mode.objective < best + 0.05  # a fit ends where a round gains less than this
    assert mode.settled


def test_of_several_starts_the_best_reaches_the_end_of_a_valley_narrower_than_the_step() -> None:
    """Differences over 0.2 show wrong slopes in a valley a tenth wide: some starts end on its way, not all."""
    case = valley(10.0)
    modes = find(case, [start(case, np.array(z)) for z in PLACES], 40)
    best = least(case, np.array([0.6, 0.4]))
    assert best - 1e-6 <= min(m.objective for m in modes) < best + 0.05
    assert max(m.objective for m in modes) < best + 2.0


@pytest.mark.parametrize("made", [valley, wavy])
def test_no_round_makes_it_worse_and_what_is_said_of_a_mode_is_true(made: object) -> None:
    case = made()  # type: ignore[operator]
    rng = np.random.default_rng(4)
    modes = [start(case, 1.5 * rng.normal(size=case.dimensions)) for _ in range(12)]
    find(case, modes, 0)
    before = [m.objective for m in modes]
    first = np.array(before)
    for _ in range(12):
        find(case, modes, 1)
        now = [m.objective for m in modes]
        assert all(new <= old + 1e-12 for new, old in zip(now, before, strict=True))
        for mode in modes:
            assert mode.objective == pytest.approx(objective_at(case, mode), abs=1e-9)
            assert np.linalg.eigvalsh(mode.precision).min() >= 1.0 - 1e-9  # never wider than the prior
        before = now
    assert np.median(first - np.array(before)) > 3.0


def test_slopes_are_corrected_by_what_was_tried() -> None:
    """A corrected Jacobian agrees with the last trial that it learned from, the best one (Broyden 1965)."""
    case = valley()
    (mode,) = find(case, [start(case, np.array([-1.2, 1.0]))], 0)
    old_z, old_r, old_slope = mode.z.copy(), mode.residuals.copy(), mode.jacobian.copy()
    find(case, [mode], 1)
    assert not mode.fresh and not np.array_equal(mode.z, old_z)
    step = mode.z - old_z
    assert old_r + mode.jacobian @ step == pytest.approx(mode.residuals, abs=1e-9)
    assert old_r + old_slope @ step != pytest.approx(mode.residuals, abs=1e-3)
    assert len(case.asked) == 2  # once for differences, once for the trials


def test_a_fit_asks_for_fewer_cars_than_differences_at_every_round_would() -> None:
    case = Made(12, {"curve": 6}, lambda z, h: 2.0 * z[:6] + 0.2 * z[6:] ** 2 - 1.0)
    (mode,) = find(case, [start(case, np.zeros(12))], 8)
    assert mode.settled
    rounds = sum(n < 13 for n in case.asked)
    assert sum(case.asked) < rounds * (13 + 6)


# -- worth elsewhere -------------------------------------------------------------------------------------------


def test_price_says_what_a_place_is_worth_here_and_keeps_its_precision() -> None:
    problem, other = linear(), Linear(3, 10, {"log": 7, "bench": 4}, {"log": 0.4, "bench": 0.7})
    (mode,) = find(problem.case, [start(problem.case, np.zeros(10))], 3)
    z, precision = mode.z.copy(), mode.precision.copy()
    price(other.case, ONE, [mode])  # type: ignore[arg-type]
    assert mode.objective == pytest.approx(objective_at(other.case, mode), abs=1e-9)
    assert np.array_equal(mode.z, z) and np.array_equal(mode.precision, precision)
    assert other.case.asked == [1] and mode.jacobian is None
    price(other.case, ONE, [])  # type: ignore[arg-type]
    assert other.case.asked == [1]


def test_a_mode_of_other_evidence_is_fitted_anew() -> None:
    problem, other = linear(), Linear(3, 10, {"log": 7, "bench": 4}, {"log": 0.4, "bench": 0.7})
    (mode,) = find(problem.case, [start(problem.case, np.zeros(10))], 3)
    find(other.case, [mode], 2)
    assert mode.z == pytest.approx(other.mean(), abs=1e-9)
    assert mode.log_evidence == pytest.approx(other.log_evidence(), abs=1e-9)


def test_slopes_of_several_modes_are_their_own() -> None:
    case = valley()
    modes = [start(case, np.array(z)) for z in ((0.0, 0.0), (1.0, 1.0))]
    linearise(case, ONE, modes)  # type: ignore[arg-type]
    for mode in modes:
        # of z[1] - z[0]^2 a forward difference of h says -(2 z + h)
        exact = np.array([[-3.0 * (2.0 * mode.z[0] + STEP), 3.0], [-1.0, 0.0]])
        assert mode.jacobian == pytest.approx(exact, abs=1e-9)
        assert mode.fresh


def test_a_mode_is_itself_only() -> None:
    one, other = (Mode(0, np.zeros(3), np.ones(1, bool)) for _ in range(2))
    assert one in [other, one]
    assert one not in [other]
