"""Lanes and NumPy give the same for every component and every kind of controller and gate."""

from __future__ import annotations

import itertools
import sys
from types import FrameType
from typing import Any

import numpy as np
import pytest
from benchmarks.cars import pull

from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.errors import InputRangeError
from boostproof.physics import at_rest, layout, ops, system
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.stepping import pull_steps

KINDS = list(itertools.product(CONTROLLERS, GATES))


def cars_of_every_kind() -> np.ndarray:
    """One column for each controller and gate, with closed loop where there is a solenoid."""
    par = np.array([[p.neutral] * len(KINDS) for p in layout.PARAMETERS])
    for column, (controller, gate) in enumerate(KINDS):
        chosen = np.arange(len(KINDS)) == column
        par = fitted(fitted(par, CONTROLLERS[controller], chosen), GATES[gate], chosen)
    par[layout.INDEX["closed_loop"]] = par[layout.INDEX["solenoid"]]
    return par


def run(par: np.ndarray, engine: Any, dtype: Any) -> np.ndarray:
    inputs, steps = pull(pull_steps(6.0))
    record = np.arange(len(steps)) // 20
    return car_kernel().run(par, inputs, steps, record, int(record.max()) + 1, engine=engine, dtype=dtype)


def test_lanes_equal_numpy_for_every_kind() -> None:
    """In double precision to rounding, in single precision to what a sensor cannot see."""
    par = cars_of_every_kind()
    exact = run(par, "numpy", np.float64)
    assert np.isfinite(exact).all()
    scale = np.abs(exact).max(axis=(0, 2), keepdims=True) + 1e-12
    same = np.abs(run(par, "auto", np.float64) - exact) / scale
    assert same.max() < 1e-6, dict(zip(system.OUTPUTS, same.max(axis=(0, 2)), strict=True))
    boost = system.OUTPUT_INDEX["boost"]
    short = np.abs(run(par, "auto", np.float32) - exact)[:, boost].max(axis=0)
    assert short.max() < 60.0, {kind: value for kind, value in zip(KINDS, short, strict=True) if value > 30.0}  # Pa


def test_every_component_is_part_of_the_model() -> None:
    """So that the comparison above covers them all: what `step` does not call is not a component."""
    ours = {
        f.__code__: f"{f.__module__}.{f.__qualname__}"
        for f in ops.COMPONENTS
        if f.__module__.startswith("boostproof.physics.")
    }
    called = set()

    def note(frame: FrameType, event: str, argument: Any) -> None:
        if event == "call":
            called.add(frame.f_code)

    par = tuple(cars_of_every_kind())
    inputs = (400.0, 1.0, 9e4, 0.4, 101325.0, 298.0, 0.0)
    sys.setprofile(note)
    try:
        state = system.initial(par, inputs)
        system.step(state, par, inputs, 0.01)
        line = (1.0,) * at_rest.SIZE  # of the bench: pressures at rest
        at_rest.halve(at_rest.start(line, (1.0, 1.0)), line, (1.0, 1.0), 1.0)
    finally:
        sys.setprofile(None)
    assert sorted(name for code, name in ours.items() if code not in called) == []


def test_settings_stay_within_the_ranges() -> None:
    par = np.array([[p.neutral] for p in layout.PARAMETERS])
    with pytest.raises(InputRangeError, match="port_diameter must lie between"):
        fitted(par, {"port_diameter": 36.0})
    with pytest.raises(InputRangeError, match="Nearest: port_diameter"):
        fitted(par, {"port_diametre": 0.03})
