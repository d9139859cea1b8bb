"""A ball-and-spring controller on the bench. Common practice, no source: the figures that a shop sees."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.physics import layout, rigs

PSI = 6894.757


def _signal(**values: float) -> np.ndarray:
    par = np.array([[p.neutral] for p in layout.PARAMETERS])
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


@pytest.fixture
def through_controller() -> np.ndarray:
    """A can whose arm leaves its seat at 18.2 psi behind a ball and spring set about 6 psi up, 1 mm bleed at 0.6."""
    bleed = 0.6 * np.pi / 4 * 0.001**2
    return _signal(
        opening_pressure=18.2 * PSI, friction=1e3, check=1.0, offset=6.0 * PSI, bleed_area=bleed, line_area=4e-6,
        offset_at_slack=1 * PSI, offset_per_turn=2.5 * PSI,
    )  # fmt: skip


def test_arm_moves_later_through_the_controller(through_controller: np.ndarray) -> None:
    direct = float(rigs.first_movement(through_controller)[0]) / PSI
    assert 18.0 < direct < 19.0
    through = float(rigs.supply_for(through_controller, rigs.first_movement(through_controller))[0]) / PSI
    assert through == pytest.approx(25.0, abs=1.0)


def test_vent_passes_air_slack_and_none_wound_in(through_controller: np.ndarray) -> None:
    par = through_controller
    bleed = rigs.row(par, "bleed_area")

    def vented(turns: float) -> float:
        pressure = rigs.chamber_at(par, 10 * PSI, offset=rigs.offset_at(par, turns))
        return float(rigs.bleed_flow(par, pressure, bleed)[0]) * 6e4  # L/min

    assert vented(0.0) > 2.5  # clearly heard
    assert vented(5.0) < 0.05  # silent: the spring holds the ball against 10 psi


def test_blind_bleed_traps_the_chamber(through_controller: np.ndarray) -> None:
    par = through_controller
    par[layout.index_of("bleed_area")] = 0.0
    area = rigs.outlet_area(par)
    held = rigs.decayed(np.array([100e3]), area, rigs.row(par, "chamber_volume"), 30.0)
    assert float(held[0]) > 95e3


def test_pinch_before_a_bleed_divides() -> None:
    """Orifice in series with a 1.0 mm bleed at 100 kPa: 4 mm leaves about all, 1 mm about 60 (ISO 6358 form)."""

    def left(diameter: float) -> float:
        par = _signal(line_area=np.pi / 4 * diameter**2, bleed_area=np.pi / 4 * 0.001**2)
        return float(rigs.chamber_at(par, 100e3)[0]) / 1e3

    assert left(0.004) == pytest.approx(99.8, abs=0.5)
    assert left(0.0015) == pytest.approx(91.1, abs=1.5)
    assert left(0.001) == pytest.approx(62.4, abs=2.5)
