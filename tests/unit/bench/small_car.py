"""The small car.toml that the bench tests share: two litres, 14 psi wanted."""

from __future__ import annotations

from pathlib import Path

_TEXT = """format = 1
[car]
name = "Test car"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "6800 rpm"
compression_ratio = 9.5
[wastegate]
kind = "{gate}"
[controller]
kind = "{controller}"
[limits]
target = "14 psi"
"""


def write_car(folder: Path, controller: str = "ball and spring", gate: str = "internal flapper") -> None:
    """Write its car.toml into a folder, with this kind of controller and of gate."""
    (folder / "car.toml").write_text(_TEXT.format(gate=gate, controller=controller), encoding="utf-8")
