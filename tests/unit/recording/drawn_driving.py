"""Drives drawn by hand from straight lines, at any sample rate: no model of a car."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording import Pull, Recording, find_pulls
from boostproof.recording.checks.about_pulls import about_pulls
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise

Array = NDArray[np.float64]
Knots = list[tuple[float, float]]
Shape = Knots | Callable[[Array], Array]

HEADERS = {
    "rpm": "Engine Speed (rpm)",
    "throttle": "Throttle (%)",
    "pedal": "Accelerator pedal (%)",
    "boost": "Boost gauge (kPa)",
    "target": "Boost target gauge (kPa)",
    "speed": "Vehicle speed (km/h)",
    "gear": "Gear",
    "cut": "Ignition cut",
    "torque": "Engine torque (Nm)",
    "flow": "Mass air flow (g/s)",
    "pipe": "Compressor outlet pressure gauge (kPa)",
    "manifold": "Manifold pressure abs (kPa)",
    "pedal_volts": "Accelerator pedal (V)",
}
NOISE = {"rpm": 3.0, "throttle": 0.1, "pedal": 0.1, "boost": 0.3, "pipe": 0.3, "manifold": 0.3, "torque": 0.5}

# A pull: cruise, full throttle from 4.0 s, 2200 to 6500 rpm until 14.0 s, then overrun.
OPENED, LIFTED, LENGTH = 4.0, 14.0, 20.0
RPM: Knots = [(0, 2200), (4, 2200), (14, 6500), (14.3, 6450), (20, 2400)]
LEVER: Knots = [(0, 12), (3.95, 12), (4.0, 99), (14.0, 99), (14.1, 0.5), (20, 0.5)]
BOOST: Knots = [(0, -45), (3.95, -45), (4.1, 2), (7.5, 90), (14.0, 90), (14.3, -60), (15, -88), (20, -88)]
RATES = (5.0, 20.0, 100.0)


def drawn(
    rate: float, length: float = LENGTH, begin: float = 0.0, seed: int = 3, **channels: Shape
) -> Recording:
    """A recording from curves (knots or functions of time), in the units of ``HEADERS``."""
    rng = np.random.default_rng(seed)
    time = np.arange(begin, length, 1.0 / rate)
    columns = [Column("Time (s)", "", time)]
    for name, shape in channels.items():
        if callable(shape):
            values = shape(time)
        else:
            values = np.interp(time, [k[0] for k in shape], [k[1] for k in shape])
        values = values + rng.normal(0.0, NOISE.get(name, 0.0), time.size) if name in NOISE else values
        columns.append(Column(HEADERS[name], "", np.asarray(values, float)))
    return recognise(Table("drawn.csv", "csv", time.size, tuple(columns)))


def seen(recording: Recording) -> tuple[tuple[Pull, ...], dict[str, list[Finding]]]:
    """(pulls with sweeps at part throttle, findings about them by kind)."""
    pulls = find_pulls(recording, part_load=True)
    kinds: dict[str, list[Finding]] = {}
    for finding in about_pulls(recording, pulls):
        kinds.setdefault(finding.kind, []).append(finding)
    return pulls, kinds


def rpm_at(time: float, knots: Knots = RPM) -> float:
    """Engine speed that was drawn."""
    return float(np.interp(time, [k[0] for k in knots], [k[1] for k in knots]))
