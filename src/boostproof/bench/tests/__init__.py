"""The bench tests, each described once; `CATALOGUE` in catalogue order."""

from __future__ import annotations

from boostproof.bench.tests import controllers, hand_checks, sensors_and_air, sweeps
from boostproof.bench.tests.model import BenchTest, CarContext, Gauge, gauge_of

CATALOGUE: tuple[BenchTest, ...] = tuple(
    sorted(
        (
            sweeps.ACTUATOR_SWEEP,
            sweeps.CONTROLLER_SWEEP,
            sweeps.LINE_SWEEP,
            controllers.CONTROLLER_VENT,
            controllers.SOLENOID_CHECK,
            hand_checks.FREE_TRAVEL,
            hand_checks.PORT_MEASURE,
            hand_checks.SEAT_LEAK,
            hand_checks.SHAFT_CHECK,
            hand_checks.COLD_LOOK,
            sensors_and_air.SENSOR_CHECK,
            sensors_and_air.INTAKE_PRESSURISE,
            sensors_and_air.EXHAUST_BACK_PRESSURE,
        ),
        key=lambda test: test.number,
    )
)
BY_ID: dict[str, BenchTest] = {test.id: test for test in CATALOGUE}

__all__ = ["BY_ID", "CATALOGUE", "BenchTest", "CarContext", "Gauge", "gauge_of"]
