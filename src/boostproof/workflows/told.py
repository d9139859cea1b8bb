"""What a case folder says about one of its recordings, in the terms of the reader and of `find_pulls`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.recording.setup import RecordingSetup


@dataclass(frozen=True)
class Told:
    """What is known of a recording beside the file itself.

    Attributes
    ----------
    setup : what pulls.toml says about it, None if nothing
    barometer : [Pa abs], of that day, else of the car's file, else from the altitude; None if unknown
    redline : [rpm], as pulls are told
    """

    setup: RecordingSetup | None = None
    barometer: float | None = None
    redline: float | None = None


def told_about(folder: Case, file: Path) -> Told:
    """What a case says about a recording, which may lie in its folder or be a copy from elsewhere."""
    setup = folder.pulls.of(_name(folder.path, file))
    return Told(setup, _barometer(folder, setup), folder.car.engine.redline.value * 30.0 / math.pi)


def told_alone(folder: Path, file: Path) -> Told:
    """What pulls.toml says about a recording while the rest of the case cannot be read; nothing where it cannot either."""
    from boostproof.casefolder.files import read_pulls
    from boostproof.casefolder.toml_file import read_toml

    path = folder / "pulls.toml"
    if not path.is_file():
        return Told()
    try:
        pulls, reader = read_pulls(read_toml(path, instead="Write a [[recording]], or delete it."))
        reader.finish()
    except InputError:
        return Told()
    setup = pulls.of(_name(folder, file))
    weather = None if setup is None else setup.weather
    barometer = None if weather is None or weather.barometer is None else float(weather.barometer.value)
    return Told(setup, barometer)


def _name(folder: Path, file: Path) -> str:
    """Path in the case folder; a file from elsewhere counts as the recording of its name."""
    for base, path in ((folder, file), (folder.resolve(), file.resolve())):
        if path.is_relative_to(base):
            return path.relative_to(base).as_posix()
    return f"recordings/{file.name}"


def _barometer(folder: Case, setup: RecordingSetup | None) -> float | None:
    for weather in (setup.weather if setup is not None else None, folder.car.weather):
        if weather is not None and weather.barometer is not None:
            return float(weather.barometer.value)
    weather = folder.car.weather
    if weather is not None and weather.altitude is not None:
        from boostproof.physics.atmosphere import standard_pressure

        return float(standard_pressure(weather.altitude.value))
    return None
