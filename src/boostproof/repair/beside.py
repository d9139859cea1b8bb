"""What can always be done instead of parts: leave it, turn it less, ask for more, send it on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.choice.repair_order import SPECIALIST
from boostproof.repair.bands import Curves, quantiles
from boostproof.repair.limits import Told

_UP = 0.8  # of the target, from which on the turbo has come up
_ROUND = 50.0 * np.pi / 30.0  # rad/s, in which a redline is given


@dataclass(frozen=True)
class Instead:
    """One thing to do instead.

    Attributes
    ----------
    id, title : "leave", "less-redline", "raise-target", "specialist"
    says : what it comes to, quantities as placeholders (`bench.procedures.fill`)
    hides : what it does not mend
    speed : engine speed not to be passed [rad/s], of "less-redline"
    boost : level [Pa gauge], of "leave" the middle of the peak and of "raise-target" what would be asked for
    chance : of "leave", that boost stays within the tolerance; of "raise-target", that it passes the stop boost
    minutes : of "specialist"
    """

    id: str
    title: str
    says: str
    hides: str
    speed: float | None = None
    boost: float | None = None
    chance: float | None = None
    minutes: float | None = None


def instead(
    now: Curves, speeds: Array, target: float, tolerance: float, confidence: float, told: Told
) -> tuple[Instead, ...]:
    """Everything that can be done without parts, as the car stands.

    Parameters
    ----------
    now : curves as found
    speeds : of their slots [rad/s]
    target, tolerance : boost wanted, and by how much it may be passed [Pa]
    confidence : wanted, 0 to 1
    told : limits
    """
    within = now.chance(now.peak < target + tolerance)
    middle = now.peak_at(0.5)
    stopped = now.chance(now.peak > told.stop[0])
    out = [Instead(
        "leave", "Leave as is",
        f"Boost then peaks near {_kpa(middle)}. Chance that it stays within {_kpa(tolerance)} of the target: "
        f"{_percent(within)}; that it passes {_kpa(told.stop[0])}: {_percent(stopped)}.",
        "Nothing is mended, and what grows goes on growing.", boost=middle, chance=within,
    )]  # fmt: skip
    speed = highest_speed(now, speeds, target + tolerance, confidence)
    if speed is not None and np.interp(speed, speeds, quantiles(now.boost, now.weight, (0.5,))[0]) < _UP * target:
        speed = None
    if speed is None:
        says = "No redline helps: boost passes the target as soon as the turbo comes up. Only part load keeps it down."
    elif speed >= speeds[-1] - 1.0:
        says = "Not needed: boost does not pass the target by more than was allowed."
    else:
        says = f"Up to {speed * 30.0 / np.pi:,.0f} rpm boost stays within the tolerance; above it, less than full load."
    out.append(Instead(
        "less-redline", "Less redline or less load", says,
        "The fault stays: cold air, a freer exhaust or a longer pull bring it below that speed.", speed=speed,
    ))  # fmt: skip
    out.append(_raised(now, told))
    out.append(Instead(
        "specialist", "Send to a specialist", "Where the cause stays open, or the gate has to be rebuilt.",
        "", minutes=SPECIALIST,
    ))  # fmt: skip
    return tuple(out)


def highest_speed(curves: Curves, speeds: Array, level: float, confidence: float) -> float | None:
    """Highest engine speed up to which boost stays below a level with a confidence; None where none does. [rad/s]"""
    running = np.maximum.accumulate(curves.boost, axis=0)
    chances = np.array([curves.chance(row < level) for row in running])
    if chances[0] < confidence:
        return None
    last = int(np.flatnonzero(chances >= confidence)[-1])
    if last == len(speeds) - 1:
        return float(speeds[-1])
    return float(np.floor(speeds[last] / _ROUND) * _ROUND)


def _raised(now: Curves, told: Told) -> Instead:
    level = now.peak_at(0.95)
    over = level > told.stop[0]
    says = f"To call the boost it makes the boost that is wanted, the target would be {_kpa(level)}" + (
        f", which is above the boost never to be passed ({_kpa(told.stop[0])}): not for this engine." if over else "."
    )
    return Instead(
        "raise-target", "Raise the target", says,
        "It hides the fault, it does not mend it: a lower target needs a larger gate, so creep vanishes from sight while "
        "the gate stays too small; fuel, knock margin and exhaust temperature are spent on it.",
        boost=level, chance=now.chance(now.peak > told.stop[0]),
    )  # fmt: skip


def _kpa(pascal: float) -> str:
    return f"{{{pascal / 1e3:.0f} kPa}}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
