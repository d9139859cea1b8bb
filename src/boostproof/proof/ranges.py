"""Ranges of engine speed: where boost builds, where it must be held, and the stretches that it is looked at in."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from boostproof.proof.model import SIDES, RangeName, Side, Target
from boostproof.recording.model import FloatArray

_STRETCH = 500.0  # rpm, the least that a technician would speak of; as for a plateau
_FULL = 0.9  # share of its highest boost at which a curve that never reaches the target is taken to have come up
_AFTER_REACHING = 100.0  # rpm left for the knee to round off


@dataclass(frozen=True)
class Part:
    """Points ``first`` to ``last`` (exclusive) of the grid; ``stretches`` are its pieces of about 500 rpm."""

    name: RangeName
    first: int
    last: int
    stretches: tuple[tuple[int, int], ...]

    @property
    def held(self) -> bool:
        """Whether the target must be held here."""
        return self.name != "spool"


def parts_of(
    rpm: FloatArray, before: FloatArray, after: FloatArray, target: Target | None
) -> tuple[tuple[Part, ...], float]:
    """The ranges of a comparison, and the engine speed from which the target must be held.

    Parameters
    ----------
    rpm, before, after : grid and mean curves, shape (n,) [rpm, kPa gauge]
    target : None where it is not known

    Returns
    -------
    tuple of Part, and rpm
        Spool: up to where the first of the two curves is up. Plateau and top end: from where the curve after is
        up, or from where somebody said that the target is wanted, to the end; the last third is the top end, where
        there is room for both.
    """
    came_up = [_came_up(rpm, curve, target, side) for curve, side in zip((before, after), SIDES, strict=True)]
    told = target.from_rpm if target is not None else None
    start = came_up[1] + _AFTER_REACHING if told is None else told
    start = min(start, float(rpm[-1]) - _STRETCH)
    first = int(np.searchsorted(rpm, start - 1e-6))
    builds = int(np.searchsorted(rpm, min(min(came_up), start) + 1e-6))
    parts = []
    if builds >= 4:  # 150 rpm and more
        parts.append(_part("spool", rpm, 0, builds))
    length = float(rpm[-1] - rpm[first])
    if length < 2.0 * _STRETCH:
        parts.append(_part("top end", rpm, first, len(rpm)))
    else:
        top = min(float(rpm[-1]) - _STRETCH, float(rpm[-1]) - length / 3.0)
        middle = int(np.searchsorted(rpm, top - 1e-6))
        parts += [_part("plateau", rpm, first, middle), _part("top end", rpm, middle, len(rpm))]
    return tuple(parts), float(rpm[first])


def _came_up(rpm: FloatArray, curve: FloatArray, target: Target | None, side: Side) -> float:
    """First engine speed at which a curve reaches the target's tolerance, or nine tenths of its own highest."""
    level = np.full(len(rpm), _FULL * float(curve.max()))
    if target is not None:
        level = np.minimum(level, target.wanted(rpm, side) - target.tolerance)
    reached = np.flatnonzero(curve >= level)
    return float(rpm[reached[0]]) if reached.size else float(rpm[-1])


def _part(name: RangeName, rpm: FloatArray, first: int, last: int) -> Part:
    count = max(1, round(float(rpm[last - 1] - rpm[first]) / _STRETCH))
    edges = np.linspace(first, last, count + 1).round().astype(int).tolist()
    return Part(name, first, last, tuple(itertools.pairwise(edges)))
