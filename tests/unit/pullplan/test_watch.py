"""The live call against pulls whose boost is known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.pullplan.made_ladder import RPM, SPEED, TERMS

from boostproof.pullplan.rungs import Rung, stop_boost
from boostproof.pullplan.watch import watch

CEILING = 5000.0 * RPM
SLOPE = 30.0 / RPM  # Pa per rad/s
RUNG = Rung(
    "as found", CEILING, stop_boost(SLOPE, TERMS), 80e3, 70e3, 90e3, 0.001, "chance", SLOPE, SPEED, np.full(len(SPEED), 1e9)
)


def drive(boost_at: object, seconds: float = 12.0, rate: float = 20.0) -> tuple[float, str, float]:
    """Time of the call, why, and time at which a lift called then has taken hold."""
    time = np.arange(0.0, seconds, 1.0 / rate)
    speed = TERMS.start + TERMS.ramp * time
    boost = np.array([boost_at(t) for t in time])  # type: ignore[operator]
    for n in range(1, len(time) + 1):
        call = watch(RUNG, TERMS, time[:n], speed[:n], boost[:n])
        if not call.go:
            return float(time[n - 1]), call.why, float(time[n - 1]) + TERMS.reaction
    return np.inf, "", np.inf


def test_a_level_car_is_stopped_at_the_ceiling_only() -> None:
    at, why, _ = drive(lambda t: min(30e3 * t, 60e3))
    assert why == "ceiling"
    assert at == pytest.approx((CEILING - TERMS.start) / TERMS.ramp, abs=0.051)


@pytest.mark.parametrize("rate", [4e3, 8e3, 12.56e3, 25e3, 60e3, 90e3])  # Pa/s; the cap is 12.57 kPa/s
def test_a_steady_rise_is_stopped_before_the_limit_whatever_its_slope(rate: float) -> None:
    start = TERMS.hard - rate * 4.0  # meets the limit at 4 s
    _, why, holds = drive(lambda t: max(start + rate * t, 0.0))
    assert why in ("stop boost", "rising too fast")
    assert start + rate * holds <= TERMS.hard


def test_a_bent_rise_that_the_cap_allows_for_is_stopped_in_time() -> None:
    fast = SLOPE * TERMS.ramp  # level until just below the stop, then as fast as the cap says
    level = RUNG.stop - 500.0
    _, why, holds = drive(lambda t: level + fast * max(t - 3.0, 0.0))
    assert why == "stop boost"
    assert level + fast * (holds - 3.0) <= TERMS.hard


def test_boost_that_no_candidate_makes_is_stopped_though_it_is_low() -> None:
    rung = replace(RUNG, most=np.full(len(SPEED), 60e3))
    time = np.arange(0.0, 3.0, 0.05)
    call = watch(rung, TERMS, time, TERMS.start + TERMS.ramp * time, np.full(60, 65e3))
    assert (call.go, call.why) == (False, "more than expected")
    assert watch(rung, TERMS, time, TERMS.start + TERMS.ramp * time, np.full(60, 55e3)).go


def test_silence_stops_and_a_short_gap_does_not() -> None:
    time = np.arange(0.0, 2.0, 0.05)
    speed, boost = TERMS.start + TERMS.ramp * time, np.full(40, 20e3)
    boost[-4:] = np.nan
    assert watch(RUNG, TERMS, time, speed, boost).go
    assert watch(RUNG, TERMS, time, speed, boost, now=2.4).why == "no reading"
    assert watch(RUNG, TERMS, time, speed, np.full(40, np.nan)).why == "no reading"


def test_before_the_first_sample_it_goes() -> None:
    none = np.empty(0)
    assert watch(RUNG, TERMS, none, none, none).go
