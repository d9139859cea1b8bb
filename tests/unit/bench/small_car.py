"""The small car with 14 psi wanted, which the bench tests share."""

from __future__ import annotations

from pathlib import Path

from tests.unit.small_car import small_car


def write_car(folder: Path, controller: str = "ball and spring", gate: str = "internal flapper") -> None:
    """Write its car.toml into a folder, with this kind of controller and of gate."""
    wanted = '[limits]\ntarget = "14 psi"'
    text = small_car(wanted, controller=controller, gate=gate, engine="compression_ratio = 9.5")
    (folder / "car.toml").write_text(text, encoding="utf-8")
