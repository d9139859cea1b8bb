"""The signature of a fault: simulated beside the sound car, and put into the letters of the trade.

Three drives show what a shop would look at: a slow ramp, a tip-in at held speed, and a second pull two seconds
after the first. Every letter is a stated rule on numbers; several may hold of one quantity, and "=" (boost:
"L") holds where no other does. Thresholds are what a shop's instruments show (judgement).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.catalogue.signature_drives import STEP, Traces
from boostproof.physics import layout, rigs, system
from boostproof.physics.exhaust_side import gate_openings

QUANTITIES = ("boost", "duty", "line", "travel", "exhaust ratio", "after turbine", "spool", "return")
"""What a letter speaks of, in the order of a signature's code."""

BOOST = 4.0e3  # Pa, difference of boost that is seen
RUNAWAY = 0.5  # of the level, above which boost runs away
SPIKE = 5.0e3  # Pa, overshoot above the sound car's
SHARE = 0.04  # of duty, and of line pressure over boost
OPENING = 0.08  # of the full opening
RATIO = 0.04  # of the exhaust over manifold pressure
BEHIND = 0.10  # of the gauge pressure after the turbine
SPEED = 100.0 * np.pi / 30.0  # rad/s, shift of the threshold
KNEE = 3.0  # times as steep as the plateau's first stretch: a knee, below that a gentle creep
STRETCH = 0.08  # of redline
LATE = 0.03  # s, at a tip-in
SECOND = 0.15  # s, second pull later than the first
SURGE = 0.945  # of the surge side's head: flow 0.35 of choke flow, within the 0.3 to 0.5 of usual surge lines
SWING = 6.0e3  # Pa between crest and trough of a wave that is seen
LOW, MIDDLE, TOP = (0.36, 0.44), (0.58, 0.68), (0.87, 0.95)  # windows of the ramp, shares of redline


def letters(traces: Traces, car: int) -> Mapping[str, frozenset[str]]:
    """The letters that hold of one car beside the sound one, by quantity.

    Parameters
    ----------
    traces : of `drive`
    car : column of the faulty car

    Returns
    -------
    letters by the names of `QUANTITIES`:
    boost L level as the sound car's, H high, Lo low, K knee creep, G gentle creep, R runaway, S spike,
    O oscillates, T taper, V the second pull differs from the first; duty, line, travel "+" higher, "-" lower,
    "late" at the tip-in, "O", "V"; duty "0" and "1" at an end, "n" no control unit, "none" it does nothing,
    "reversed"; line "0" none, "trapped" after the lift-off; travel "M" at the stop where the sound one is not yet,
    "0" shut, "leaks"; exhaust ratio and after turbine "+", "-", the ratio "O" too; spool "e" earlier, "l"
    later, "2" later on the second pull; return "f" faster, "s" slower, "n" never
    """
    v = _View(traces, car)
    found = {
        "boost": _boost(v), "duty": _duty(v), "line": _line(v), "travel": _travel(v),
        "exhaust ratio": _exhaust_ratio(v),
        "after turbine": _sides(v.both(v.after_turbine), BEHIND),
        "spool": _spool(v), "return": _return(v),
    }  # fmt: skip
    return {name: frozenset(found[name] or {"L" if name == "boost" else "="}) for name in QUANTITIES}


def _swings(v: _View, name: str, swing: float) -> bool:
    """A wave at the tip-in that the sound car does not make."""
    return _waves(v.of(name, v.t.tip, v.cars[1]), swing) and not _waves(v.of(name, v.t.tip, 0), swing)


def _differs(v: _View, name: str, step: float) -> bool:
    """The second pull differs from the first in a way that the sound car's does not."""
    ends = [[_mean_over(v.of(name, b, c), 0.6) for b in (v.t.first, v.t.second)] for c in v.cars]
    return abs((ends[1][1] - ends[1][0]) - (ends[0][1] - ends[0][0])) > step


