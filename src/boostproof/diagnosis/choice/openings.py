"""What is open, off or rigged on the car for a test, and what it spares when another test wants the same.

The usual minutes of a test begin and end with a car that is together. Whoever does two tests under one lift
makes and undoes that only once. All times are judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_OWN_WORK = 0.3  # share of a test's minutes that no opening spares


@dataclass(frozen=True)
class Opening:
    """One state of the car or the bay.

    Attributes
    ----------
    says : in words
    make, undo : minutes
    ends : it cannot stay while the car is driven
    """

    says: str
    make: float
    undo: float
    ends: bool = True


OPENINGS: dict[str, Opening] = {
    "lifted": Opening("car on the lift", 4.0, 2.0),
    "air": Opening("regulated air with gauge and relief valve at hand", 3.0, 1.0, ends=False),
    "actuator hose": Opening("hose off the actuator", 2.0, 1.0),
    "take-off hose": Opening("hose off the take-off", 2.0, 1.0),
    "rod": Opening("rod off the lever", 2.0, 2.0),
    "exhaust off": Opening("downpipe or dump pipe off", 10.0, 10.0),
    "inlet duct": Opening("inlet duct off the turbo", 4.0, 4.0),
    "plugs": Opening("coils and spark plugs out", 6.0, 6.0),
    "exhaust tap": Opening("line and gauge on the exhaust tap", 5.0, 3.0, ends=False),
    "scan tool": Opening("scan tool connected", 2.0, 1.0, ends=False),
    "strapped": Opening("car strapped down, warm, independent cut proved", 6.0, 2.0, ends=False),
    "controller out": Opening("boost controller out of the line", 4.0, 4.0, ends=False),
}

# What each test needs; a test that is not here shares nothing.
NEEDS: dict[str, tuple[str, ...]] = {
    "actuator-sweep": ("air", "actuator hose"),
    "controller-sweep": ("air", "take-off hose"),
    "line-sweep": ("air", "take-off hose"),
    "controller-vent": ("air", "take-off hose"),
    "bleed-decay": ("air", "take-off hose"),
    "hose-flow": ("air", "take-off hose", "actuator hose"),
    "solenoid-check": ("air",),
    "free-travel": ("lifted", "rod"),
    "seat-leak": ("lifted", "exhaust off"),
    "port-measure": ("lifted", "exhaust off"),
    "shaft-check": ("inlet duct",),
    "intake-pressurise": ("air", "inlet duct"),
    "sensor-check": ("scan tool",),
    "fault-memory-look": ("scan tool",),
    "compression": ("plugs",),
    "plugs-and-fuel": ("plugs",),
    "floor-pull": ("strapped",),
    "spring-only-pull": ("strapped", "controller out"),
    "line-pressure-log": ("strapped",),
    "turbine-pressure-log": ("strapped", "exhaust tap"),
    "exhaust-back-pressure": ("strapped", "exhaust tap"),
    "tip-in": ("strapped",),
    "re-apply": ("strapped",),
    "repeat-ramp": ("strapped",),
    "swap-known-good": ("strapped", "controller out"),
}


def shared(first: str, second: str) -> frozenset[str]:
    """Openings that two tests both need.

    >>> sorted(shared("seat-leak", "port-measure"))
    ['exhaust off', 'lifted']
    """
    return frozenset(NEEDS.get(first, ())) & frozenset(NEEDS.get(second, ()))


def spared(test: str, minutes: float, standing: frozenset[str]) -> float:
    """Minutes that what stands open spares a test: neither made nor undone once more.

    Parameters
    ----------
    test, minutes : id, and its usual time from a car that is together [min]
    standing : openings there are

    >>> spared("port-measure", 45.0, frozenset({"lifted"}))
    6.0
    """
    saved = sum(OPENINGS[o].make + OPENINGS[o].undo for o in NEEDS.get(test, ()) if o in standing)
    return min(saved, (1.0 - _OWN_WORK) * minutes)


def standing_after(tests: Sequence[str]) -> frozenset[str]:
    """What stands open after tests in the order in which they were done.

    A pull closes whatever a car cannot be driven with; anything else is left as it is.

    >>> sorted(standing_after(["free-travel", "actuator-sweep"]))
    ['actuator hose', 'air', 'lifted', 'rod']
    >>> sorted(standing_after(["free-travel", "tip-in"]))
    ['strapped']
    """
    out: frozenset[str] = frozenset()
    for test in tests:
        needs = frozenset(NEEDS.get(test, ()))
        if "strapped" in needs or test == "hot-repeat":
            out = frozenset(o for o in out if not OPENINGS[o].ends)
        elif "strapped" in out:
            out -= {"strapped"}  # where the car can be worked on it is not strapped for a pull
        out |= needs
    return out
