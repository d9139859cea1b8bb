"""What car.toml says of plumbing, gate and metering reaches the candidates as settings of the one model."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.unit.small_car import small_car

from boostproof.car.prior import build_prior
from boostproof.casefolder.files import read_car
from boostproof.casefolder.toml_file import read_toml
from boostproof.physics import layout


def sound(
    tmp_path: Path, *, controller: str = "none", gate: str = "internal flapper", engine: str = "", wastegate: str = "",
    more: str = "", valve: str = "recirculates",
) -> dict[str, float]:  # fmt: skip
    """The middle sound car."""
    path = tmp_path / "car.toml"
    text = small_car(
        f'{more}\n[intake]\nbypass_valve = "{valve}"',
        controller=controller, gate=gate, engine=engine, wastegate=wastegate,
    )  # fmt: skip
    path.write_text(text, encoding="utf-8")
    read = read_car(read_toml(path, instead="Describe a car."))
    assert not read.reader.problems
    prior = build_prior(read.car)
    values = prior.sound(np.zeros((prior.size, 1)))[:, 0]
    return dict(zip(layout.NAMES, values.tolist(), strict=True))


@pytest.mark.parametrize(
    ("controller", "more", "expected"),
    [
        ("none", "", {"solenoid": 0.0, "check": 0.0}),
        ("ball and spring", "", {"check": 1.0, "solenoid": 0.0}),
        ("solenoid 3-port", "", {"solenoid": 1.0, "interrupts": 1.0, "upper_feed": 0.0}),
        ("solenoid 3-port", 'plumbing = "bleed"', {"solenoid": 1.0, "interrupts": 0.0}),
        ("solenoid 2-port", "", {"solenoid": 1.0, "interrupts": 0.0}),
    ],
)
def test_controllers(tmp_path: Path, controller: str, more: str, expected: dict[str, float]) -> None:
    car = sound(tmp_path, controller=controller, more=more)
    assert {name: car[name] for name in expected} == expected


def test_four_port_valve_feeds_and_vents_both_chambers(tmp_path: Path) -> None:
    car = sound(tmp_path, controller="solenoid 4-port")
    assert car["upper_feed"] == car["line_area"] > 0.0
    assert car["upper_vent"] == car["vent_area"] > 0.0


def test_two_gates_share_the_port(tmp_path: Path) -> None:
    one, two = sound(tmp_path), sound(tmp_path, wastegate="count = 2")
    assert (one["gate_count"], two["gate_count"]) == (1.0, 2.0)
    assert 2.0 * two["port_diameter"] ** 2 == pytest.approx(one["port_diameter"] ** 2)


def test_lever_of_a_flapper(tmp_path: Path) -> None:
    assert sound(tmp_path, wastegate='lever_radius = "18 mm"')["lever_arm"] == pytest.approx(0.018)
    assert sound(tmp_path, gate="external poppet")["lever_arm"] == 1.0


def test_metering_and_bypass_valve(tmp_path: Path) -> None:
    by_air = sound(tmp_path, engine='fuel_metering = "air meter"', valve="vents")
    assert (by_air["air_metered"], by_air["pressure_metered"], by_air["bypass_recirculates"]) == (1.0, 0.0, 0.0)
    by_pressure = sound(tmp_path, engine='fuel_metering = "speed density"')
    assert (by_pressure["air_metered"], by_pressure["pressure_metered"]) == (0.0, 1.0)
    assert by_pressure["bypass_recirculates"] == 1.0
