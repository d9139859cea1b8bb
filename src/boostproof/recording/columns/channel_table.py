"""One row per channel: its dimension, the concepts that name it, and the range that its values live in.

The concepts are those of `words`. Ranges are wide: they tell a misread unit or another quantity, not a
faulty car. Ranges and certainties are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_RPM = 2.0 * math.pi / 60.0
_ZERO_C = 273.15


@dataclass(frozen=True)
class Row:
    """How a channel is recognised.

    Attributes
    ----------
    name : our channel name
    dimensions : accepted dimensions of `units`; the first is the channel's own
    default_unit : unit taken where the file names none and the values do not tell; empty for plain numbers
    low, high : range of the values, SI
    patterns : concept sets (blank separated) with the certainty that they give
    also : concepts that may stand beside any pattern without harm
    never : concepts that make it another quantity, whatever else is said
    by_unit : certainty from a unit that hardly anything else has, without a word that helps
    """

    name: str
    dimensions: tuple[str, ...]
    default_unit: str
    low: float
    high: float
    patterns: tuple[tuple[frozenset[str], float], ...]
    also: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()
    by_unit: float = 0.0


# Concepts that say how a value was got, not what it is; and the engine, where all of them are taken.
NEUTRAL = frozenset({"ACTUAL", "CURRENT", "POSITION", "ABSOLUTE", "GAUGE", "INDEX", "FLUID", "ENGINE"})
# The one manifold sensor: gauge or absolute decides between `boost` and `manifold_pressure`.
MANIFOLD_SENSOR = "manifold sensor"


def _row(
    name: str,
    dimensions: str,
    default_unit: str,
    low: float,
    high: float,
    patterns: str,
    *,
    also: str = "",
    never: str = "",
    by_unit: float = 0.0,
) -> Row:
    parsed = []
    for item in patterns.split(";"):
        words, certainty = item.rsplit(None, 1)
        parsed.append((frozenset(words.split()), float(certainty)))
    accepted, beside, kept_out = tuple(dimensions.split()), frozenset(also.split()), frozenset(never.split())
    return Row(name, accepted, default_unit, low, high, tuple(parsed), beside, kept_out, by_unit)


ROWS: tuple[Row, ...] = (
    _row("time", "time", "s", -1e7, 1e10, "TIME 0.97", also="ENGINE"),
    _row("engine_speed", "rotational_speed frequency", "rpm", 0.0, 14_000 * _RPM,
         "ENGINE SPEED 0.98; ENGINE ROTATION 0.98; ROTATION 0.95; ROTATION SPEED 0.93",
         also="ROTATION SPEED ENGINE", by_unit=0.6),
    _row("shaft_speed", "rotational_speed frequency", "rpm", 0.0, 400_000 * _RPM,
         "TURBO SPEED 0.97; TURBO ROTATION 0.97; SHAFT SPEED 0.93; SHAFT ROTATION 0.93; TURBINE "
         "SPEED 0.95; "
         "TURBINE ROTATION 0.95; COMPRESSOR SPEED 0.95; COMPRESSOR ROTATION 0.95", also="SHAFT "
         "TURBO ROTATION SPEED"),
    _row("vehicle_speed", "speed", "km/h", 0.0, 120.0,
         "VEHICLE SPEED 0.98; WHEEL SPEED 0.8; SPEED 0.75", also="WHEEL", by_unit=0.8),
    _row("pedal", "fraction voltage angle", "%", -0.1, 1.15, "PEDAL 0.97", also="THROTTLE RAW"),
    _row("throttle", "fraction angle voltage", "%", -0.1, 1.15, "THROTTLE 0.97", also="ENGINE RAW"),
    _row(MANIFOLD_SENSOR, "pressure", "", -106_000.0, 600_000.0,
         "BOOST PRESSURE 0.97; BOOST 0.95; MAP 0.97; MANIFOLD PRESSURE 0.96; INTAKE MANIFOLD "
         "PRESSURE 0.97; "
         "INTAKE PRESSURE 0.93; TURBO PRESSURE 0.85; CHARGE PRESSURE 0.85; CHARGE AIR PRESSURE 0.85; "
         "MANIFOLD BOOST 0.97; INTAKE AIR PRESSURE 0.85; MANIFOLD AIR PRESSURE 0.93; VACUUM BOOST 0.9; "
         "AFTER THROTTLE PRESSURE 0.93; INTAKE 0.3; MANIFOLD 0.4; INTAKE MANIFOLD 0.5",
         also="TURBO BOOST MANIFOLD INTAKE PRESSURE VACUUM"),
    _row("boost_target", "pressure", "", -101_000.0, 600_000.0,
         "TARGET BOOST 0.97; TARGET BOOST PRESSURE 0.98; TARGET MAP 0.97; TARGET MANIFOLD PRESSURE 0.97; "
         "TARGET INTAKE PRESSURE 0.93; TARGET TURBO PRESSURE 0.85; TARGET CHARGE PRESSURE 0.85; "
         "TARGET PRESSURE 0.6",
         also="MANIFOLD BOOST TURBO INTAKE PRESSURE AIR CHARGE CONTROL"),
    _row("compressor_outlet_pressure", "pressure", "", -30_000.0, 600_000.0,
         "COMPRESSOR OUTLET PRESSURE 0.97; COMPRESSOR AFTER PRESSURE 0.97; CHARGE PIPE PRESSURE 0.95; "
         "PIPE PRESSURE 0.8; BOOST PIPE PRESSURE 0.93; INTAKE PIPE PRESSURE 0.5; BEFORE THROTTLE "
         "PRESSURE 0.95; "
         "INTAKE THROTTLE PRESSURE 0.9; BEFORE THROTTLE BOOST 0.93; COOLER BEFORE PRESSURE 0.95; "
         "COOLER AFTER PRESSURE 0.88; COOLER PRESSURE 0.75; COMPRESSOR PRESSURE 0.85; TURBO OUTLET "
         "PRESSURE 0.85; "
         "COOLER INTAKE PRESSURE 0.85; COOLER OUTLET PRESSURE 0.85; COMPRESSOR BOOST 0.8",
         also="BOOST CHARGE AIR PIPE OUTLET COMPRESSOR TURBO COLD PRESSURE"),
    _row("line_pressure", "pressure", "", -101_000.0, 600_000.0,
         "LINE PRESSURE 0.85; ACTUATOR PRESSURE 0.95; GATE PRESSURE 0.9; GATE LINE PRESSURE 0.95; "
         "GATE ACTUATOR PRESSURE 0.97; BOOST LINE PRESSURE 0.8; SOLENOID OUTLET PRESSURE 0.7",
         also="LINE ACTUATOR GATE BOOST CONTROL"),
    _row("upper_line_pressure", "pressure", "", -101_000.0, 600_000.0,
         "UPPER LINE PRESSURE 0.95; UPPER ACTUATOR PRESSURE 0.95; UPPER GATE PRESSURE 0.9; UPPER "
         "PRESSURE 0.7",
         also="LINE ACTUATOR GATE"),
    _row("turbine_inlet_pressure", "pressure", "", -30_000.0, 900_000.0,
         "EXHAUST BACK PRESSURE 0.85; BEFORE TURBINE PRESSURE 0.97; BEFORE TURBO PRESSURE 0.8; "
         "BEFORE TURBO EXHAUST PRESSURE 0.95; EXHAUST MANIFOLD PRESSURE 0.96; EXHAUST PRESSURE 0.7; "
         "TURBINE INTAKE PRESSURE 0.97; BACK PRESSURE 0.7; DRIVE PRESSURE 0.75; TURBO INTAKE "
         "EXHAUST PRESSURE 0.9; "
         "BEFORE TURBINE BACK PRESSURE 0.97; BEFORE EXHAUST PRESSURE 0.7",
         also="EXHAUST TURBINE TURBO BEFORE MANIFOLD BACK"),
    _row("turbine_outlet_pressure", "pressure", "", -30_000.0, 400_000.0,
         "AFTER TURBINE PRESSURE 0.97; TURBINE OUTLET PRESSURE 0.97; AFTER TURBO EXHAUST PRESSURE 0.93; "
         "CATALYST PRESSURE 0.85; BEFORE CATALYST PRESSURE 0.93; AFTER TURBINE BACK PRESSURE 0.97; "
         "TURBO OUTLET EXHAUST PRESSURE 0.9; CATALYST BACK PRESSURE 0.9; AFTER EXHAUST BACK PRESSURE 0.7",
         also="EXHAUST BACK TURBINE TURBO BEFORE"),
    _row("barometer", "pressure", "", 55_000.0, 110_000.0,
         "BARO 0.95; BARO PRESSURE 0.98; AMBIENT PRESSURE 0.97; AIR PRESSURE 0.6; AMBIENT AIR "
         "PRESSURE 0.95",
         also="AMBIENT AIR PRESSURE"),
    _row("fuel_pressure", "pressure", "", 0.0, 40e6, "FUEL PRESSURE 0.96", also="INJECTOR MANIFOLD"),
    _row("oil_pressure", "pressure", "", -10_000.0, 2e6, "OIL PRESSURE 0.97", also="ENGINE"),
    _row("intake_temperature", "temperature", "C", _ZERO_C - 45, _ZERO_C + 180,
         "INTAKE AIR TEMPERATURE 0.97; INTAKE TEMPERATURE 0.95; CHARGE TEMPERATURE 0.93; CHARGE AIR "
         "TEMPERATURE 0.95; "
         "MANIFOLD AIR TEMPERATURE 0.96; MANIFOLD TEMPERATURE 0.9; INTAKE MANIFOLD TEMPERATURE 0.96; "
         "COOLER AFTER TEMPERATURE 0.85; COOLER OUTLET TEMPERATURE 0.8; AIR TEMPERATURE 0.75; "
         "BOOST TEMPERATURE 0.7; BOOST AIR TEMPERATURE 0.8; BEFORE THROTTLE TEMPERATURE 0.7",
         also="AIR CHARGE INTAKE MANIFOLD COOLER"),
    _row("compressor_outlet_temperature", "temperature", "C", _ZERO_C - 45, _ZERO_C + 320,
         "COMPRESSOR OUTLET TEMPERATURE 0.97; COMPRESSOR AFTER TEMPERATURE 0.97; COOLER BEFORE "
         "TEMPERATURE 0.93; "
         "COMPRESSOR TEMPERATURE 0.75; TURBO OUTLET TEMPERATURE 0.6; COOLER INTAKE TEMPERATURE 0.8",
         also="AIR CHARGE TURBO OUTLET COMPRESSOR"),
    _row("ambient_temperature", "temperature", "C", _ZERO_C - 45, _ZERO_C + 70,
         "AMBIENT TEMPERATURE 0.97; AMBIENT AIR TEMPERATURE 0.98", also="BARO AIR"),
    _row("exhaust_temperature_before_turbine", "temperature", "C", _ZERO_C - 45, _ZERO_C + 1900,
         "EXHAUST BEFORE TURBINE TEMPERATURE 0.98; BEFORE TURBINE TEMPERATURE 0.97; BEFORE TURBO "
         "TEMPERATURE 0.93; "
         "TURBINE INTAKE TEMPERATURE 0.97; EXHAUST MANIFOLD TEMPERATURE 0.93; EXHAUST TEMPERATURE 0.7; "
         "EXHAUST BEFORE TEMPERATURE 0.8",
         also="EXHAUST TURBO TURBINE BEFORE MANIFOLD FLOW"),
    _row("exhaust_temperature_after_turbine", "temperature", "C", _ZERO_C - 45, _ZERO_C + 1900,
         "EXHAUST AFTER TURBINE TEMPERATURE 0.98; AFTER TURBINE TEMPERATURE 0.97; EXHAUST AFTER "
         "TURBO TEMPERATURE 0.96; "
         "TURBINE OUTLET TEMPERATURE 0.95; CATALYST TEMPERATURE 0.7; EXHAUST CATALYST TEMPERATURE 0.8; "
         "AFTER TURBO TEMPERATURE 0.55; EXHAUST AFTER TEMPERATURE 0.7; EXHAUST TEMPERATURE 0.3",
         also="EXHAUST TURBO TURBINE AFTER OUTLET BEFORE CATALYST FLOW"),
    _row("coolant_temperature", "temperature", "C", _ZERO_C - 45, _ZERO_C + 150,
         "COOLANT TEMPERATURE 0.98; WATER TEMPERATURE 0.93; ENGINE TEMPERATURE 0.75; COOLANT 0.7",
         also="ENGINE WATER COOLANT"),
    _row("air_flow", "mass_flow", "g/s", -0.1, 1.5,
         "AIR FLOW 0.95; AIR MASS 0.93; AIR MASS FLOW 0.98; MASS FLOW 0.8; INTAKE AIR FLOW 0.93",
         also="INTAKE MASS ENGINE FLOW", by_unit=0.5),
    _row("lambda", "ratio", "", 0.4, 5.0, "LAMBDA 0.97; WIDEBAND LAMBDA 0.97; WIDEBAND 0.6; AFR 0.5; "
         "AIR FUEL RATIO 0.5; EXHAUST LAMBDA 0.95", also="WIDEBAND AIR FUEL RATIO EXHAUST"),
    _row("air_fuel_ratio", "ratio", "", 5.0, 60.0, "AFR 0.96; AIR FUEL RATIO 0.96; AIR FUEL 0.93; "
        "WIDEBAND 0.6; "
         "WIDEBAND AFR 0.97; LAMBDA 0.5", also="WIDEBAND AIR FUEL RATIO LAMBDA"),
    _row("duty", "fraction", "%", -0.02, 1.02,
         "GATE DUTY 0.97; BOOST DUTY 0.95; SOLENOID DUTY 0.88; BOOST CONTROL DUTY 0.97; BOOST "
         "SOLENOID DUTY 0.97; "
         "BOOST SOLENOID 0.8; BOOST CONTROL 0.75; DUTY 0.7; GATE SOLENOID 0.88; GATE CONTROL 0.7; "
         "TURBO DUTY 0.75; "
         "GATE 0.6; BOOST PRESSURE DUTY 0.93; PRESSURE SOLENOID DUTY 0.8; PRESSURE CONTROL DUTY 0.8",
         also="SOLENOID CONTROL BOOST GATE TURBO PRESSURE ROTATION ACTUATOR"),
    _row("injector_duty", "fraction", "%", -0.02, 1.6, "INJECTOR DUTY 0.97; FUEL DUTY 0.5", also="FUEL"),
    _row("gate_position", "fraction length angle voltage", "%", -0.2, 1.2, "GATE POSITION 0.93; "
        "ACTUATOR POSITION 0.75; "
         "GATE ACTUATOR POSITION 0.93", also="ACTUATOR GATE"),
    _row("gate_position_target", "fraction length angle voltage", "%", -0.2, 1.2,
         "GATE POSITION TARGET 0.95; GATE TARGET 0.7; ACTUATOR POSITION TARGET 0.8", also="ACTUATOR GATE"),
    _row("ignition_advance", "angle", "deg", -1.2, 1.2,
         "IGNITION ADVANCE 0.97; IGNITION TIMING 0.97; IGNITION 0.9; ADVANCE 0.75; TIMING 0.8; "
         "IGNITION TIMING ADVANCE 0.97",
         also="TIMING ADVANCE ENGINE BEFORE"),
    _row("ignition_retard", "angle", "deg", -1.2, 1.2,
         "IGNITION RETARD 0.93; KNOCK RETARD 0.95; RETARD 0.7; TIMING RETARD 0.93", also="KNOCK "
         "IGNITION TIMING"),
    _row("knock", "voltage ratio fraction", "", -1e6, 1e6, "KNOCK 0.85"),
    _row("gear", "ratio", "", -1.0, 12.0, "GEAR 0.95", also="GEARBOX"),
    _row("torque", "torque", "Nm", -2000.0, 5000.0, "TORQUE 0.93; WHEEL TORQUE 0.95; ENGINE TORQUE 0.93",
         also="WHEEL ENGINE SHAFT", by_unit=0.8),
    _row("power", "power", "kW", -5e5, 3e6, "POWER 0.9; WHEEL POWER 0.93; ENGINE POWER 0.93",
         also="WHEEL ENGINE", by_unit=0.8),
    _row("battery_voltage", "voltage", "V", 5.0, 19.0, "BATTERY VOLTAGE 0.98; BATTERY 0.93; VOLTAGE 0.5; "
         "BATTERY PRESSURE 0.3", also="VOLTAGE BATTERY", never="CURRENT"),
    _row("ethanol", "fraction", "%", -0.02, 1.02, "ETHANOL 0.95", also="FUEL RATIO"),
    _row("cut_active", "ratio", "", -0.5, 100.0, "FUEL CUT 0.85; CUT 0.8; IGNITION CUT 0.85; ENGINE "
        "CUT 0.75",
         also="ROTATION BOOST FUEL IGNITION"),
)  # fmt: skip

BY_NAME = {row.name: row for row in ROWS} | {
    "boost": next(row for row in ROWS if row.name == MANIFOLD_SENSOR),
    "manifold_pressure": next(row for row in ROWS if row.name == MANIFOLD_SENSOR),
    "boost_check": next(row for row in ROWS if row.name == MANIFOLD_SENSOR),
}