class _View:
    """What the rules look at, of the sound car (0) and the faulty one (1)."""

    def __init__(self, traces: Traces, car: int) -> None:
        self.t, self.cars = traces, (0, car)
        self.boost = [self.of("boost", traces.ramp, c) for c in self.cars]
        self.level = self.window(self.boost[0], TOP)
        self.threshold = [self._threshold(b) for b in self.boost]

    def of(self, name: str, block: Array, car: int) -> Array:
        return np.asarray(block[:, system.OUTPUT_INDEX[name], car])

    def par(self, name: str, car: int) -> float:
        return float(self.t.par[layout.index_of(name), car])

    def window(self, values: Array, window: tuple[float, float]) -> float:
        inside = (self.t.speed >= window[0]) & (self.t.speed <= window[1])
        return float(values[inside].mean())

    def both(self, quantity: object) -> list[tuple[float, float]]:
        """Sound and faulty value in the middle and the top window."""
        assert callable(quantity)
        sound, faulty = (quantity(c) for c in self.cars)
        return [(self.window(sound, w), self.window(faulty, w)) for w in (MIDDLE, TOP)]

    def exhaust_ratio(self, car: int, block: Array | None = None) -> Array:
        """Pressure before the turbine over that in the manifold; on the ramp where None."""
        drive = self.t.ramp if block is None else block
        before = self.of("turbine_inlet_pressure", drive, car)
        return before / (self.of("boost", drive, car) + self.t.ambient)

    def after_turbine(self, car: int) -> Array:
        return self.of("turbine_outlet_pressure", self.t.ramp, car) - self.t.ambient

    def line_share(self, car: int) -> Array:
        """Pressure on the actuator over boost at the compressor."""
        supply = self.of("compressor_outlet_pressure", self.t.ramp, car) - self.t.ambient
        return self.of("line_pressure", self.t.ramp, car) / np.maximum(supply, 5e3)

    def opening(self, car: int, block: Array | None = None) -> Array:
        """Effective area of all gates, leaks too, over the sound car's full opening; on the ramp where None."""
        column = [np.asarray(x) for x in self.t.par[:, car]]
        travel = self.of("travel", self.t.ramp if block is None else block, car)
        openings: Any = gate_openings  # model text, which carries no types
        area = openings(travel, self.other_travel(car, travel), column)[0]
        whole = [np.asarray(x) for x in self.t.par[:, 0]]
        full = np.asarray(self.full_travel(0))
        return np.asarray(area / openings(full, full, whole)[0])

    def other_travel(self, car: int, travel: Array) -> Array:
        """Travel of a second gate that follows the first up to its own stop and opening pressure."""
        behind = self.par("other_opening", car) / self.par("spring_rate", car)
        return np.clip(travel - behind, 0.0, self.par("other_travel", car))

    def full_travel(self, car: int) -> float:
        return min(self.par("gate_travel", car), self.par("free_travel", car))

    def _threshold(self, boost: Array) -> float:
        """Engine speed at which boost first reaches 80 % of the sound level, above the end where it never does."""
        above = np.flatnonzero(boost >= 0.8 * self.window(self.boost[0], TOP))
        return float(self.t.speed[above[0]]) if len(above) else 1.2


def _sides(pairs: list[tuple[float, float]], share: float) -> set[str]:
    out = set()
    for sound, faulty in pairs:
        if faulty > sound + share * abs(sound):
            out.add("+")
        elif faulty < sound - share * abs(sound):
            out.add("-")
    return out


def _exhaust_ratio(v: _View) -> set[str]:
    out = _sides(v.both(v.exhaust_ratio), RATIO)
    sound, faulty = (v.exhaust_ratio(c, v.t.tip) for c in v.cars)
    if _waves(faulty, RATIO) and not _waves(sound, RATIO):
        out.add("O")
    return out


def _steps(pairs: list[tuple[float, float]], step: float) -> set[str]:
    return {"+" for s, f in pairs if f > s + step} | {"-" for s, f in pairs if f < s - step}


def _boost(v: _View) -> set[str]:
    sound, faulty = v.boost
    low, middle, top = (v.window(faulty - sound, w) for w in (LOW, MIDDLE, TOP))
    out: set[str] = set()
    if max(middle, top) > RUNAWAY * v.level:
        out.add("R")
    if middle > BOOST and abs(top - middle) < max(BOOST, 0.5 * middle):
        out.add("H")
    climbed = top - middle
    if climbed > BOOST and top > BOOST:
        first, steepest = _climb(v, faulty - sound)
        out.add("K" if steepest > KNEE * max(first, 0.0) else "G")
    if low < -BOOST or max(middle, top) < -BOOST:
        out.add("Lo")
    if top < -BOOST and top < _best(v, faulty - sound) - BOOST:
        out.add("T")
    if _overshoot(v, 1) > _overshoot(v, 0) + SPIKE:
        out.add("S")
    if _swings(v, "boost", SWING) or _surging(v):
        out.add("O")
    if _differs(v, "boost", BOOST):
        out.add("V")
    if max(abs(middle), abs(top)) < BOOST:
        out.add("L")
    return out


