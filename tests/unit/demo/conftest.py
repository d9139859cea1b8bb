"""One sound car of every kind of controller, found once for all the tests of the demo."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.demo.draw import Car, random_car
from boostproof.demo.hardware import BALL, BLEED, NONE, SOLENOID


@pytest.fixture(scope="session")
def cars() -> dict[float, Car]:
    """Sound cars by kind of controller."""
    return {kind: random_car(np.random.default_rng(11), kind=kind) for kind in (NONE, BALL, BLEED, SOLENOID)}
