"""What a log file says, in one shape: channels over time in SI, pulls, metrics.

Plain values only: nothing here reads a file or decides anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding

FloatArray = NDArray[np.float64]
Reference = Literal["gauge", "abs"]
Ended = Literal["ceiling", "lifted", "end of file", "unknown"]

# ISO 2533 sea level: what many loggers subtract instead of the barometer of the day.
STANDARD_ATMOSPHERE = 101_325.0


@dataclass(frozen=True)
class Samples:
    """A channel on a time base of its own: when each sample was taken, and what it was.

    Attributes
    ----------
    time : float64, shape (n,), rising, in seconds of the recording's clock
    values : float64, shape (n,), without NaN
    """

    time: FloatArray = field(repr=False)
    values: FloatArray = field(repr=False)

    def scaled(self, factor: float, offset: float = 0.0) -> Samples:
        """The same samples in another unit: ``values * factor + offset``."""
        return Samples(self.time, self.values * factor + offset)


@dataclass(frozen=True)
class Column:
    """One column of a table as it stands in the file, before anybody knows what it means.

    Attributes
    ----------
    header : the header as written (a repeated header carries a running number)
    unit : text of the units row, or of the cells themselves ("12.3 psi"); empty when there is none
    values : float64, shape (rows,), NaN where a cell holds no number
    lost_cells : cells that hold no number
    clock : the cells were times of day; values are seconds
    samples : the column as it was sampled, where that is not once a row; ``values`` is then the same
        brought to the rows
    """

    header: str
    unit: str
    values: FloatArray = field(repr=False)
    lost_cells: int = 0
    clock: bool = False
    samples: Samples | None = None


@dataclass(frozen=True)
class Table:
    """What a reader hands on: columns of equal length, the format it was, and what was noticed."""

    file: str
    kind: str
    rows: int
    columns: tuple[Column, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class ColumnChoice:
    """A column named by a person: in ``[recording.channels]`` of pulls.toml, or in an answer.

    Attributes
    ----------
    column : its header
    unit, reference : where the file does not say them
    why : where it was named
    """

    column: str
    unit: str | None = None
    reference: Reference | None = None
    why: str = field(default="named in pulls.toml", compare=False)


@dataclass(frozen=True)
class OtherReading:
    """Another way to read a pressure: its unit and reference, and how likely it is (0 to 1)."""

    unit: str
    reference: Reference
    share: float


@dataclass(frozen=True)
class Option:
    """One answer to a question: in words, and as a column named for a channel."""

    label: str
    channel: str
    choice: ColumnChoice

    def as_json(self) -> dict[str, Any]:
        """The option object of ``inspect --json``."""
        choice = self.choice
        return {
            "label": self.label,
            "channel": self.channel,
            "column": choice.column,
            "unit": choice.unit,
            "reference": choice.reference,
        }


@dataclass(frozen=True)
class Question:
    """What a person is asked about a recording's columns.

    Attributes
    ----------
    about : channel or column
    asks : one plain sentence
    options : possible answers, the likeliest first
    guess : number of the option that was taken without an answer, None where none was
    """

    about: str
    asks: str
    options: tuple[Option, ...]
    guess: int | None

    def as_json(self) -> dict[str, Any]:
        """The question object of ``inspect --json``."""
        return {
            "about": self.about,
            "asks": self.asks,
            "options": [option.as_json() for option in self.options],
            "guess": self.guess,
        }


@dataclass(frozen=True)
class Channel:
    """One recognised channel.

    Attributes
    ----------
    name : our channel name (formats.md)
    column : header in the file
    unit : unit of the file's numbers, as we write it ("psi"); empty for plain numbers
    reference : gauge or abs for pressures, else None
    sure : certainty of the column match, 0 to 1
    why : one sentence
    lost_cells : cells that hold no number
    values : float64, shape (rows,), SI (Pa, K, rad/s, kg/s, s; shares 0 to 1), NaN for lost cells
    samples : the channel on its own time base (SI), where it was not sampled once a row
    said_unit : unit that the file names where the numbers contradict it, else empty
    others : other ways to read a pressure that are not ruled out
    scale_known : False for numbers without a unit that are a pressure in none
    """

    name: str
    column: str
    unit: str
    reference: Reference | None
    sure: float
    why: str
    lost_cells: int
    values: FloatArray = field(repr=False)
    samples: Samples | None = None
    said_unit: str = ""
    others: tuple[OtherReading, ...] = ()
    scale_known: bool = True

    def as_json(self) -> dict[str, Any]:
        """The channel object of ``inspect --json``."""
        return {
            "name": self.name,
            "column": self.column,
            "unit": self.unit,
            "reference": self.reference,
            "sure": round(self.sure, 3),
            "why": self.why,
            "lost_cells": self.lost_cells,
        }


@dataclass(frozen=True)
class KeyOn:
    """A pressure channel with the engine stopped: mean and sd in Pa in the channel's own reference."""

    channel: str
    reference: Reference
    mean: float
    sd: float
    count: int