def _climb(v: _View, difference: Array) -> tuple[float, float]:
    """How much a difference of boost climbs over the first stretch of the plateau, and over its steepest one. [Pa]"""
    start = np.arange(min(v.threshold[0], MIDDLE[0]) + 0.06, TOP[1] - STRETCH, 0.01)
    climbs = np.interp(start + STRETCH, v.t.speed, difference) - np.interp(start, v.t.speed, difference)
    return float(climbs[0]), float(climbs.max())


def _best(v: _View, difference: Array) -> float:
    """Highest difference of boost on the plateau. [Pa]"""
    plateau = (v.t.speed >= min(v.threshold[0], MIDDLE[0]) + 0.06) & (v.t.speed <= TOP[1])
    return float(difference[plateau].max())


def _overshoot(v: _View, which: int) -> float:
    boost = v.of("boost", v.t.tip, v.cars[which])
    return float(boost.max() - boost[-30:].mean())


def _mean_over(values: Array, share: float) -> float:
    """Mean over the last part of a pull."""
    return float(values[int(len(values) * (1.0 - share)) :].mean())


def _waves(values: Array, swing: float) -> bool:
    """At least three half waves of that swing after the first second of a tip-in."""
    count, rising, turn = 0, True, float(values[100])
    for x in values[100:].tolist():
        ahead = x - turn if rising else turn - x
        if ahead > 0.0:
            turn = x
        elif ahead < -swing:
            count, rising, turn = count + 1, not rising, x
    return count >= 3


def _surging(v: _View) -> bool:
    """Left of the surge line in the low or middle window while the sound car is not."""
    worst = []
    for c in v.cars:
        share = v.of("surge_share", v.t.ramp, c)
        full = v.boost[0 if c == 0 else 1] > 0.5 * v.level
        worst.append(float(share[full].max()) if full.any() else 0.0)
    return worst[1] > max(SURGE, worst[0] + 0.01)


def _duty(v: _View) -> set[str]:
    car = v.cars[1]
    if v.par("solenoid", 0) == 0.0:
        return {"n"}
    out = _steps(v.both(lambda c: v.of("duty", v.t.ramp, c)), SHARE)
    duty = v.of("duty", v.t.ramp, car)
    if min(v.window(duty, MIDDLE), v.window(duty, TOP)) < 0.02:
        out.add("0")
    if max(v.window(duty, MIDDLE), v.window(duty, TOP)) > v.par("duty_limit", car) - 0.02:
        out.add("1")
    effect = [_duty_effect(v, c) for c in v.cars]
    if effect[1] * effect[0] < 0.0 and abs(effect[1]) > 0.1 * abs(effect[0]):
        out.add("reversed")
    elif abs(effect[1]) < 0.2 * abs(effect[0]):
        out.add("none")
    if _half(v.of("duty", v.t.tip, car), falling=True) > _half(v.of("duty", v.t.tip, 0), falling=True) + LATE:
        out.add("late")
    if _swings(v, "duty", 0.08):
        out.add("O")
    if _differs(v, "duty", SHARE):
        out.add("V")
    return out


def _duty_effect(v: _View, car: int) -> float:
    """Chamber pressure lost from a third to two thirds of duty at a steady supply. [Pa]"""
    par = v.t.par[:, car : car + 1]
    return float((rigs.chamber_at(par, 1e5, duty=0.33) - rigs.chamber_at(par, 1e5, duty=0.66))[0])


def _half(values: Array, *, falling: bool = False) -> float:
    """Time at which a trace is half way from its start (falling: from its peak) to its end. [s]"""
    start, end = (values.max() if falling else values[0]), float(values[-30:].mean())
    if abs(end - start) < 1e-9 + 0.02 * abs(start):
        return 0.0
    begin = int(values.argmax()) if falling else 0
    gone = (values[begin:] - start) / (end - start)
    past = np.flatnonzero(gone >= 0.5)
    return STEP * (begin + float(past[0])) if len(past) else STEP * len(values)


