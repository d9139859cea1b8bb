"""Families of invented cars: kind of gate x kind of controller x size, and the one pull that each is driven.

All cars of a family share what is known of them and the drive, so that nothing but the car differs.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from boostproof.car.spec import CarSpec
from boostproof.casefolder.files import read_car
from boostproof.casefolder.toml_file import TomlFile
from boostproof.diagnosis.evidence.bins import Bin
from boostproof.recording.model import Barometer, Channel, Pull, Recording

Array = NDArray[np.float64]
RPM = np.pi / 30.0
RATE = 50.0  # samples a second
PULL_SECONDS = 8.0
AMBIENT, AMBIENT_SD = 1.0e5, 50.0  # a barometer that was read

GATES = ("internal flapper", "external poppet")
CONTROLLERS = ("none", "ball and spring", "bleed valve", "solenoid 3-port")
SIZES = (("1.4 L", 4, 6200, 1.0), ("2.0 L", 4, 6900, 1.1), ("3.0 L", 6, 6600, 0.9))  # and share of the boost
BOOST = {"none": 60.0, "ball and spring": 95.0, "bleed valve": 85.0, "solenoid 3-port": 95.0}  # kPa gauge

_CAR = """
format = 1
[car]
name = "{name}"
[engine]
displacement = "{displacement}"
cylinders = {cylinders}
redline = "{redline} rpm"
[wastegate]
kind = "{gate}"
[controller]
kind = "{controller}"
{loop}
[limits]
target = "{target:.0f} kPa"
"""


@dataclass(frozen=True)
class Family:
    """Cars of which the same is known.

    Attributes
    ----------
    name : for tables
    car : what is known
    logged : channels of the log
    """

    name: str
    car: CarSpec = field(repr=False)
    logged: tuple[str, ...]


@lru_cache(maxsize=1)
def families() -> tuple[Family, ...]:
    """All families, in a fixed order."""
    out = []
    for gate, controller, (displacement, cylinders, redline, share) in product(GATES, CONTROLLERS, SIZES):
        solenoid = controller.startswith("solenoid")
        name = f"{displacement}, {gate}, {controller}"
        text = _CAR.format(
            name=name,
            displacement=displacement,
            cylinders=cylinders,
            redline=redline,
            gate=gate,
            controller=controller,
            loop="closed_loop = true" if solenoid else "",
            target=BOOST[controller] * share,
        )
        out.append(Family(name, car_of(text), ("boost", "duty") if solenoid else ("boost",)))
    return tuple(out)


def car_of(text: str) -> CarSpec:
    """What a car.toml says of its car; refused where it is wrong."""
    found = read_car(TomlFile("car.toml", tomllib.loads(text), {}, text.encode()))
    found.reader.finish()
    return found.car


def level_rows(values: Array, bins: Sequence[Bin]) -> Array:
    """Rows of a family's log that are level within each bin, so that the means of the bins are the values."""
    rows = np.full(int(PULL_SECONDS * RATE), values[-1])
    for value, b in zip(values, bins, strict=True):
        rows[b.start : b.stop] = value
    return rows


def recording_of(family: Family, columns: dict[str, Array] | None = None) -> tuple[Recording, Pull]:
    """The family's pull as a log.

    Parameters
    ----------
    family : whose redline decides how far the pull goes
    columns : further channels by name, (rows,) SI each

    Returns
    -------
    the recording and its one pull
    """
    redline = family.car.engine.redline.value
    rows = int(PULL_SECONDS * RATE)
    time = np.arange(rows) / RATE
    # from and to are odd numbers so that no sample falls on the edge of a bin
    speed = np.linspace(1987.3 * RPM, 0.973 * redline, rows)
    channels = {"engine_speed": _channel("engine_speed", "rad/s", speed)}
    channels["throttle"] = _channel("throttle", "", np.ones(rows))
    for name, values in (columns or {}).items():
        channels[name] = _channel(name, "Pa" if name == "boost" else "", values, gauge=name == "boost")
    recording = Recording(
        "pull.csv", "csv", rows, RATE, time, channels, barometer=Barometer(AMBIENT, AMBIENT_SD, "given")
    )
    pull = Pull(
        recording, 0, rows, 0.0, float(time[-1]), speed[0] / RPM, speed[-1] / RPM, True, "end of file", {}
    )
    return recording, pull


def _channel(name: str, unit: str, values: Array, *, gauge: bool = False) -> Channel:
    return Channel(name, name, unit, "gauge" if gauge else None, 1.0, "made", 0, values)
