"""How far the repaired car stays from each limit, and how likely it passes it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from boostproof.bench.response import Array
from boostproof.physics import layout
from boostproof.physics.compressor import map_flow
from boostproof.physics.generic_wheel import TIP_SPEED_LIMIT, tip_speed
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.repair.bands import QUANTILES, Curves, quantiles
from boostproof.repair.subjects import Subjects

_map_flow: Callable[..., Any] = map_flow  # written for lanes and arrays alike, without types of its own

CHOKED = 0.95  # flow over choke flow from which the wheel is said to be choked (judgement)
# flow at the surge line over choke flow, on slow and on fast speed lines (common practice, no source)
SURGE_SHARES, SURGE_RIMS = (0.30, 0.50), (150.0, 500.0)  # [1] at [m/s]
LIVE = 2.0e4  # Pa of boost from which surge is looked for: below it the wheel hardly works
USUAL_EXHAUST = 1223.15  # K before the turbine, 950 °C, where no limit was told (common practice, no source)
INJECTOR_FULL = 0.90  # duty from which an injector no longer meters well (common practice, no source)


@dataclass(frozen=True)
class Told:
    """Limits of a case, and logged channels that tell of others.

    Attributes
    ----------
    stop : boost never to be passed, and whether it was told, else a usual margin [Pa gauge]
    sensor_range : highest pressure that the manifold sensor reads [Pa abs], None where not known
    lambda_leanest : leanest mixture allowed [1], None where not told
    exhaust_limit : highest gas temperature before the turbine [K], None where not told
    logged : (slots,) each, of the highest pull at the ramp's speeds, NaN where it does not reach: "lambda",
        "exhaust_temperature_before_turbine", "injector_duty", as far as they were logged [SI]
    """

    stop: tuple[float, bool]
    sensor_range: float | None = None
    lambda_leanest: float | None = None
    exhaust_limit: float | None = None
    logged: Mapping[str, Array] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class Margin:
    """One limit.

    Attributes
    ----------
    id, title : "stop-boost" and so on, and in words
    limit : where it lies, in `unit`
    unit : "kPa_gauge", "kPa_abs", "1", "m/s", "K"
    told : it was given with the car, else it is usual
    value : middle of what the repaired car comes to, its worst along the pull
    low, high : nine in ten lie between
    chance : that the limit is passed, after the repair
    chance_now : the same as the car stands
    """

    id: str
    title: str
    limit: float
    unit: str
    told: bool
    value: float
    low: float
    high: float
    chance: float
    chance_now: float


@dataclass(frozen=True)
class Stand:
    """The cars as they stand at one time.

    Attributes
    ----------
    par : (parameters, n) SI
    outputs : of the ramp, (slots, outputs, n)
    curves : boost with the model's errors
    """

    par: Array = field(repr=False)
    outputs: Array = field(repr=False)
    curves: Curves = field(repr=False)

    @property
    def peaks(self) -> Weighed:
        """Highest boost, and weights."""
        return self.curves.peak, self.curves.weight


Weighed = tuple[Array, Array]  # values, weights
Worst = Callable[[Stand], Array]


def margins(cars: Subjects, told: Told, now: Stand, then: Stand) -> tuple[Margin, ...]:
    """Every limit that is known.

    Parameters
    ----------
    cars : as found
    told : limits
    now, then : as found and repaired
    """
    level, given = told.stop
    out = [_margin("stop-boost", "boost never to be passed", level, "kPa_gauge", given, now.peaks, then.peaks)]
    if told.sensor_range is not None:
        title, at = "end of the manifold sensor's range", told.sensor_range - cars.ambient
        row = _margin("sensor-range", title, at, "kPa_gauge", True, now.peaks, then.peaks)
        shift = cars.ambient / 1e3
        out.append(replace(
            row, unit="kPa_abs", limit=row.limit + shift, value=row.value + shift, low=row.low + shift,
            high=row.high + shift,
        ))  # fmt: skip
    out += [
        _of_cars(cars, "compressor-choke", "flow over choke flow of the compressor", CHOKED, "1", _most_flow, now, then),
        _of_surge(cars, now, then),
        _of_cars(cars, "shaft-speed", "rim speed of the compressor wheel", float(np.mean(TIP_SPEED_LIMIT)), "m/s",
                 _fastest_rim, now, then),
    ]  # fmt: skip
    return (*out, *_logged(cars, told, now, then))


def flow_share(par: Array, outputs: Array) -> Array:
    """Flow through the compressor over choke flow of the same speed, on each car's own map. (slots, n) [1]"""
    head = par[layout.index_of("compressor_head")]
    share, _ = _map_flow(outputs[:, OUTPUT_INDEX["surge_share"]] * head, head)
    return np.asarray(share)


