"""The model run backwards finds the gate that the model run forwards had.

The kernel in float32 and its two-stage implicit steps share nothing with the inverse but the components;
the local polynomial is compared with SciPy's filter, quantiles with NumPy's.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.signal import savgol_filter

from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.errors import InputRangeError
from boostproof.physics import gas, gate_inverse, layout, sensors, system
from boostproof.physics.exhaust_side import gate_openings
from boostproof.physics.gate_area import AREA_LIMIT, NOT_KNOWN, GateArea, GateFlag
from boostproof.physics.gate_inverse import gate_area_for_target, gate_area_from_pull, largest_gate_area
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.local_polynomial import LocalPolynomial
from boostproof.physics.orifice import exhaust_flow_function

Array = NDArray[np.float64]
KERNEL = car_kernel()
AMBIENT, OUTSIDE, REDLINE, STEP = 101325.0, 298.0, 712.0, 0.01
KINDS = [
    ("none", "internal flapper"),
    ("ball and spring", "internal flapper"),
    ("solenoid 3-port", "internal flapper"),
    ("solenoid 4-port", "external poppet"),
    ("bleed valve", "external poppet, own dump pipe"),
    ("none", "twin gates"),
]
SPREAD = [
    "displacement", "breathing", "filter_loss", "cooler_loss", "charge_volume", "compressor_diameter", "compressor_area",
    "compressor_head", "compressor_work", "turbine_area", "turbine_diameter", "turbine_efficiency", "shaft_inertia",
    "shaft_drag", "exhaust_loss", "exhaust_volume", "port_diameter", "gate_flow", "opening_pressure", "spring_rate",
]  # fmt: skip


def cars(count: int = 1, kind: tuple[str, str] = KINDS[0], **values: float | Sequence[float]) -> Array:
    neutral = np.array([[p.neutral] * count for p in layout.PARAMETERS])
    par = np.array(fitted(fitted(neutral, CONTROLLERS[kind[0]]), GATES[kind[1]]))
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


def spread(par: Array, generator: np.random.Generator, sd: float = 0.1) -> Array:
    """Lognormal, each car its own."""
    out = par.copy()
    for name in SPREAD:
        p = layout.parameter(name)
        factor = np.exp(sd * generator.standard_normal(par.shape[1]))
        out[layout.INDEX[name]] = np.clip(out[layout.INDEX[name]] * factor, p.low, p.high)
    return out


class Pull:
    """A second of cruise, then full throttle with engine speed rising; from the opening of the throttle on."""

    def __init__(self, par: Array, seconds: float) -> None:
        edges = STEP * np.arange(round((1.0 + seconds) / STEP)) - 1.0
        middle = edges + 0.5 * STEP
        count = len(edges)
        held = (np.full(count, x) for x in (9e4, 0.4, AMBIENT, OUTSIDE, 0.0))
        share = 0.41 + 0.59 * np.clip(middle / seconds, 0.0, 1.0)
        inputs = np.column_stack([REDLINE * share, np.where(middle < 0.0, 0.13, 1.0), *held])
        out = KERNEL.run(par, inputs, np.full(count, STEP), np.arange(count, dtype=np.int32), count)
        self.par, after = par, edges > -0.5 * STEP
        self.time, self.engine_speed, self._out = edges[after], inputs[after, 0], np.asarray(out, float)[after]

    def __getitem__(self, name: str) -> Array:
        """(points, cars)"""
        return self._out[:, system.OUTPUT_INDEX[name]]

    @property
    def by_travel(self) -> Array:
        """Area of gates that all move alike."""
        return np.asarray(gate_openings(self["travel"], self["travel"], tuple(self.par))[0])

    @property
    def by_flow(self) -> Array:
        """Area from what flowed past the turbine, whatever the gates are."""
        before, after = self["turbine_inlet_pressure"], self["turbine_outlet_pressure"]
        apart = self.par[layout.INDEX["dump_apart"]]
        psi, _ = exhaust_flow_function((apart * AMBIENT + (1.0 - apart) * after) / before)
        return np.asarray(
            self["gate_flow"] / (before * psi) * np.sqrt(gas.EXHAUST_GAS_CONSTANT * self["exhaust_temperature"])
        )

    def found(self, car: int, candidates: Array | None = None, every: int = 1, **settings: float) -> GateArea:
        par = self.par[:, [car]] if candidates is None else candidates
        boost = self["boost_measured"][::every, car]
        return gate_area_from_pull(
            par, self.time[::every], self.engine_speed[::every], boost, ambient_pressure=AMBIENT,
            ambient_temperature=OUTSIDE, **settings,  # type: ignore[arg-type]
        )  # fmt: skip


@cache
def pull(kind: tuple[str, str], seconds: float) -> Pull:
    generator = np.random.default_rng(KINDS.index(kind))
    return Pull(spread(cars(4, kind, gate_leak=1e-6), generator), seconds)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("seconds", "every", "window"), [(6.0, 1, 0.1), (25.0, 2, 0.1)], ids=["pull", "ramp"])
def test_area_of_a_simulated_car_is_found_again(
    kind: tuple[str, str], seconds: float, every: int, window: float
) -> None:
    """Median within 0.2 %, all within 3 % from a quarter of a second after the gate has begun to open."""
    run = pull(kind, seconds)
    true = run.by_flow
    if kind[1] != "twin gates":  # there the second gate's own friction lets it move by itself
        assert np.allclose(run.by_travel, true, rtol=1e-4, atol=1e-9)
    errors = []
    for car in range(run.par.shape[1]):
        area = true[::every, car]
        found = run.found(car, every=every, window=window)
        is_open = area > 2e-5
        spooled = np.convolve(~is_open, np.ones(round(0.25 / (every * STEP))))[: len(area)] == 0
        assert spooled.mean() > 0.7
        assert not found.flagged(NOT_KNOWN | GateFlag.SHUT | GateFlag.COASTING)[spooled].any()
        errors.append(np.abs(found.area[spooled, 0] / area[spooled] - 1.0))
        before = ~is_open & (run.time[::every] > 0.3)
        assert np.all(np.abs(found.area[before, 0] - area[before]) < 3e-5)
    assert np.median(np.concatenate(errors)) < 2e-3
    assert np.max(np.concatenate(errors)) < 0.03


def test_states_on_the_way_are_those_of_the_simulation() -> None:
    run = pull(KINDS[1], 6.0)
    found = run.found(0, window=0.1)
    late = run.time > 1.5
    for name, tolerance in (
        ("shaft_speed", 1e-3), ("exhaust_temperature", 1e-3), ("engine_flow", 1e-3), ("gate_flow", 1e-2), ("boost", 2e-3),
    ):  # fmt: skip
        assert np.allclose(getattr(found, name)[late, 0], run[name][late, 0], rtol=tolerance), name
    for ours, theirs in (
        ("charge_pressure", "compressor_outlet_pressure"), ("exhaust_pressure", "turbine_inlet_pressure"),
        ("outlet_pressure", "turbine_outlet_pressure"),
    ):  # fmt: skip
        assert np.allclose(getattr(found, ours)[late, 0], run[theirs][late, 0], rtol=2e-3), ours


FEATURES = {
    "as it is": {},
    "leaks": {"charge_leak": 2e-5, "bypass_leak": 2e-5, "leak_after_cooler": 0.5, "exhaust_leak": 2e-5, "gate_leak": 1e-5},
    "by air meter": {"charge_leak": 4e-5, "bypass_leak": 3e-5, "bypass_recirculates": 0.5, "air_metered": 1.0},
    "by a wrong sensor": {"pressure_metered": 1.0, "boost_gain": 0.95, "boost_offset": 4e3},
    "own dump pipe": {"dump_apart": 1.0, "dump_area": 6e-4, "pulse_gain": 0.3, "ignition_retard": 0.1},
}


@pytest.mark.parametrize("feature", FEATURES)
def test_target_is_a_rest_state_of_the_transient_model(feature: str) -> None:
    """With the area set, shaft, charge and exhaust pressure stay; every way that gas can take is open."""
    par = spread(cars(20, **FEATURES[feature]), np.random.default_rng(5), 0.05)
    speeds = [380.0, 500.0, 650.0]
    found = gate_area_for_target(par, speeds, 7e4, ambient_pressure=AMBIENT, ambient_temperature=OUTSIDE)
    assert not found.flagged(NOT_KNOWN).any()
    checked = 0
    for i, car in np.argwhere(~found.flagged(GateFlag.SHUT | GateFlag.WIDE)):
        one = tuple(par[:, car].tolist())
        gates = found.area[i, car] - par[layout.INDEX["exhaust_leak"], car]
        openings = [gate_openings(x, x, one)[0] for x in (0.0, 0.012)]
        if not openings[0] < gates < openings[1]:
            continue
        travel = brentq(lambda x, one=one, gates=gates: gate_openings(x, x, one)[0] - gates, 0.0, 0.012, xtol=1e-12)
        gain, offset, end = (one[layout.INDEX[f"boost_{name}"]] for name in ("gain", "offset", "full_scale"))
        inputs = (speeds[i], 1.0, 0.0, 0.0, AMBIENT, OUTSIDE, 0.0)
        state = list(system.initial(one, inputs))
        state[:3] = (float(getattr(found, n)[i, car]) for n in ("shaft_speed", "charge_pressure", "exhaust_pressure"))
        state[6] = state[7] = travel
        state[9] = sensors.shown_pressure(AMBIENT + 7e4, gain, offset, end)
        rates, _, outputs = system.rates(tuple(state), one, inputs)
        assert outputs[system.OUTPUT_INDEX["boost"]] == pytest.approx(7e4, abs=5.0)
        assert abs(rates[0]) < 1e-3 * state[0]  # per second
        assert abs(rates[1]) < 2e-3 * state[1]
        assert abs(rates[2]) < 5e-2 * state[2]  # a volume that is filled in a few milliseconds
        checked += 1
    assert checked > 15


def coverage(same_car: bool, count: int = 40) -> tuple[float, int, float]:
    """Share of the points inside their 90 % band, how many, and the band's usual width over the area.

    Logs at 20 samples per second with 1 kPa of noise on each, and 1.5 kPa of error of the whole pull.
    """
    generator = np.random.default_rng(3)
    base = cars(count, KINDS[1])
    run = Pull(spread(base, generator), 6.0)
    rows = slice(30, None, 5)
    time, true, hits, widths = run.time[rows], run.by_flow[rows], [], []
    for car in range(count):
        one = (run.par if same_car else base)[:, [car]]
        candidates = np.repeat(one, 40, axis=1)
        noise = 1e3 * generator.standard_normal(len(time)) + 1.5e3 * generator.standard_normal()
        found = gate_area_from_pull(
            candidates if same_car else spread(candidates, generator), time, run.engine_speed[rows],
            run["boost_measured"][rows, car] + noise, ambient_temperature=OUTSIDE, window=0.3, noise_sd=1e3,
            level_sd=1.5e3, seed=car,
        )  # fmt: skip
        low, high = found.band([0.05, 0.95]).area
        used = (true[:, car] > 2e-5) & (time > 1.0)
        hits.append(((low <= true[:, car]) & (true[:, car] <= high))[used])
        widths.append((high - low)[used] / true[used, car])
    return float(np.concatenate(hits).mean()), sum(map(len, hits)), float(np.median(np.concatenate(widths)))


@pytest.mark.slow
def test_band_of_a_noisy_log_covers_the_truth_at_its_rate() -> None:
    """The car is known, its log is not."""
    share, points, width = coverage(True)
    assert points >= 200 and 0.80 < share < 0.97
    assert 0.01 < width < 0.1


@pytest.mark.slow
def test_band_of_unknown_cars_covers_the_truth_at_its_rate() -> None:
    """Truth and candidates are drawn alike; a band that only noise makes would miss by far."""
    share, points, width = coverage(False)
    assert points >= 200 and 0.80 < share < 0.97
    assert width > 0.3


def test_common_error_widens_the_band_where_noise_averages_out() -> None:
    run = pull(KINDS[1], 6.0)
    many = np.repeat(run.par[:, :1], 80, axis=1)
    widths = []
    for noise, level in ((0.0, 0.0), (1e3, 0.0), (1e3, 1e4)):
        low, high = run.found(0, many, every=5, noise_sd=noise, level_sd=level, seed=1).band([0.05, 0.95]).area
        widths.append(float(np.median((high - low)[40:])))
    assert widths[0] == 0.0
    assert 2.0 * widths[1] < widths[2]


def test_same_seed_same_draws_and_blocks_do_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    run = pull(KINDS[0], 6.0)
    many = spread(np.repeat(run.par[:, :1], 7, axis=1), np.random.default_rng(1))
    one = run.found(0, many, every=10, noise_sd=1e3, seed=4).area
    monkeypatch.setattr(gate_inverse, "_BLOCK", 130)
    assert np.allclose(run.found(0, many, every=10, noise_sd=1e3, seed=4).area, one, rtol=1e-4, atol=1e-8)
    assert not np.allclose(run.found(0, many, every=10, noise_sd=1e3, seed=5).area, one, rtol=1e-4, atol=1e-8)


def test_own_sensor_is_undone_and_another_gauge_is_taken_as_it_reads() -> None:
    par = cars(1, boost_gain=0.95, boost_offset=4e3, boost_lag=0.2)
    run = Pull(par, 6.0)
    late = run.time[::2] > 1.0
    true = run.by_flow[::2, 0][late]
    ours = run.found(0, every=2)
    assert np.abs(ours.area[late, 0] / true - 1.0).max() < 0.01
    gauge = gate_area_from_pull(
        par, run.time[::2], run.engine_speed[::2], run["boost"][::2, 0], ambient_temperature=OUTSIDE, own_sensor=False
    )
    assert np.abs(gauge.area[late, 0] / true - 1.0).max() < 0.01
    taken_so = run.found(0, every=2, own_sensor=False)
    assert np.abs(taken_so.area[late, 0] / true - 1.0).max() > 0.02


# ------------------------------------------------------------------ what cannot be is said


def flags_at(target: float, speed: float = 600.0, **values: float) -> tuple[GateFlag, float]:
    found = gate_area_for_target(cars(1, **values), [speed], target, ambient_temperature=OUTSIDE)
    return GateFlag(int(found.flags[0, 0])), float(found.area[0, 0])


def test_each_flag() -> None:
    assert flags_at(9e4)[0] == GateFlag(0)
    assert flags_at(1.5e5, 220.0, turbine_area=8e-4) == (GateFlag.SHUT, 0.0)
    wide, area = flags_at(5e4, port_diameter=0.02)
    assert wide == GateFlag.WIDE and area > largest_gate_area(cars(1, port_diameter=0.02))[0]
    assert flags_at(9e4, displacement=6e-3) == (GateFlag.CHOKED, 0.0)
    assert flags_at(-6e4) == (GateFlag.UNBOOSTED, 0.0)
    time = np.linspace(0.0, 3.0, 61)
    lifted = gate_area_from_pull(
        cars(shaft_inertia=2e-4), time, np.full(61, 600.0), np.where(time < 1.5, 1e5, 5e4), window=0.2
    )
    coasting = lifted.flagged(GateFlag.COASTING)[:, 0]
    assert coasting[np.abs(time - 1.5) < 0.06].any() and not coasting[np.abs(time - 1.5) > 0.3].any()
    assert np.all(lifted.area[lifted.flagged(GateFlag.COASTING)] == AREA_LIMIT)
    topped = gate_area_from_pull(cars(2, boost_full_scale=[2e5, 3e5]), time, np.full(61, 600.0), np.full(61, 2e5 - AMBIENT))
    assert topped.flagged(GateFlag.SENSOR_END).all(axis=0).tolist() == [True, False]


def test_what_has_not_settled_is_flagged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate_inverse, "_SWEEPS", 2)
    monkeypatch.setattr(gate_inverse, "_MORE_SWEEPS", 2)
    assert flags_at(9e4)[0] == GateFlag.UNSETTLED


def test_nothing_is_ever_nan() -> None:
    """Wild cars on a wild log."""
    generator = np.random.default_rng(2)
    low, high = np.array([[p.low, p.high] for p in layout.PARAMETERS]).T[:, :, None]
    wild = low + (high - low) * generator.random((layout.SIZE, 60))
    time = np.sort(generator.random(50)) * 4.0
    found = gate_area_from_pull(
        wild, time, generator.uniform(100.0, 900.0, 50), generator.uniform(-6e4, 2.5e5, 50), noise_sd=2e3, seed=1
    )
    for name in ("area", "exhaust_pressure", "shaft_speed", "torque", "gate_flow", "margin"):
        assert np.isfinite(getattr(found, name)).all(), name
    assert np.all((found.area >= 0.0) & (found.area <= AREA_LIMIT))
    assert np.isfinite(found.band([0.05, 0.5, 0.95]).area).all()


# ------------------------------------------------------------------ margin and band


def test_margin_is_what_full_travel_leaves() -> None:
    par = cars(3, port_diameter=[0.022, 0.027, 0.034], exhaust_leak=1e-5)
    found = gate_area_for_target(par, [600.0], 5e4, ambient_temperature=OUTSIDE)
    full = gate_openings(0.012, 0.012, tuple(par))[0] + 1e-5
    assert np.allclose(found.largest, full)
    assert np.allclose(found.margin, full - found.area)
    assert (found.margin[0] < 0.0).tolist() == [True, True, False]
    assert np.allclose(found.area[0], found.area[0, 0])  # what the target needs does not depend on the port


def some_areas(area: Array, flags: NDArray[np.uint8] | None = None) -> GateArea:
    there = gate_area_for_target(cars(area.shape[1]), [500.0] * len(area), 8e4)
    values = {**vars(there), "area": area, "flags": np.zeros(area.shape, np.uint8) if flags is None else flags}
    return GateArea(**values)


def test_band_is_numpys_quantile_where_weights_are_equal() -> None:
    area = np.random.default_rng(1).gamma(3.0, 1e-4, (5, 40))
    band = some_areas(area).band([0.05, 0.5, 0.95])
    assert np.allclose(band.area, np.quantile(area, [0.05, 0.5, 0.95], axis=1, method="hazen"))
    assert np.allclose(band.used, 1.0)
    for low, high in pairwise(band.area):
        assert np.all(low < high)


def test_band_with_weights_and_flags() -> None:
    area = np.random.default_rng(1).gamma(3.0, 1e-4, (2, 40))
    weights = np.repeat([1.0, 0.0], 20)
    assert np.allclose(some_areas(area).band(0.9, weights).area[0], np.quantile(area[:, :20], 0.9, axis=1, method="hazen"))
    flags = np.zeros((2, 40), np.uint8)
    flags[0, 10:] = GateFlag.CHOKED
    flags[1, :] = GateFlag.UNSETTLED
    flags[0, :10] = GateFlag.WIDE  # says something
    band = some_areas(area, flags).band([0.1, 0.9])
    assert np.allclose(band.area[:, 0], np.quantile(area[0, :10], [0.1, 0.9], method="hazen"))
    assert band.used == pytest.approx([0.25, 0.0])
    assert band.area[:, 1] == pytest.approx([0.1 * AREA_LIMIT, 0.9 * AREA_LIMIT])
    heavy = np.where(area[0] > np.median(area[0]), 10.0, 1.0)
    assert some_areas(area).band(0.5, heavy).area[0, 0] > np.median(area[0])


# ------------------------------------------------------------------ local polynomial


def test_local_polynomial_is_the_filter_of_savitzky_and_golay() -> None:
    time = 0.02 * np.arange(80)
    values = np.random.default_rng(1).standard_normal((80, 3))
    local = LocalPolynomial.of(time, 0.2)
    settings = {"window_length": 11, "polyorder": 2, "mode": "interp", "axis": 0}
    inside = slice(5, -5)  # SciPy's ends lean on the last full window, ours on the samples within reach
    assert np.allclose(local.level(values)[inside], savgol_filter(values, **settings)[inside])
    assert np.allclose(local.slope(values)[inside], savgol_filter(values, deriv=1, delta=0.02, **settings)[inside])


def test_local_polynomial_is_exact_for_parabolas_at_uneven_times() -> None:
    time = np.cumsum(np.random.default_rng(1).choice([0.01, 0.05, 0.4], 60))
    parabola = (3.0 - 2.0 * time + 0.5 * time**2)[:, None]
    for window in (0.001, 0.1, 1.0):
        local = LocalPolynomial.of(time, window)
        assert np.allclose(local.level(parabola), parabola)
        assert np.allclose(local.slope(parabola), (-2.0 + time)[:, None])


def test_slope_of_a_cubic_is_wrong_by_what_the_docstring_says() -> None:
    time = 0.001 * np.arange(1001)
    local = LocalPolynomial.of(time, 0.25)
    error = local.slope(time[:, None] ** 3)[500, 0] - 3.0 * time[500] ** 2
    assert error == pytest.approx(6.0 * 0.25**2 / 40.0, rel=0.02)


# ------------------------------------------------------------------ refusals

GOOD = {"par": cars(2), "time": [0.0, 0.1, 0.2], "engine_speed": [400.0, 410.0, 420.0], "boost": [1e4, 2e4, 3e4]}


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"par": np.ones((3, 2))}, f"{layout.SIZE} parameters by n"),
        ({"par": np.where(np.arange(2) == 1, np.nan, cars(2))}, "all finite"),
        ({"time": [0.0, 0.2, 0.1]}, "time must rise"),
        ({"time": [0.0, 0.1], "engine_speed": [400.0, 410.0], "boost": [1e4, 2e4]}, "at least 3 samples"),
        ({"boost": [1e4, 2e4]}, "boost must be one number or one for each of 3 points"),
        ({"boost": [1e4, np.nan, 2e4]}, "boost must be"),
        ({"engine_speed": [4000.0, 4100.0, 4200.0]}, "engine_speed must lie between"),
        ({"ambient_pressure": 101.3}, "ambient_pressure must lie between"),
        ({"ambient_temperature": 20.0}, "ambient_temperature must lie between"),
        ({"throttle": 0.0}, "throttle must lie between"),
        ({"window": 0.0}, "window must lie between"),
        ({"noise_sd": 1e3}, "needs a seed"),
        ({"level_sd": -1.0}, "level_sd must lie between"),
    ],
)
def test_wrong_input_is_refused(wrong: dict[str, object], says: str) -> None:
    with pytest.raises(InputRangeError, match=says):
        gate_area_from_pull(**{**GOOD, **wrong})  # type: ignore[arg-type]
    assert gate_area_from_pull(**GOOD).area.shape == (3, 2)  # type: ignore[arg-type]


@pytest.mark.parametrize("weights", [[1.0], [-1.0, 1.0], [0.0, 0.0], [np.nan, 1.0]])
def test_wrong_weights_are_refused(weights: list[float]) -> None:
    found = gate_area_for_target(cars(2), [500.0], 8e4)
    with pytest.raises(InputRangeError, match="weights must be 2 numbers"):
        found.band(0.5, weights)
    with pytest.raises(InputRangeError, match="probabilities"):
        found.band(5.0)
