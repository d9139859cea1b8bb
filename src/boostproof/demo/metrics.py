"""What a true pull looks like, in the practice cases' own terms (the generator's definitions)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import loop

Array = NDArray[np.float64]
PSI = 6894.757


@dataclass(frozen=True)
class Plateau:
    """Level (Pa gauge) of a pull, and how it got there.

    ``rise`` is the end minus the first fifth of the plateau; ``spike`` what stood above the level in
    the first 0.9 s. ``reached`` is whether boost came to 80 % of the target at all.
    """

    level: float
    rise: float
    spike: float
    rpm80: float
    reached: bool


def plateau(table: Array, ambient: float, target: float) -> Plateau:
    """Measure one full-load pull; a pull that never reaches 80 % of target has its top as level."""
    boost = table[:, loop.P_MANIFOLD] - ambient
    high = np.flatnonzero(boost >= 0.8 * target)
    if len(high) == 0:
        return Plateau(float(boost.max()), 0.0, 0.0, float(table[-1, loop.RPM]), False)
    first = high[0]
    time = table[:, loop.TIME]
    late = boost[time > time[first] + 0.9]
    if len(late) < 5:
        return Plateau(float(boost.max()), 0.0, 0.0, float(table[first, loop.RPM]), False)
    level = float(np.median(late))
    early = float(np.median(late[: max(len(late) // 5, 1)]))
    end = float(late[-max(len(late) // 40, 1) :].mean())
    near = boost[(time >= time[first]) & (time <= time[first] + 0.9)]
    return Plateau(level, end - early, float(near.max()) - level, float(table[first, loop.RPM]), True)


def true_metrics(table: Array, ambient: float, target: float) -> dict[str, float]:
    """The ``[true_metrics]`` of truth.toml for one pull: psi gauge, rpm, s, C, mm."""
    boost = (table[:, loop.P_MANIFOLD] - ambient) / PSI
    rpm, time = table[:, loop.RPM], table[:, loop.TIME] - table[0, loop.TIME]
    top = int(np.argmax(boost))
    tail = max(len(boost) // 40, 1)
    found = {
        "rpm_end": rpm[-1],
        "peak": boost[top],
        "rpm_peak": rpm[top],
        "end": boost[-tail:].mean(),
        "x_max_mm": table[:, loop.GATE_TRAVEL].max() * 1e3,
    }
    high = np.flatnonzero(boost * PSI >= 0.8 * target)
    if len(high):
        first = high[0]
        found["rpm80"], found["t80"] = rpm[first], time[first]
        late = boost[time > time[first] + 0.9]
        near = boost[(time >= time[first]) & (time <= time[first] + 0.9)]
        if len(late) >= 5:
            median = float(np.median(late))
            found |= {
                "plat_med": median,
                "plat_min": late.min(),
                "plat_max": late.max(),
                "rise": found["end"] - float(np.median(late[: max(len(late) // 5, 1)])),
                "spike": near.max() - median,
            }
        width = max(3, int(0.15 / max(time[1] - time[0], 1e-3)) | 1)
        smooth = np.convolve(boost, np.ones(width) / width, "same")
        rate = np.gradient(smooth, time)
        usable = slice(first, len(boost) - width)
        fastest = rate[width : first + 1].max(initial=1e-9)
        slow = np.flatnonzero(rate[usable] < 0.3 * fastest)
        if len(slow):
            knee = first + int(slow[0])
            found["knee_rpm"], found["knee_psi"] = rpm[knee], boost[knee]
            found["creep"] = boost[knee:].max() - boost[knee]
            found["dp34_knee"] = table[knee, loop.P_EXHAUST] - table[knee, loop.P_BACK]
    fast = rpm > 0.86 * rpm.max()
    if fast.any():
        part = table[fast]
        found |= {
            "pr_back": float(np.median(part[:, loop.P_EXHAUST] / part[:, loop.P_MANIFOLD])),
            "p4_psi": float(np.median(part[:, loop.P_BACK]) - ambient) / PSI,
            "p1_minus_p2": float(np.median(part[:, loop.P_COMPRESSOR] - part[:, loop.P_MANIFOLD])) / PSI,
            "egt": float(np.median(part[:, loop.T_EXHAUST])) - 273.15,
            "shaft_krpm": float(np.median(part[:, loop.SHAFT_SPEED])) * 1e-3,
        }
    return {k: round(float(v), 3) for k, v in found.items()}