@dataclass(frozen=True)
class Barometer:
    """Pressure of the air around: Pa absolute, its sd, and where it comes from."""

    value: float
    sd: float
    source: Literal["logged", "given", "key-on", "altitude", "standard atmosphere"]


@dataclass(frozen=True)
class Recording:
    """Channels over time from one file.

    Attributes
    ----------
    file : file name, for people
    kind : format ("csv")
    rows : number of rows read
    rate_hz : samples per second (median), None where the file has no time
    time : float64, shape (rows,), seconds, rising
    channels : by our names
    findings : what was noticed on the way
    barometer : pressure of the air around during the recording
    key_on : manifold sensor with the engine stopped, None where there are no such samples
    key_on_all : the same for every pressure channel
    time_known : False where the file has no time column and ``time`` only counts rows
    questions : what a person should be asked about the columns
    """

    file: str
    kind: str
    rows: int
    rate_hz: float | None
    time: FloatArray = field(repr=False)
    channels: Mapping[str, Channel] = field(repr=False)
    findings: tuple[Finding, ...] = ()
    barometer: Barometer = Barometer(STANDARD_ATMOSPHERE, 2.5e3, "standard atmosphere")
    key_on: KeyOn | None = None
    key_on_all: Mapping[str, KeyOn] = field(default_factory=dict)
    time_known: bool = True
    questions: tuple[Question, ...] = ()

    def values(self, name: str) -> FloatArray | None:
        """SI values of a channel, None where the file does not hold it."""
        channel = self.channels.get(name)
        return None if channel is None else channel.values

    def pressure_gauge(self, name: str) -> FloatArray:
        """A pressure channel in Pa gauge, whatever its own reference.

        Raises
        ------
        InputError
            If the file does not hold the channel.
        """
        channel = self._pressure(name)
        return channel.values if channel.reference == "gauge" else channel.values - self._around()

    def pressure_abs(self, name: str) -> FloatArray:
        """A pressure channel in Pa absolute, whatever its own reference (errors as `pressure_gauge`)."""
        channel = self._pressure(name)
        return channel.values if channel.reference == "abs" else channel.values + self._around()

    def boost_gauge(self) -> FloatArray:
        """Boost at the manifold in Pa gauge, from whichever manifold channel the file holds.

        The sensor's numbers as they are: an offset that shows with the engine stopped stays in,
        because it may be the fault that is looked for.

        Raises
        ------
        InputError
            If the file holds neither boost nor manifold pressure.
        """
        return self.pressure_gauge(self.manifold_channel().name)

    def manifold_channel(self) -> Channel:
        """The channel that `boost_gauge` reads (errors as there)."""
        found = [self.channels[name] for name in ("boost", "manifold_pressure") if name in self.channels]
        if not found:
            raise InputError(
                "The file holds no boost and no manifold pressure.",
                kind="no-boost",
                where=self.file,
                do='Name its column in pulls.toml, such as boost = {column = "Pressure 2", unit = "psi"}.',
            )
        return min(found, key=lambda channel: 2 * channel.lost_cells > self.rows)

    def _pressure(self, name: str) -> Channel:
        channel = self.channels.get(name)
        if channel is None or channel.reference is None:
            raise InputError(
                f"The file holds no pressure channel {name}.",
                kind="no-channel",
                where=self.file,
                do=f'Name its column in pulls.toml: [recording.channels] {name} = {{column = "..."}}.',
            )
        return channel

    def _around(self) -> FloatArray | float:
        """Pa absolute of the air around, sample by sample where it was logged."""
        logged = self.channels.get("barometer")
        if logged is None:
            return self.barometer.value
        return np.where(np.isfinite(logged.values), logged.values, self.barometer.value)


@dataclass(frozen=True)
class Metric:
    """A measured value with its standard deviation, in the unit of the metric's name."""

    value: float
    sd: float

    def as_json(self) -> dict[str, float]:
        """The metric object of every JSON answer."""
        return {"value": self.value, "sd": self.sd}


@dataclass(frozen=True)
class Pull:
    """One run with rising engine speed at steady throttle: rows ``start`` to ``stop`` (exclusive).

    Attributes
    ----------
    from_s, to_s : seconds in the recording's time
    rpm_from, rpm_to : engine speed at its ends, rpm
    full_load : True for a run at full load; False for a sweep at part throttle
    ended : what ended it (formats.md)
    metrics : by name (formats.md), None where this pull cannot show it
    """

    recording: Recording = field(repr=False)
    start: int
    stop: int
    from_s: float
    to_s: float
    rpm_from: float
    rpm_to: float
    full_load: bool
    ended: Ended
    metrics: Mapping[str, Metric | None]

    def as_json(self) -> dict[str, Any]:
        """The pull object of every JSON answer."""
        return {
            "recording": self.recording.file,
            "from_s": self.from_s,
            "to_s": self.to_s,
            "rpm_from": self.rpm_from,
            "rpm_to": self.rpm_to,
            "full_load": self.full_load,
            "ended": self.ended,
            "metrics": {name: None if m is None else m.as_json() for name, m in self.metrics.items()},
        }
