"""The bench tests, each described once; `CATALOGUE` in catalogue order."""

from __future__ import annotations

from boostproof.bench.tests import (
    controllers,
    engine_checks,
    hand_checks,
    line_checks,
    logged_pulls,
    other_pulls,
    repeats,
    sensors_and_air,
    sweeps,
)
from boostproof.bench.tests.model import BenchTest, CarContext, Gauge, gauge_of

CATALOGUE: tuple[BenchTest, ...] = tuple(
    sorted(
        (
            sweeps.ACTUATOR_SWEEP,
            sweeps.CONTROLLER_SWEEP,
            sweeps.LINE_SWEEP,
            controllers.CONTROLLER_VENT,
            controllers.SOLENOID_CHECK,
            line_checks.BLEED_DECAY,
            line_checks.HOSE_FLOW,
            hand_checks.FREE_TRAVEL,
            hand_checks.PORT_MEASURE,
            hand_checks.SEAT_LEAK,
            hand_checks.SHAFT_CHECK,
            hand_checks.COLD_LOOK,
            sensors_and_air.SENSOR_CHECK,
            sensors_and_air.INTAKE_PRESSURISE,
            sensors_and_air.EXHAUST_BACK_PRESSURE,
            engine_checks.EXHAUST_SMOKE,
            engine_checks.FAULT_MEMORY_LOOK,
            engine_checks.PLUGS_AND_FUEL,
            engine_checks.COMPRESSION,
            logged_pulls.LINE_PRESSURE_LOG,
            logged_pulls.TURBINE_PRESSURE_LOG,
            other_pulls.FLOOR_PULL,
            other_pulls.SPRING_ONLY_PULL,
            other_pulls.TIP_IN,
            other_pulls.RE_APPLY,
            other_pulls.REPEAT_RAMP,
            repeats.HOT_REPEAT,
            repeats.SWAP_KNOWN_GOOD,
        ),
        key=lambda test: test.number,
    )
)
BY_ID: dict[str, BenchTest] = {test.id: test for test in CATALOGUE}

__all__ = ["BY_ID", "CATALOGUE", "BenchTest", "CarContext", "Gauge", "gauge_of"]
