"""Bands for every size: the same as a forecast in that size, and following the size as the trade knows it."""

from __future__ import annotations

import numpy as np
from tests.unit.repair.cars import FITTED, TARGET, kind_with, ramp, subjects
from tests.unit.repair.test_forecast import unlogged

from boostproof.repair.compressor_band import compressor_band
from boostproof.repair.forecast import Asked, Problem, forecast, sized_of, sizing_of
from boostproof.repair.limits import Told
from boostproof.repair.mend import mended
from boostproof.repair.size_bands import at_size, over_sizes
from boostproof.repair.words import parse_repairs

BALL = kind_with("bleed-oversize")
CONTROLLER = FITTED[BALL].controller


def problem(answers: dict[str, float], count: int = 30) -> Problem:
    drive = ramp()
    cars = subjects(BALL, answers, count=count, severity=0.6)
    return Problem(cars, drive, unlogged(drive), CONTROLLER, Told((TARGET + 2e4, True)))


def asked(*written: str) -> Asked:
    return Asked(parse_repairs(written))


def test_a_size_has_the_chances_that_its_forecast_has() -> None:
    """The forecast draws some 6,400 curves: its chances may differ by the scatter of 60 cars drawn twice."""
    case, wanted = problem({"port-too-small": 1.0}, count=60), asked("port 30 mm")
    one = at_size(case, wanted, 0, 0.030, seed=1, times=40)
    whole = forecast(case, wanted)
    assert one.after is not None and whole.after is not None
    assert abs(one.holds - whole.holds) < 0.08 and abs(one.reaches - whole.reaches) < 0.08
    assert np.abs(one.after.middle - whole.after.middle).max() < 2e3
    assert one.by_cause[0].id == whole.by_cause[0].id == "port-too-small"


def test_boost_falls_with_a_larger_port_and_chances_rise() -> None:
    found = over_sizes(problem({"port-too-small": 1.0}), asked("port"), 0)
    sizes, peaks = np.array([(one.size, one.peak) for one in found]).T
    assert np.all(np.diff(sizes) > 0.0) and np.all(np.diff(peaks) < 500.0) and peaks[0] > peaks[-1] + 1e4
    assert found[0].holds < 0.1 < 0.8 < found[-1].enough
    assert all(one.enough >= one.holds - 1e-12 for one in found)  # counted in fewer places
    assert all(0.0 <= one.stopped <= 1.0 for one in found) and found[0].stopped > found[-1].stopped


def test_a_stronger_spring_makes_more_boost_and_is_no_matter_of_capacity() -> None:
    told: list[float] = []
    found = over_sizes(problem({"spring-too-strong": 1.0}, count=20), asked("spring"), 0, said=told.append)
    assert found[-1].peak > found[0].peak + 2e4
    assert all(one.enough == one.holds for one in found)
    assert told == sorted(told) and told[-1] == 1.0 and len(told) == len(found)


def test_two_futures_have_no_band_in_between() -> None:
    case = problem({"spring-too-strong": 0.6, "line-blocked": 0.4}, count=20)
    one = at_size(case, asked("spring 40 kPa"), 0, 40e3, seed=1, times=10)
    assert one.after is None and set(one.apart) == {"spring-too-strong", "line-blocked"}
    assert {c.id for c in one.by_cause} == set(one.apart)


def test_the_first_repair_with_sizes_is_sized_and_a_known_sizing_is_taken_as_it_is() -> None:
    repairs = parse_repairs(["leak", "port 30 mm"])
    assert sized_of(repairs) == 1 and sized_of(parse_repairs(["leak"])) is None
    case = problem({"port-too-small": 1.0}, count=10)
    sizing = sizing_of(case, asked("port 30 mm"))
    assert sizing is not None and sizing_of(case, asked("leak")) is None
    assert forecast(case, asked("port 30 mm"), sizing=sizing).sizing is sizing


def test_the_candidates_on_the_compressor_follow_the_boost() -> None:
    """Where the throttle is open the outlet lies above the manifold by the charge pipes' loss alone."""
    case = problem({"port-too-small": 1.0})
    par = mended(case.cars, parse_repairs(["port 40 mm"]), CONTROLLER, seed=1)
    band = compressor_band(case.cars, par, case.ramp, temperature=295.0)
    assert np.all(band.flow[0] <= band.flow[1]) and np.all(band.flow[1] <= band.flow[2])
    assert np.all(np.diff(band.flow[1]) > 0.0)  # rising engine speed at held boost
    assert band.ratio[1][-1] < band.found_ratio[-1]  # the larger port holds boost down
    after = forecast(case, asked("port 40 mm")).after
    assert after is not None
    manifold = 1.0 + after.middle[-1] / case.cars.ambient
    assert manifold - 0.03 < band.ratio[1][-1] < manifold + 0.35