def _of_surge(cars: Subjects, now: Stand, then: Stand) -> Margin:
    """Surge shows: a car in which it is not the fault does not surge as it stands, whatever a usual line says."""
    before, after = (_least_flow(stand) for stand in (now, then))
    surging = [any(cause.id == "compressor-surge" for cause in some) for some in cars.answers]
    heard = np.array(surging, bool)[cars.answer]
    shift = np.where(heard, 1.0, np.maximum(before, 1.0) / before)
    pairs = ((before * shift, cars.weight), (after * shift, cars.weight))
    return _margin("compressor-surge", "flow over that at the surge line", 1.0, "1", False, *pairs, below=True)


def _most_flow(stand: Stand) -> Array:
    return np.asarray(flow_share(stand.par, stand.outputs).max(axis=0))


def _least_flow(stand: Stand) -> Array:
    rim = _rims(stand)
    over = flow_share(stand.par, stand.outputs) / np.interp(rim, SURGE_RIMS, SURGE_SHARES)
    least = np.where(stand.outputs[:, OUTPUT_INDEX["boost"]] > LIVE, over, np.inf).min(axis=0)
    return np.where(np.isfinite(least), least, 1.0 / SURGE_SHARES[0])


def _fastest_rim(stand: Stand) -> Array:
    return np.asarray(_rims(stand).max(axis=0))


def _rims(stand: Stand) -> Array:
    """Rim speed along the ramp, (slots, n) [m/s]."""
    return tip_speed(stand.par[layout.index_of("compressor_diameter")], stand.outputs[:, OUTPUT_INDEX["shaft_speed"]])


def _of_cars(
    cars: Subjects, name: str, title: str, limit: float, unit: str, worst: Worst, now: Stand, then: Stand
) -> Margin:
    values = [worst(stand) for stand in (now, then)]
    return _margin(name, title, limit, unit, False, *((v, cars.weight) for v in values))


def _logged(cars: Subjects, told: Told, now: Stand, then: Stand) -> list[Margin]:
    """Limits of channels that were logged: what was measured, moved by what the repair changes."""
    out = []

    def moved(name: str, output: str, *, ratio: bool) -> tuple[Array, Array] | None:
        measured = told.logged.get(name)
        if measured is None or not np.isfinite(measured).any():
            return None
        slots = np.flatnonzero(np.isfinite(measured))
        before, after = (o[slots, OUTPUT_INDEX[output]] for o in (now.outputs, then.outputs))
        level = measured[slots, None] + np.zeros_like(before)
        return level, level * after / np.maximum(before, 1e-12) if ratio else level + after - before

    def add(name: str, title: str, limit: float, unit: str, given: bool, both: tuple[Array, Array] | None) -> None:
        if both is not None:
            pair = [(v.max(axis=0), cars.weight) for v in both]
            out.append(_margin(name, title, limit, unit, given, pair[0], pair[1]))

    add("injector-duty", "duty of the injectors", INJECTOR_FULL, "1", False,
        moved("injector_duty", "engine_flow", ratio=True))  # fmt: skip
    if told.lambda_leanest is not None:
        add("lambda", "leanest mixture allowed", told.lambda_leanest, "1", True,
            moved("lambda", "mixture", ratio=True))  # fmt: skip
    limit = told.exhaust_limit
    hot = moved("exhaust_temperature_before_turbine", "exhaust_temperature", ratio=False)
    add("exhaust-temperature", "exhaust temperature before the turbine", USUAL_EXHAUST if limit is None else limit,
        "K", limit is not None, hot)  # fmt: skip
    return out


def _margin(
    name: str, title: str, limit: float, unit: str, told: bool, now: Weighed, then: Weighed, *, below: bool = False
) -> Margin:
    scale = 1e-3 if unit.startswith("kPa") else 1.0
    low, middle, high = quantiles(then[0][None, :], then[1], QUANTILES)[:, 0] * scale
    edge = limit * (1.0 - 1e-9) if below else limit
    chances = [float(w @ ((v < edge) if below else (v > edge)) / w.sum()) for v, w in (then, now)]
    return Margin(name, title, limit * scale, unit, told, float(middle), float(low), float(high), *chances)
