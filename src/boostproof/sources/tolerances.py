"""How sure a value is when no tolerance was written beside it.

One row per key of car.toml, readings.toml and pulls.toml: standard deviation as a share of the value
and in SI, and where the figure comes from. Marks: *common practice, no source* is what the trade
expects of such a figure; *judgement* is ours; *from memory* names a document that was not at hand.
A row is used only where the person gave none; a gauge described in readings.toml takes the place of
the bench rows.

Beside it stands what a value can be at all (:class:`KeyTolerance`): limits so wide (judgement) that only
a slip of the unit or of the decimal point lies outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boostproof.quantity import UsualTolerance

_PRACTICE = "common practice, no source"
_JUDGEMENT = "judgement"
_CATALOGUE = "judgement: catalogue figures are rounded"
_RULER = "judgement: read with a ruler or calliper in a narrow place"
_DIAL = "EN 837-1 class 1.6 dial of 0-400 kPa, limit of error as a flat distribution, GUM 4.3.7 (from memory)"
_STATION = "judgement: nearest weather station or a phone, not the bay itself"

_DIAL_SD = 0.016 * 400e3 / 3.0**0.5

_TABLE: dict[str, tuple[float, float, str]] = {
    # key: (relative, absolute in SI, source)
    "engine.displacement": (0.01, 0.02e-3, _CATALOGUE),
    "engine.redline": (0.01, 0.0, _CATALOGUE),
    "engine.ethanol": (0.0, 0.03, "judgement: pump blends and test strips vary by some per cent"),
    "turbo.compressor_inducer": (0.0, 0.5e-3, _CATALOGUE),
    "turbo.compressor_exducer": (0.0, 0.5e-3, _CATALOGUE),
    "turbo.turbine_inducer": (0.0, 0.5e-3, _CATALOGUE),
    "turbo.turbine_exducer": (0.0, 0.5e-3, _CATALOGUE),
    "wastegate.port": (0.0, 0.4e-3, _RULER),
    "wastegate.full_travel": (0.0, 0.5e-3, _RULER),
    "wastegate.lever_radius": (0.0, 0.5e-3, _RULER),
    "wastegate.flapper_radius": (0.0, 0.7e-3, _RULER),
    "wastegate.opening_angle": (0.0, 0.05, _RULER),
    "actuator.opening_pressure": (0.02, 2.5e3, "common practice, no source: sound cans lie within 5 kPa"),
    "actuator.marked_boost": (0.15, 7e3, "common practice, no source: a label is a promise, not a reading"),
    "actuator.full_travel_pressure": (0.02, 4e3, _PRACTICE),
    "actuator.preload": (0.0, 0.3e-3, _RULER),
    "actuator.diaphragm": (0.0, 1.5e-3, "judgement: effective diameter against the one measured outside"),
    "controller.opening_pressure": (0.03, 4e3, _PRACTICE),
    "controller.bleed_hole": (0.0, 0.05e-3, "judgement: drill sizes step by 0.1 mm"),
    "controller.frequency": (0.05, 0.0, _JUDGEMENT),
    "signal_line.restrictor": (0.0, 0.1e-3, "judgement: drill sizes step by 0.1 mm, edges vary"),
    "signal_line.bore": (0.0, 0.2e-3, _RULER),
    "signal_line.length": (0.1, 0.02, _RULER),
    "exhaust.bore": (0.0, 1e-3, _CATALOGUE),
    "sensors.manifold_range": (0.01, 0.0, _CATALOGUE),
    "limits.target": (0.0, 2e3, "judgement: a boost that is wanted is spoken in steps of about half a psi"),
    "limits.stop": (0.0, 0.7e3, "judgement: as the target, but meant as a line"),
    "limits.exhaust_temperature_before_turbine": (0.0, 10.0, _JUDGEMENT),
    "limits.exhaust_temperature_after_turbine": (0.0, 10.0, _JUDGEMENT),
    "history.last_right.boost": (0.03, 4e3, "judgement: remembered, from another gauge"),
    "weather.barometer": (0.0, 0.3e3, _STATION),
    "weather.temperature": (0.0, 2.0, _STATION),
    "weather.humidity": (0.0, 0.1, _STATION),
    "weather.altitude": (0.0, 20.0, _STATION),
    "pull_place.ramp": (0.1, 0.0, "judgement: a set ramp is not held exactly"),
    "pull_place.roller_inertia": (0.02, 0.0, "judgement: as a maker states it, without the drive"),
    "pull_place.roller_diameter": (0.003, 0.0, "judgement: a tape around the roller"),
    "pull_place.equivalent_mass": (0.02, 0.0, "judgement: as a maker states it; a car weighed, with its driver"),
    "gauge.smallest_mark": (0.01, 0.0, "printed on the dial"),
    "gauge.class": (0.01, 0.0, "printed on the dial"),
    "gauge.range": (0.001, 0.0, "printed on the dial"),
    "gauge.reads_at_zero": (0.0, 0.7e3, "judgement: read between the first marks"),
    "reading.pressure": (0.0, _DIAL_SD, _DIAL),
    "reading.pressure_drop": (0.0, 1.5e3, "judgement: same gauge twice, its offset cancels; 3 kPa at two sd"),
    "reading.travel": (0.0, 0.5e-3, _RULER),
    "reading.port": (0.0, 0.1e-3, "judgement: bore gauge in three directions"),
    "reading.lift": (0.0, 0.3e-3, _RULER),
    "reading.gap": (0.0, 0.03e-3, "judgement: feeler gauges step by 0.05 mm"),
    "reading.angle": (0.0, 0.04, "judgement: protractor on a short lever"),
    "reading.time": (0.1, 0.2, "judgement: stopwatch in the hand"),
    "reading.flow": (0.05, 0.3e-3 / 60.0, "judgement: float-type flow gauge of 25 L/min, 4 % class"),
    "reading.reservoir": (0.03, 5e-6, _JUDGEMENT),
    "reading.resistance": (0.02, 0.3, "judgement: hand multimeter and its leads"),
    "reading.duty": (0.0, 0.01, _JUDGEMENT),
    "reading.sensor": (0.0, 0.3e3, "judgement: last digit of a live-data screen"),
    "reading.barometer": (0.0, 0.2e3, _STATION),
    "reading.rpm": (0.005, 3.0, _JUDGEMENT),
    "reading.exhaust_pressure": (0.03, 1.0e3, "judgement: low-pressure dial, moving needle"),
    "reading.ignition_retard": (0.0, 0.009, _JUDGEMENT),
    "reading.fuel_pressure": (0.02, 7e3, _PRACTICE),
    "reading.compression": (0.03, 20e3, "common practice, no source: cranking speed and gauge together"),
    "pulls.duty": (0.0, 0.01, _JUDGEMENT),
    "pulls.rest_before": (0.1, 10.0, _JUDGEMENT),
    "pulls.coolant": (0.0, 2.0, _JUDGEMENT),
    "pulls.charge_temperature_start": (0.0, 2.0, _JUDGEMENT),
}

_MM = 1e-3
_RPM = math.pi / 30.0
_DEGREE = math.pi / 180.0
_BOOST = (-1.0e5, 1.0e6)  # below zero for what vacuum moves
_WHEEL = (10.0 * _MM, 300.0 * _MM)
_LEVER = (3.0 * _MM, 150.0 * _MM)
_HOLE = (0.05 * _MM, 10.0 * _MM)
_AIR = (45e3, 112e3)  # from 6 km up to the deepest high, absolute
_SHARE = (0.0, 1.0)
_SPEED = (0.0, 25_000.0 * _RPM)
_TEMPERATURE_OUTSIDE = (210.0, 335.0)
_EXHAUST_LIMIT = (500.0, 1700.0)

_POSSIBLE: dict[str, tuple[float, float]] = {
    # key: lowest and highest, in SI
    "engine.displacement": (0.1e-3, 30e-3),
    "engine.redline": (1000.0 * _RPM, 25_000.0 * _RPM),
    "engine.ethanol": _SHARE,
    "turbo.compressor_inducer": _WHEEL,
    "turbo.compressor_exducer": _WHEEL,
    "turbo.turbine_inducer": _WHEEL,
    "turbo.turbine_exducer": _WHEEL,
    "wastegate.port": (3.0 * _MM, 150.0 * _MM),
    "wastegate.full_travel": (0.5 * _MM, 100.0 * _MM),
    "wastegate.lever_radius": _LEVER,
    "wastegate.flapper_radius": _LEVER,
    "wastegate.opening_angle": (_DEGREE, 180.0 * _DEGREE),
    "actuator.opening_pressure": _BOOST,
    "actuator.marked_boost": _BOOST,
    "actuator.full_travel_pressure": _BOOST,
    "actuator.preload": (0.0, 50.0 * _MM),
    "actuator.diaphragm": (5.0 * _MM, 250.0 * _MM),
    "controller.opening_pressure": _BOOST,
    "controller.bleed_hole": _HOLE,
    "controller.frequency": (0.5, 5000.0),
    "signal_line.restrictor": _HOLE,
    "signal_line.bore": (0.5 * _MM, 50.0 * _MM),
    "signal_line.length": (0.01, 20.0),
    "exhaust.bore": (15.0 * _MM, 300.0 * _MM),
    "sensors.manifold_range": (8e4, 2e6),
    "limits.target": _BOOST,
    "limits.stop": (1e3, 1e6),
    "limits.exhaust_temperature_before_turbine": _EXHAUST_LIMIT,
    "limits.exhaust_temperature_after_turbine": _EXHAUST_LIMIT,
    "history.last_right.boost": _BOOST,
    "weather.barometer": _AIR,
    "weather.temperature": _TEMPERATURE_OUTSIDE,
    "weather.humidity": _SHARE,
    "weather.altitude": (-500.0, 6000.0),
    "pull_place.ramp": (1.0 * _RPM, 10_000.0 * _RPM),
    "pull_place.roller_inertia": (0.5, 2000.0),
    "pull_place.roller_diameter": (0.1, 3.0),
    "pull_place.equivalent_mass": (50.0, 10_000.0),
    "gauge.smallest_mark": (1.0, 1e6),
    "gauge.class": (1e-5, 0.25),
    "gauge.range": (1e3, 1e8),
    "gauge.reads_at_zero": (-2e5, 2e5),
    "reading.pressure": (-1.0e5, 2e6),
    "reading.pressure_drop": (-1e5, 2e6),
    "reading.travel": (0.0, 150.0 * _MM),
    "reading.port": (3.0 * _MM, 150.0 * _MM),
    "reading.lift": (0.0, 100.0 * _MM),
    "reading.gap": (0.0, 20.0 * _MM),
    "reading.angle": (0.0, 360.0 * _DEGREE),
    "reading.time": (0.0, 7200.0),
    "reading.flow": (0.0, 5e-2),
    "reading.reservoir": (0.0, 0.5),
    "reading.resistance": (0.0, 1e9),
    "reading.duty": _SHARE,
    "reading.sensor": (-1.1e5, 2e6),
    "reading.barometer": _AIR,
    "reading.rpm": _SPEED,
    "reading.exhaust_pressure": (-5e4, 1e6),
    "reading.ignition_retard": (-90.0 * _DEGREE, 90.0 * _DEGREE),
    "reading.fuel_pressure": (-1.0e5, 1e8),
    "reading.compression": (0.0, 1e7),
    "pulls.duty": _SHARE,
    "pulls.rest_before": (0.0, 3.2e7),
    "pulls.coolant": (210.0, 425.0),
    "pulls.charge_temperature_start": (210.0, 475.0),
}


@dataclass(frozen=True)
class KeyTolerance(UsualTolerance):
    """The usual tolerance of one key, and what its values can be at all.

    Attributes
    ----------
    low, high : possible values, counted as the key counts (gauge unless it is absolute). [SI]
    """

    low: float = -math.inf
    high: float = math.inf


USUAL: dict[str, KeyTolerance] = {
    key: KeyTolerance(relative, absolute, source, *_POSSIBLE[key])
    for key, (relative, absolute, source) in _TABLE.items()
}
