"""Watching a pull live: go on, or lift now so that the limit is not passed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from boostproof.bench.response import Array
from boostproof.pullplan.rungs import Rung
from boostproof.pullplan.terms import Terms

_RECENT = 0.3  # s over which boost's own rise is taken
_SILENT = 0.4  # s without a reading after which nobody knows what boost does
_MATTERS = 0.4  # of the hard limit: below it boost may do what it likes, it is only spooling

Why = Literal["", "stop boost", "rising too fast", "more than expected", "ceiling", "no reading"]


@dataclass(frozen=True)
class Call:
    """What to do now.

    Attributes
    ----------
    go : False to lift at once
    why : empty while it goes on
    ahead : boost by the time that a lift called now has taken hold, at the fastest it may rise [Pa gauge]
    """

    go: bool
    why: Why
    ahead: float


def watch(rung: Rung, terms: Terms, time: Array, speed: Array, boost: Array, now: float | None = None) -> Call:
    """Judge a pull by its samples so far.

    Lift where boost has reached the rung's stop boost; where, rising on as it does, it would pass the hard limit
    before a lift takes hold; where it is well above what any candidate makes at this engine speed; at the ceiling;
    and where the readings stop.

    Parameters
    ----------
    rung : the pull that is driven
    terms : of the ladder
    time : of the samples, rising [s], (n,)
    speed : engine speed [rad/s], (n,)
    boost : as read [Pa gauge], (n,); NaN where a reading is missing
    now : of the same clock [s]; the last sample's time if left out
    """
    good = np.isfinite(boost) & np.isfinite(speed)
    clock = float(time[-1]) if now is None and len(time) else now
    if clock is None or not good.any() or clock - float(time[good][-1]) > _SILENT:
        return Call(not len(time), "no reading" if len(time) else "", 0.0)
    at, level, when = float(speed[good][-1]), float(boost[good][-1]), float(time[good][-1])
    rate = max(_rise(time[good], boost[good]), 0.0)
    ahead = level + rate * (terms.reaction + clock - when)
    if at >= rung.ceiling:
        return Call(False, "ceiling", ahead)
    if level >= rung.stop:
        return Call(False, "stop boost", ahead)
    if level > _MATTERS * terms.hard:
        if ahead + terms.gauge_error >= terms.hard:
            return Call(False, "rising too fast", ahead)
        if level > float(np.interp(at, rung.speed, rung.most)):
            return Call(False, "more than expected", ahead)
    return Call(True, "", ahead)


def _rise(time: Array, boost: Array) -> float:
    """How fast boost rises over the last moments. [Pa/s]"""
    recent = time >= time[-1] - _RECENT
    if np.count_nonzero(recent) < 2:
        return 0.0
    t = time[recent] - time[-1]
    spread = t - t.mean()
    return float(spread @ boost[recent] / (spread @ spread))