def _behind_boost(v: _View, name: str, car: int) -> float:
    """How long after boost a quantity gets half way at the tip-in. [s]"""
    return _half(v.of(name, v.t.tip, car)) - _half(v.of("boost", v.t.tip, car))


def _line(v: _View) -> set[str]:
    car = v.cars[1]
    pairs = v.both(v.line_share)
    out = _steps(pairs, SHARE)
    if max(f for _, f in pairs) < 0.1:
        out.add("0")
    if _behind_boost(v, "line_pressure", car) > _behind_boost(v, "line_pressure", 0) + LATE:
        out.add("late")
    left = [float(v.of("line_pressure", v.t.lift, c)[-1] / max(v.of("line_pressure", v.t.first, c)[-1], 1e3)) for c in v.cars]
    if left[1] > left[0] + 0.15:
        out.add("trapped")
    if _swings(v, "line_pressure", SWING):
        out.add("O")
    if _differs(v, "line_pressure", BOOST):
        out.add("V")
    return out


def _travel(v: _View) -> set[str]:
    car = v.cars[1]
    pairs = v.both(v.opening)
    out = _steps(pairs, OPENING)
    if _stop(v, car) < _stop(v, 0) - SPEED / v.par("redline", 0):
        out.add("M")
    if max(f for _, f in pairs) < 0.05:
        out.add("0")
    if v.window(v.opening(car), LOW) > v.window(v.opening(0), LOW) + 0.03:
        out.add("leaks")
    if _behind_boost(v, "travel", car) > _behind_boost(v, "travel", 0) + LATE:
        out.add("late")
    if _swings(v, "travel", 0.1 * v.full_travel(0)):
        out.add("O")
    if _differs(v, "travel", OPENING * v.full_travel(0)):
        out.add("V")
    return out


def _stop(v: _View, car: int) -> float:
    """Share of redline from which on the gate stands at its stop, or as wide as the sound one can; beyond it: never."""
    wide = (v.of("travel", v.t.ramp, car) > 0.97 * v.full_travel(car)) | (v.opening(car) > 0.97)
    shut = np.flatnonzero(~wide)
    last = int(shut[-1]) + 1 if len(shut) else 0
    return float(v.t.speed[last]) if last < len(wide) else 1.2


def _spool(v: _View) -> set[str]:
    redline = v.par("redline", 0)
    shift = (v.threshold[1] - v.threshold[0]) * redline
    out = {"l"} if shift > SPEED else {"e"} if shift < -SPEED else set()
    late = []
    for c in v.cars:
        level = 0.8 * _mean_over(v.of("boost", v.t.first, 0), 0.4)
        times = [np.flatnonzero(v.of("boost", b, c) >= level) for b in (v.t.first, v.t.second)]
        late.append(STEP * float((times[1][0] if len(times[1]) else 500) - (times[0][0] if len(times[0]) else 500)))
    if late[1] > late[0] + SECOND:
        out.add("2")
    return out


def _return(v: _View) -> set[str]:
    """How fast pressure on the diaphragm, and the gate, come home after the lift-off."""
    out: set[str] = set()
    pressure, gate = ([_home(v, quantity, c) for c in v.cars] for quantity in (_pressure, _opening))
    for sound, faulty in (pressure, gate):
        if not np.isfinite(faulty) and np.isfinite(sound):
            out.add("n")
        elif faulty > 1.4 * sound + 0.03:
            out.add("s")
    if pressure[1] < 0.7 * pressure[0] - 0.02:
        out.add("f")
    return out


def _pressure(v: _View, block: Array, car: int) -> Array:
    return v.of("line_pressure", block, car)


def _opening(v: _View, block: Array, car: int) -> Array:
    return v.opening(car, block)


def _home(v: _View, quantity: Callable[[_View, Array, int], Array], car: int) -> float:
    """Time from the lift-off until a quantity is at a fifth of the most that it was, infinite where it never is. [s]"""
    values = quantity(v, v.t.lift, car)
    most = float(max(values.max(), quantity(v, v.t.first, car)[-1]))
    if most < (5e3 if quantity is _pressure else 0.02):
        return 0.0
    above = np.flatnonzero(values >= 0.2 * most)
    after = int(above[-1]) + 1 if len(above) else 0
    return STEP * after if after < len(values) else np.inf
