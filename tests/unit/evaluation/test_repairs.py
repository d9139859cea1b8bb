"""Cars of the other simulator held against the forecast of their repair: what is counted, and what is true of them."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evaluation.families import RPM
from evaluation.repairs import (
    CONFIDENCES,
    COUNTED,
    Trial,
    held_against,
    holds,
    mendable,
    repair_for,
    size_of,
    smallest_port,
    summary,
    true_boost,
)

from boostproof.demo import make_case
from boostproof.demo.case import cars_of
from boostproof.demo.faults import FAULTS
from boostproof.diagnosis.causes import Fitted
from boostproof.repair.bands import Band
from boostproof.repair.catalogue import CATALOGUE
from boostproof.repair.ramp import Ramp, ramp_for
from boostproof.repair.sizing import Sizing, Tried


def _ramp(redline: float, target: float, ambient: float = 1.0e5) -> Ramp:
    return ramp_for(redline * RPM, target, ambient, 295.0, loop=False)


def test_the_twin_is_the_one_that_the_case_was_written_from(tmp_path: Path) -> None:
    folder = make_case(tmp_path / "case", cause="port-too-small", severity=0.6, seed=31)
    car, sound = cars_of("port-too-small", 0.6, 31)
    assert car.hardware.gate.port < 0.8 * sound.hardware.gate.port
    written = tomllib.loads((folder / "car.toml").read_text(encoding="utf-8"))
    assert written["engine"]["redline"] == f"{sound.redline:g} rpm"
    truth = tomllib.loads((folder / "truth.toml").read_text(encoding="utf-8"))
    boost = true_boost(sound.hardware, _ramp(sound.redline, sound.target, sound.hardware.air.pressure))
    # its plateau, in psi, on a pull with another slope: the same within 2 psi
    assert np.median(boost[-8:]) / 6894.76 == pytest.approx(truth["healthy_twin"]["plat_med"], abs=2.0)


def test_points_below_the_boost_are_not_counted() -> None:
    true = np.array([10.0, 79.0, 90.0, 100.0, 100.0]) * 1e3
    band = Band(true - 5e3, true + np.array([50.0, 50.0, 1.0, 2.0, 9.0]) * 1e3, true + np.array([0, 0, 5, 5, -1]) * 1e3)
    inside, error, width = held_against(band, true, 1.0e5)
    assert COUNTED == 0.8
    assert inside == pytest.approx(2 / 3)  # the last lies above its band
    assert error == pytest.approx(2.0e3) and width == pytest.approx((10e3 + 10e3 + 4e3) / 3)


def test_the_smallest_port_is_the_first_of_all_larger_ones_that_hold() -> None:
    car, sound = cars_of("port-too-small", 0.9, 7007)
    ramp = _ramp(sound.redline, sound.target, sound.hardware.air.pressure)
    assert holds(sound.hardware, ramp, 7.0e3) and not holds(car.hardware, ramp, 7.0e3)
    sizes = [d * 1e-3 for d in range(16, 40, 2)]
    found = smallest_port(car, sizes, ramp, 7.0e3)
    assert found is not None and car.hardware.gate.port < found < sound.hardware.gate.port
    gate = car.hardware.gate

    def with_port(size: float) -> bool:
        return holds(car.hardware.changed("gate", port=size, valve=gate.valve * size / gate.port), ramp, 7.0e3)

    assert [with_port(s) for s in sizes if s >= found] == [True] * sum(s >= found for s in sizes)
    assert not with_port(found - 2e-3)
    assert smallest_port(car, [10e-3], ramp, 7.0e3) is None


def test_every_cause_that_counts_has_a_repair_that_undoes_it() -> None:
    assert len(mendable()) > 25 and "port-too-small" in mendable()
    assert {"engine-outgrew-gate", "exhaust-freed"}.isdisjoint(mendable())
    by_id = {r.id: r for r in CATALOGUE}
    for cause in mendable():
        fitted = next(
            Fitted(c, external) for c in ("ball and spring", "solenoid 3-port", "bleed valve") for external in (False, True)
            if repair_for(cause, Fitted(c, external))
        )  # fmt: skip
        assert FAULTS[cause].accepts[0] in by_id[repair_for(cause, fitted)].mends


def test_figures_of_trials() -> None:
    one = Trial("port-too-small", "port", 1, 0.9, 1.0, 1.0e3, 1.0e4, 0.030, 0.030, sized=True)
    trials = [
        one, replace(one, proposed=0.031), replace(one, proposed=0.028), replace(one, proposed=None),
        replace(one, sized=False, proposed=None, smallest=None, inside=0.5, error=3.0e3),
    ]  # fmt: skip
    found = summary(trials)
    assert found["cars"] == 5 and found["points_inside"] == 0.9 and found["cars_all_inside"] == 0.8
    assert found["median_error_kpa"] == 1.0
    assert (found["sized"], found["no_size_proposed"]) == (4, 1)
    assert (found["within_one_step"], found["too_small"]) == (0.5, 0.25)


def test_more_confidence_asks_for_larger_ports() -> None:
    tried = tuple(Tried(k * 1e-3, holds, holds, 1.0, 1e5) for k, holds in ((25, 0.3), (26, 0.6), (27, 0.85), (28, 0.97)))
    sizing = Sizing("port", (), 0.95, tried, tried[3], None)
    sizes = tuple(size_of(sizing.at(c, lowers=True)) for c in CONFIDENCES)
    assert sizes == pytest.approx((26e-3, 27e-3, 27e-3, 28e-3, 28e-3))
    one = Trial("port-too-small", "port", 1, 0.9, 1.0, 1e3, 9e3, 28e-3, 26e-3, sized=True, by_confidence=sizes)
    found = summary([one])
    assert (found["within_one_step"], found["within_one_step_at_0.8"], found["too_small_at_0.5"]) == (0.0, 1.0, 0.0)
