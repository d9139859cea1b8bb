"""The gate area that a pull must have had, and the one that a target needs: the model run backwards.

Every equation is a component of the transient model, in float64. From the manifold pressure back through
throttle, cooler and charge volume to the flow of the compressor; the shaft speed that gives that flow at
that pressure; the torque it takes; the exhaust pressure at which the turbine gives this torque; what the
turbine does not swallow of the exhaust went past it. Backwards there is no step in time and no arm, spring
or signal: what a pull says of the gate's area holds whatever moved the gate.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics import air_side, engine, exhaust_side, fuel, gas, layout, sensors
from boostproof.physics.gate_area import AREA_LIMIT, GateArea, GateFlag
from boostproof.physics.local_polynomial import ORDER, LocalPolynomial
from boostproof.physics.ranges import within

Array: TypeAlias = NDArray[np.float64]
_Component: TypeAlias = Callable[..., Any]

# the components are written for lanes and arrays alike and carry no types of their own
_compressor_side: _Component = air_side.compressor_side
_engine_side: _Component = air_side.engine_side
_charge_leaks: _Component = air_side.charge_leaks
_charge_rate: _Component = air_side.charge_rate
_exhaust_temperature: _Component = engine.exhaust_temperature
_exhaust_side: _Component = exhaust_side.exhaust_side
_gate_openings: _Component = exhaust_side.gate_openings
_mixture_in_cylinder: _Component = fuel.mixture_in_cylinder
_exhaust_per_air: _Component = gas.exhaust_per_air
_shown_pressure: _Component = sensors.shown_pressure

_BLOCK = 16_384  # points times candidates worked on at a time: the arrays stay in the processor's cache
_SWEEPS, _MORE_SWEEPS = 12, 100
_NEWTON = 60
_MORE = 1.01  # than the largest area, before it is said to be more
_CLOSE = 1e-8  # relative, of roots
_SLOWEST, _FASTEST_TIP = 300.0, 800.0  # rad/s as in the transient model; m/s, beyond any wheel
_HIGHEST_EXHAUST = 12.0  # of the pressure around, as in the transient model


def gate_area_from_pull(
    par: ArrayLike,
    time: ArrayLike,
    engine_speed: ArrayLike,
    boost: ArrayLike,
    *,
    ambient_pressure: ArrayLike = 101325.0,
    ambient_temperature: ArrayLike = 298.15,
    throttle: ArrayLike = 1.0,
    window: float = 0.25,
    own_sensor: bool = True,
    noise_sd: float = 0.0,
    level_sd: float = 0.0,
    seed: int | None = None,
) -> GateArea:
    """Effective gate area that each candidate must have had at every point of a measured pull.

    Steps, all with the components of the transient model: sensor and duct loss backwards from the reading
    to the charge pressure p2; ``m_c = m_engine + m_leak + V/(R T) dp2/dt``; shaft speed w from
    ``m_c = f(w, p2)``; turbine torque ``M_c(w) + drag w + J dw/dt``; exhaust pressure p3 from that torque;
    gate flow ``m_exhaust - m_turbine - V3/(R T3) dp3/dt``, over flow per area. What depends on what comes
    later (breathing on p3, charge temperature on w, a dump pipe of its own on the area) is found in sweeps.

    Parameters
    ----------
    par : (parameters, n) candidates that fit what is known of the car, SI; clipped to the ranges of
        `layout.PARAMETERS` as before a run
    time : (points,) rising [s]
    engine_speed : (points,) [rad/s]
    boost : (points,) gauge [Pa]
    ambient_pressure, ambient_temperature : of the air around, one or (points,) [Pa abs], [K]
    throttle : opening, one or (points,) [1]
    window : whole width of the local polynomial of second order that is laid through the samples around
        each one, all with equal weight, off-centre at both ends [s]. Levels of boost and engine speed are
        read from it, and slopes of what follows from them (p2, w, p3) from another of the same width. A slope
        is wrong by about ``window^2/40`` times the third derivative, and its noise falls with ``window^1.5``;
        0.1 s suits a clean log of 100 samples per second, 0.25 to 0.5 s a usual one. Never fewer than three
        samples are used.
    own_sensor : True for the car's own sensor, whose gain, offset and lag are the candidate's; False for a
        gauge that reads true
    noise_sd : standard uncertainty of one sample of boost, independent from sample to sample [Pa]
    level_sd : standard uncertainty of the boost reading common to the whole pull [Pa]
    seed : of the draws for the two before, one pull's worth of errors for each candidate

    Returns
    -------
    GateArea
        Where no area gives the pull, the area is 0 or `AREA_LIMIT` and a flag says why; there are no NaN.

    Raises
    ------
    InputRangeError
        Shapes, order of the times, ranges, or an uncertainty without a seed.

    Notes
    -----
    A candidate's error in ``J dw/dt`` counts fully while the turbo spools, so that bands are wide there; where
    the gate has just begun to open, its area is smeared over the window. A compressor in deep choke says
    little of its shaft speed, and the area is as uncertain. Candidates that only share a size class leave a
    band as wide as the area itself: what is measured besides boost has to narrow them first.

    Examples
    --------
    A car held at 100 kPa as its speed rises slowly needs an ever larger gate:

    >>> car = [[p.neutral] for p in layout.PARAMETERS]
    >>> found = gate_area_from_pull(car, [0.0, 5.0, 10.0, 15.0], [400.0, 500.0, 600.0, 700.0], [1e5] * 4)
    >>> [round(float(a) * 1e4, 1) for a in found.area[:, 0]], found.flagged(GateFlag.WIDE).any().item()
    ([2.3, 2.9, 3.3, 3.4], False)
    """
    cars = _candidates(par, "gate_area_from_pull")
    t = _series(time, None, "time")
    if len(t) < ORDER + 1 or not np.all(np.diff(t) > 0.0):
        raise InputRangeError(
            f"time must rise over at least {ORDER + 1} samples.",
            kind="range", where="gate_area_from_pull", do="Pass one pull, in the order in which it was recorded.",
        )  # fmt: skip
    local = LocalPolynomial.of(t, within(window, 1e-3, 10.0, name="window", unit="s", where="gate_area_from_pull",
                                          do="Give the width in seconds.").item())  # fmt: skip
    moments = _Moments.of(len(t), engine_speed, throttle, ambient_pressure, ambient_temperature)
    moments = replace(moments, engine_speed=local.level(moments.engine_speed))
    read = _series(boost, len(t), "boost")[:, None]
    noise, common = (
        within(sd, 0.0, 1e5, name=name, unit="Pa", where="gate_area_from_pull", do="Give a standard deviation.").item()
        for name, sd in (("noise_sd", noise_sd), ("level_sd", level_sd))
    )
    n = cars.shape[1]
    errors = np.zeros((1, n))
    if noise > 0.0 or common > 0.0:
        if seed is None:
            raise InputRangeError(
                "an uncertainty of the boost needs a seed for its draws.",
                kind="range", where="gate_area_from_pull", do="Pass seed, any whole number.",
            )  # fmt: skip
        generator = np.random.default_rng(seed)
        errors = common * generator.standard_normal((1, n)) + noise * generator.standard_normal((len(t), n))

    def block(columns: NDArray[np.intp], sweeps: int) -> GateArea:
        some = cars[:, columns]
        shown = read + errors[:, columns] + moments.ambient
        level, rate = local.level(shown), local.slope(shown)
        flags = np.zeros((len(t), some.shape[1]), np.uint8)
        if own_sensor:
            gain, offset = some[layout.index_of("boost_gain")], some[layout.index_of("boost_offset")]
            settled = level + some[layout.index_of("boost_lag")] * rate
            flags[read + moments.ambient >= some[layout.index_of("boost_full_scale")] - 1.0] = GateFlag.SENSOR_END
            return _solved(some, moments, (settled - offset) / gain, level, local, flags, sweeps)
        return _solved(some, moments, level + np.zeros((1, some.shape[1])), None, local, flags, sweeps)

    return _in_blocks(block, len(t), n)


def gate_area_for_target(
    par: ArrayLike,
    engine_speed: ArrayLike,
    target: ArrayLike,
    *,
    ambient_pressure: ArrayLike = 101325.0,
    ambient_temperature: ArrayLike = 298.15,
    throttle: ArrayLike = 1.0,
) -> GateArea:
    """Effective gate area that holds a boost at steady engine speed; `GateArea.margin` says what is left.

    As `gate_area_from_pull` with nothing changing in time.

    Parameters
    ----------
    par : (parameters, n) candidates, SI
    engine_speed : (points,) [rad/s]
    target : boost at the manifold, one or (points,), gauge [Pa]
    ambient_pressure, ambient_temperature, throttle : as there

    Raises
    ------
    InputRangeError
        Shapes and ranges.

    Examples
    --------
    The lower target needs the larger gate:

    >>> car = [[p.neutral] for p in layout.PARAMETERS]
    >>> [round(float(gate_area_for_target(car, [600.0], kpa * 1e3).area[0, 0]) * 1e4, 1) for kpa in (50, 100)]
    [3.8, 3.3]
    """
    cars = _candidates(par, "gate_area_for_target")
    points = len(np.atleast_1d(np.asarray(engine_speed, float)))
    moments = _Moments.of(points, engine_speed, throttle, ambient_pressure, ambient_temperature)
    manifold = moments.ambient + _series(target, points, "target")[:, None]

    def block(columns: NDArray[np.intp], sweeps: int) -> GateArea:
        some = cars[:, columns]
        flags = np.zeros((points, some.shape[1]), np.uint8)
        return _solved(some, moments, manifold + np.zeros((1, some.shape[1])), None, None, flags, sweeps)

    return _in_blocks(block, points, cars.shape[1])


def largest_gate_area(par: ArrayLike) -> Array:
    """Effective area past the turbine at full travel of all gates, leaks included. (n,) [m2]

    Parameters
    ----------
    par : (parameters, n) SI

    >>> round(float(largest_gate_area([[p.neutral] for p in layout.PARAMETERS])[0]) * 1e4, 2)
    3.49
    """
    cars = _candidates(par, "largest_gate_area")
    most, one, other, leak = (
        cars[layout.index_of(name)] for name in ("gate_travel", "free_travel", "other_travel", "exhaust_leak")
    )
    area, _, _ = _gate_openings(np.minimum(most, one), np.minimum(most, other), tuple(cars))
    return np.asarray(area + leak)


@dataclass(frozen=True)
class _Moments:
    """What is the same for all candidates, each (points, 1)."""

    engine_speed: Array
    throttle: Array
    ambient: Array
    outside: Array

    @classmethod
    def of(cls, points: int, speed: ArrayLike, throttle: ArrayLike, pressure: ArrayLike, warm: ArrayLike) -> _Moments:
        limits = (
            (speed, 20.0, 2000.0, "engine_speed", "rad/s"), (throttle, 0.05, 1.0, "throttle", ""),
            (pressure, 4e4, 1.2e5, "ambient_pressure", "Pa"), (warm, 220.0, 340.0, "ambient_temperature", "K"),
        )  # fmt: skip
        return cls(*(
            within(_series(values, points, name), low, high, name=name, unit=unit, where="gate_inverse",
                   do="Check the unit.")[:, None]
            for values, low, high, name, unit in limits
        ))  # fmt: skip


def _solved(
    cars: Array,
    moments: _Moments,
    manifold: Array,
    sensed: Array | None,
    local: LocalPolynomial | None,
    flags: NDArray[np.uint8],
    sweeps: int,
) -> GateArea:
    """The area of one block of candidates; ``local`` is None where nothing changes in time."""
    par = tuple(cars)
    row = {name: cars[i] for name, i in layout.INDEX.items()}
    engine_speed, throttle, ambient, outside = (getattr(moments, f.name) for f in fields(moments))
    fraction = engine_speed / row["redline"]
    manifold = np.clip(manifold, 0.3 * ambient, 8.0 * ambient)
    if sensed is None:
        sensed = np.asarray(
            _shown_pressure(manifold, row["boost_gain"], row["boost_offset"], row["boost_full_scale"])
        )

    def slope(values: Array) -> Array | float:
        return 0.0 if local is None else local.slope(values)

    fastest = 2.0 * _FASTEST_TIP / row["compressor_diameter"] + 0.0 * manifold
    slowest = np.full_like(manifold, _SLOWEST)
    lowest, highest = ambient + 0.0 * manifold, _HIGHEST_EXHAUST * ambient + 0.0 * manifold
    charge = 1.03 * manifold
    exhaust = found = 1.15 * np.maximum(manifold, ambient)
    outlet = outside * (1.0 + 0.4 * np.maximum(charge / ambient - 1.0, 0.0))
    speed = 0.5 * fastest
    area, acceleration = np.zeros_like(manifold), np.zeros_like(manifold)
    share, change = np.ones(manifold.shape[1]), np.full(manifold.shape[1], np.inf)
    for _ in range(sweeps):
        intake, _, _, behind, _, engine_flow, _ = _engine_side(
            charge, exhaust, outlet, 0.0, 0.0, engine_speed, throttle, outside, par
        )
        before = charge, area
        # manifold over charge pressure hardly depends on the level
        charge, engine_flow = charge * (manifold / behind), engine_flow * (manifold / behind)
        lost, returned, _ = _charge_leaks(charge, manifold, outlet, intake, ambient, par)
        needed = engine_flow + lost + slope(charge) / _charge_rate(1.0, intake, par)

        def surplus_air(x: Array, charge: Array = charge, needed: Array = needed) -> tuple[Array, Array]:
            flow, through, _, _, _, over = _compressor_side(x, charge, engine_speed, ambient, outside, par)
            return flow + through - needed, over[0]

        speed, unboosted, choked = _rising_root(surplus_air, slowest, fastest, speed)
        _, _, taken, warm, _, _ = _compressor_side(speed, charge, engine_speed, ambient, outside, par)
        mixture = _mixture_in_cylinder(
            row["mixture"], engine_flow, needed - returned, manifold, sensed, row["air_metered"], row["pressure_metered"]
        )
        hot = _exhaust_temperature(
            row["exhaust_temperature_base"], row["exhaust_temperature_rise"], fraction, manifold, mixture,
            row["mixture"], row["ignition_retard"],
        )  # fmt: skip
        burnt = engine_flow * _exhaust_per_air(mixture)
        off_rate = slope(speed) - acceleration
        acceleration = acceleration + share * off_rate
        torque = taken + row["shaft_drag"] * speed + row["shaft_inertia"] * acceleration
        opened = np.clip(area, 0.0, AREA_LIMIT)

        def hot_side(
            x: Array, burnt: Array = burnt, hot: Array = hot, opened: Array = opened, speed: Array = speed
        ) -> Any:
            return _exhaust_side(burnt, hot, x, opened, speed, fraction, ambient, par)

        def surplus_torque(x: Array, hot_side: _Component = hot_side, torque: Array = torque) -> tuple[Array, Array]:
            _, _, _, drive, _, over = hot_side(x)
            return drive - torque, over[2]

        found, coasting, _ = _rising_root(surplus_torque, lowest, highest, found)
        after, _, net, _, net_over, _ = hot_side(found)
        stored = slope(found) * row["exhaust_volume"] / (gas.EXHAUST_GAS_CONSTANT * hot)
        per_area = -net_over[3]
        area = np.clip(opened + (net - stored) / per_area, -AREA_LIMIT, AREA_LIMIT)
        area = np.where(coasting, AREA_LIMIT, area)
        off_exhaust, off_outlet = found - exhaust, warm - outlet
        exhaust, outlet = exhaust + share * off_exhaust, outlet + share * off_outlet
        # near choke shaft speed answers the flow so strongly that full moves of what follows would build up
        off = np.maximum(np.abs(off_exhaust) / found, np.abs(off_outlet) / warm)
        off = np.maximum(off, row["shaft_inertia"] * np.abs(off_rate) / (np.abs(torque) + 0.1))
        slow = off.max(axis=0) > (1.0 - 0.5 * share) * change
        share = np.where(slow, np.maximum(0.7 * share, 0.05), share)
        change = off.max(axis=0)
        unsettled = (off > 1e-5) | (np.abs(charge - before[0]) > 1e-6 * charge) | (np.abs(area - before[1]) > 1e-8)
        if not np.any(unsettled):
            break

    total = area + row["exhaust_leak"]
    largest = largest_gate_area(cars)
    if local is not None:
        unboosted, choked = local.touched(unboosted), local.touched(choked)
    has = ~(unboosted | choked)
    for flag, holds in (
        (GateFlag.SHUT, has & (total < 0.0)), (GateFlag.WIDE, has & (total > _MORE * largest)),
        (GateFlag.COASTING, has & coasting), (GateFlag.CHOKED, choked), (GateFlag.UNBOOSTED, unboosted),
        (GateFlag.UNSETTLED, unsettled),
    ):  # fmt: skip
        flags |= np.where(holds, np.uint8(flag), np.uint8(0))
    total = np.where(has, np.clip(total, 0.0, AREA_LIMIT), 0.0)
    return GateArea(
        engine_speed[:, 0], total, largest, flags, manifold - ambient, charge, found, np.asarray(after), speed,
        torque, taken * speed, engine_flow, burnt, total * per_area, hot,
    )  # fmt: skip


def _rising_root(
    function: Callable[[Array], tuple[Array, Array]], low: Array, high: Array, start: Array
) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """Root of a rising function of each element: Newton's method inside a bracket that halves where it fails.

    ``function`` returns value and slope. Returns the root, held at the bounds, and where it lies below
    ``low`` and above ``high``.
    """
    first, last = low, high
    x = np.clip(start, low, high)
    move = high - low
    value, slope = function(x)
    seen_low = seen_high = np.zeros(x.shape, bool)
    for _ in range(_NEWTON):
        above = value > 0.0
        low, high = np.where(above, low, x), np.where(above, x, high)
        seen_low, seen_high = seen_low | ~above, seen_high | above
        new = x - value / np.maximum(slope, 1e-30)
        # halve where Newton's step leaves the bracket or drags; a bound not yet seen is worth a look
        step = np.abs(new - x)
        bad = ((new <= low) | (new >= high) | (step > 0.5 * move)) & (step > _CLOSE * np.abs(x))
        new = np.where(bad & seen_low & seen_high, 0.5 * (low + high), np.clip(new, low, high))
        move = np.abs(new - x)
        x = new
        value, slope = function(x)
        if np.all(move <= _CLOSE * np.abs(x)):
            break
    return x, (x <= first) & (value > 0.0), (x >= last) & (value < 0.0)


def _in_blocks(block: Callable[[NDArray[np.intp], int], GateArea], points: int, n: int) -> GateArea:
    """A result put together from blocks of candidates; the few that settle slowly once more, by themselves."""
    whole: dict[str, Any] = {}
    columns = np.arange(n)
    for sweeps in (_SWEEPS, _MORE_SWEEPS):
        for part in np.array_split(columns, max(1, -(-len(columns) * points // _BLOCK))):
            found = block(part, sweeps)
            for f in fields(GateArea):
                values = getattr(found, f.name)
                if f.name == "engine_speed":
                    whole[f.name] = values
                    continue
                whole.setdefault(f.name, np.empty((*values.shape[:-1], n), values.dtype))[..., part] = values
        columns = np.flatnonzero(np.any(whole["flags"] & int(GateFlag.UNSETTLED), axis=0))
        if not len(columns):
            break
    return GateArea(**whole)


def _series(values: ArrayLike, points: int | None, name: str) -> Array:
    """(points,) of one number or as many, all finite."""
    x = np.atleast_1d(np.asarray(values, float))
    count = x.size if points is None else points
    if x.ndim != 1 or x.size not in (1, count) or not np.all(np.isfinite(x)):
        raise InputRangeError(
            f"{name} must be one number or one for each of {count} points, all finite, got shape {x.shape}.",
            kind="range", where="gate_inverse", do="Leave out samples without a value in all channels alike.",
        )  # fmt: skip
    return np.array(np.broadcast_to(x, (count,)))


def _candidates(par: ArrayLike, where: str) -> Array:
    """(parameters, n), checked, and clipped to the ranges that the model accepts."""
    cars = np.asarray(par, float)
    if cars.ndim != 2 or cars.shape[0] != layout.SIZE or cars.shape[1] == 0 or not np.all(np.isfinite(cars)):
        raise InputRangeError(
            f"candidates must be an array of {layout.SIZE} parameters by n, all finite, got shape {cars.shape}.",
            kind="range", where=where, do="Pass rows in the order of layout.PARAMETERS.",
        )  # fmt: skip
    low, high = (np.array([getattr(p, end) for p in layout.PARAMETERS])[:, None] for end in ("low", "high"))
    return np.asarray(np.clip(cars, low, high))
