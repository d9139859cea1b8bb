"""The boost that the control unit asks for in a log, beside the boost that car.toml says is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.quantity import Quantity
from boostproof.units import find_unit, from_si

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.recording.model import Channel, Pull

_SEEN = 5.0e3  # Pa, below which a target and how it is spoken of may differ (judgement)
_RPM = 30.0 / np.pi


def about_target(car: CarSpec, pulls: Sequence[Pull]) -> tuple[Finding, ...]:
    """Where the target in a log is another than that of car.toml.

    Looked at in the upper half of the full-load pull in which they lie furthest apart: low down many control
    units ask for less, whatever is wanted further up.

    Parameters
    ----------
    car : its ``limits.target``, as one boost or in rows over engine speed
    pulls : of one recording; those at part load are passed over

    Returns
    -------
    tuple of Finding
        One of the kind target-differs, or none where either is not known.
    """
    wanted = car.limits.target
    apart = [
        (difference, place)
        for pull in pulls
        if pull.full_load
        for difference, place in _differences(pull, wanted)
    ]
    if not apart:
        return ()
    difference, place = max(apart, key=lambda one: abs(one[0]))
    if abs(difference) <= _allowed(wanted):
        return ()
    pull, here = place
    logged = pull.recording.channels["boost_target"]
    says = (
        f"The boost target in the log is {_as_written(logged, here)}, that of car.toml "
        f"{_wanted_there(wanted, _speed(pull)[here])}."
    )
    do = (
        "Either car.toml is not as meant, or the control unit asks for more than it should: look at its target table."
        if difference > 0.0
        else "Either car.toml is not as meant, or the control unit holds back: look at stored codes, heat, gear and fuel."
    )
    return (Finding("target-differs", f"{pull.recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s", says, do),)


Place = tuple["Pull", "NDArray[np.intp]"]


def _differences(pull: Pull, wanted: object) -> list[tuple[float, Place]]:
    """Logged less wanted target in the upper half of a pull [Pa], with its rows; empty where one is not known."""
    target = logged_boost(pull)
    if target is None:
        return []
    here = np.arange((pull.start + pull.stop) // 2, pull.stop)
    logged = target[here]
    told = wanted_boost(wanted, _speed(pull)[here], pull)
    if told is None:
        return []
    both = np.isfinite(logged) & np.isfinite(told)
    if not both.any():
        return []
    return [(float(np.median((logged - told)[both])), (pull, here[both]))]


def _speed(pull: Pull) -> NDArray[np.float64]:
    return np.asarray(pull.recording.channels["engine_speed"].values, float)


def logged_boost(pull: Pull) -> NDArray[np.float64] | None:
    """The target in a pull's recording over all of its rows, Pa gauge; None where its scale or its zero is not known."""
    channel = pull.recording.channels.get("boost_target")
    if channel is None or channel.reference is None or not channel.scale_known:
        return None
    return pull.recording.pressure_gauge("boost_target")


def wanted_boost(wanted: object, speed: NDArray[np.float64], pull: Pull) -> NDArray[np.float64] | None:
    """Boost wanted at engine speeds [rad/s], Pa gauge."""
    return wanted_at(wanted, speed, pull.recording.barometer.value)


def wanted_at(wanted: object, speed: NDArray[np.float64], around: float) -> NDArray[np.float64] | None:
    """The target of car.toml at engine speeds [rad/s] on a day with that pressure around, Pa gauge."""
    if isinstance(wanted, Quantity):
        return np.full(len(speed), gauge(wanted, around))
    rows = rows_of(wanted)
    if not rows:
        return None
    return np.interp(speed, [s for s, _ in rows], [gauge(boost, around) for _, boost in rows])


def rows_of(wanted: object) -> list[tuple[float, Quantity]]:
    """Engine speed [rad/s] and boost of the rows that hold for every gear."""
    if not isinstance(wanted, tuple):
        return []
    rows = [(r.rpm.value, r.boost) for r in wanted if r.rpm is not None and r.boost is not None and r.gear is None]
    return sorted(rows, key=lambda row: row[0])


def gauge(boost: Quantity, around: float) -> float:
    """A boost as written, on a day with that pressure around. [Pa gauge]"""
    return boost.value - around if boost.reference == "abs" else boost.value


def _allowed(wanted: object) -> float:
    """What they may lie apart: what is seen, and twice how sure the wanted target was written. [Pa]"""
    told = [wanted] if isinstance(wanted, Quantity) else [boost for _, boost in rows_of(wanted)]
    return max([_SEEN, *(2.0 * boost.sd for boost in told)])


def _as_written(channel: Channel, here: NDArray[np.intp]) -> str:
    """The level of a channel in the unit of the file."""
    unit = find_unit(channel.unit, "pressure")
    level = float(np.median(channel.values[here]))
    after = " abs" if channel.reference == "abs" else ""
    if unit is None:
        return f"{level / 1e3:.0f} kPa{after}"
    value = from_si(level, unit)
    return f"{value:.{0 if abs(value) >= 100.0 else 1 if abs(value) >= 10.0 else 2}f} {unit.name}{after}"


def _wanted_there(wanted: object, speed: NDArray[np.float64]) -> str:
    """The target of car.toml as written; of rows the one nearest in engine speed."""
    if isinstance(wanted, Quantity):
        return str(wanted)
    middle = float(np.median(speed))
    at, boost = min(rows_of(wanted), key=lambda row: abs(row[0] - middle))
    return f"{boost} at {at * _RPM:.0f} rpm"
