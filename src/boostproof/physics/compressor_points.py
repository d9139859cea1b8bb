"""Many operating points on a compressor's table at once: where each lies, inside or on which side outside.

The same interpolation as `boostproof.physics.compressor_table.operating_point`, worked out for all points
together, so that a whole pull with its doubts is placed in a few hundredths of a second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics.compressor_table import CompressorTable, choke_flow_of_lines, surge_line

Floats = NDArray[np.float64]

#: Where a point lies; what is not INSIDE is not on the table.
INSIDE, BELOW, SURGE, CHOKE, ABOVE = range(5)
SIDES = (
    "inside",
    "below the slowest speed line",
    "left of the surge line",
    "beyond the choke ends of the speed lines",
    "above the fastest speed line",
)
_SPEEDS = 401  # speeds at which a point's line is looked for before it is narrowed down
_HALVINGS = 30
_ROUNDING = 1e-9


@dataclass(frozen=True)
class OperatingPoints:
    """Points on a table; NaN where one lies outside. Arrays of the shape of the points.

    Attributes
    ----------
    side : INSIDE, or on which side of the table
    corrected_speed : [rad/s]
    efficiency, surge_margin, choke_margin : as `boostproof.physics.compressor_table.OperatingPoint` [1]
    """

    side: NDArray[np.intp]
    corrected_speed: Floats
    efficiency: Floats
    surge_margin: Floats
    choke_margin: Floats


def operating_points(table: CompressorTable, pressure_ratio: ArrayLike, flow: ArrayLike) -> OperatingPoints:
    """Speed, efficiency and margins of many points; one outside is told by its side, not refused.

    Parameters
    ----------
    table : the compressor
    pressure_ratio : outlet over inlet total pressure, shape (n,) [1]
    flow : corrected flow in the reference of the table, shape (n,) [kg/s]

    Raises
    ------
    InputRangeError
        If the two differ in shape or hold a value that is not finite.

    Notes
    -----
    Nothing is extrapolated. A point of less flow than the slowest line has, and less pressure than its surge
    point, counts as below the table, not as left of the surge line: the table does not say how that goes on.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> table = CompressorTable(
    ...     [8000.0] * 3 + [12000.0] * 3, [0.05, 0.08, 0.11, 0.08, 0.12, 0.16],
    ...     [1.40, 1.36, 1.20, 2.05, 1.98, 1.60], [0.66, 0.72, 0.55, 0.68, 0.75, 0.60], SAE_J1826)
    >>> points = operating_points(table, [1.67, 2.0], [0.10, 0.06])
    >>> float(points.corrected_speed[0].round()), [SIDES[side] for side in points.side]
    (10000.0, ['inside', 'left of the surge line'])
    """
    ratio, w = np.atleast_1d(np.asarray(pressure_ratio, float)), np.atleast_1d(np.asarray(flow, float))
    if ratio.shape != w.shape or ratio.ndim != 1 or not (np.isfinite(ratio).all() and np.isfinite(w).all()):
        raise InputRangeError(
            "pressure_ratio and flow must be finite and of one shape (n,).", kind="shape",
            where="operating_points", do="Leave out points without a value.",
        )  # fmt: skip
    lines = _Lines(table)
    speeds = np.linspace(table.line_speed[0], table.line_speed[-1], _SPEEDS)[:, None] + 0.0 * w
    first, last = lines.ends(speeds)
    holds = (first <= w) & (w <= last)
    short = lines.at(speeds, w, lines.ratio) - ratio  # beyond the ends of a line its end value
    # One of two neighbours may hold the flow alone: where its line ends is looked at when the speed is known.
    crossing = (short[:-1] <= 0.0) & (short[1:] >= 0.0) & (holds[:-1] | holds[1:])
    at = np.argmax(crossing, axis=0)
    low, high = (np.take_along_axis(speeds, (at + i)[None], axis=0)[0] for i in (0, 1))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        enough = lines.at(middle, w, lines.ratio) >= ratio
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    first, last = lines.ends(high)
    inside = crossing.any(axis=0) & (first <= w * (1.0 + _ROUNDING)) & (w * (1.0 - _ROUNDING) <= last)
    surge_ratio = np.interp(high, table.line_speed, lines.surge_ratio)
    found = (high, lines.at(high, w, lines.efficiency), surge_ratio / first * w / ratio - 1.0, 1.0 - w / last)
    return OperatingPoints(
        np.where(inside, INSIDE, _side(lines, ratio, w, holds, short)),
        *(np.where(inside, values, np.nan) for values in found),
    )


@dataclass(frozen=True)
class MapMesh:
    """A table as a mesh to draw: one row for each speed line, one column for each share of the way from its
    surge point to its choke point; shapes (lines, shares).

    Attributes
    ----------
    speed : corrected, of each line, shape (lines,) [rad/s]
    flow : corrected [kg/s]
    pressure_ratio, efficiency : [1]
    """

    speed: Floats
    flow: Floats
    pressure_ratio: Floats
    efficiency: Floats


def map_mesh(table: CompressorTable, *, between: int = 1, shares: int = 41) -> MapMesh:
    """The table's lines, and ``between`` - 1 more between each two of them, by the same interpolation.

    >>> from boostproof.physics.corrected import SAE_J1826
    >>> table = CompressorTable(
    ...     [8000.0] * 3 + [12000.0] * 3, [0.05, 0.08, 0.11, 0.08, 0.12, 0.16],
    ...     [1.40, 1.36, 1.20, 2.05, 1.98, 1.60], [0.66, 0.72, 0.55, 0.68, 0.75, 0.60], SAE_J1826)
    >>> mesh = map_mesh(table, between=2, shares=3)
    >>> mesh.flow[1].round(3).tolist(), mesh.efficiency[1].round(3).tolist()
    ([0.065, 0.1, 0.135], [0.67, 0.735, 0.575])
    """
    lines = _Lines(table)
    count = table.line_speed.size
    speed = np.interp(np.linspace(0.0, count - 1.0, (count - 1) * between + 1), np.arange(count), table.line_speed)
    share = np.linspace(0.0, 1.0, shares)
    first, last = lines.ends(speed)
    flow = first[:, None] + share * (last - first)[:, None]
    grid = np.broadcast_to(speed[:, None], flow.shape)
    return MapMesh(speed, flow, lines.at(grid, flow, lines.ratio), lines.at(grid, flow, lines.efficiency))


class _Lines:
    """The speed lines of a table, each with its points over the share of the way from surge to choke."""

    def __init__(self, table: CompressorTable) -> None:
        rows = [table.rows_of_line(i) for i in range(table.line_speed.size)]
        self.speed = table.line_speed
        self.surge_flow, self.surge_ratio = surge_line(table)
        self.choke = choke_flow_of_lines(table)
        flows = [table.corrected_flow[r] for r in rows]
        self.share = [(f - f[0]) / (f[-1] - f[0]) for f in flows]
        self.ratio = [table.pressure_ratio[r] for r in rows]
        self.efficiency = [table.efficiency[r] for r in rows]

    def ends(self, speed: Floats) -> tuple[Floats, Floats]:
        """Flow at surge and at choke at speeds of any shape."""
        return (
            np.asarray(np.interp(speed, self.speed, self.surge_flow)),
            np.asarray(np.interp(speed, self.speed, self.choke)),
        )

    def at(self, speed: Floats, flow: Floats, column: list[Floats]) -> Floats:
        """A column at speeds and flows, broadcast together; beyond the ends of a line its end value."""
        first, last = self.ends(speed)
        share = (flow - first) / (last - first)
        below = np.clip(np.searchsorted(self.speed, speed, side="right") - 1, 0, self.speed.size - 2)
        each = np.stack([np.interp(share, s, c) for s, c in zip(self.share, column, strict=True)])
        low, high = (np.take_along_axis(each, (below + i)[None], axis=0)[0] for i in (0, 1))
        way = (speed - self.speed[below]) / (self.speed[below + 1] - self.speed[below])
        return np.asarray(low + way * (high - low))


def _side(
    lines: _Lines, ratio: Floats, flow: Floats, holds: NDArray[np.bool_], short: Floats
) -> NDArray[np.intp]:
    """On which side of the table each point lies that is not on it."""
    some = holds.any(axis=0)
    least = np.where(holds, short, np.inf).min(axis=0)  # pressure that the slowest line with this flow has over
    most = np.where(holds, short, -np.inf).max(axis=0)
    under = np.where(
        flow < lines.surge_flow[0], np.where(ratio < lines.surge_ratio[0], BELOW, SURGE), CHOKE
    )
    over = np.where(holds[-1], ABOVE, SURGE)
    within = np.where(most < 0.0, over, np.where((least > 0.0) & holds[0], BELOW, CHOKE))
    return np.where(some, within, under).astype(np.intp)
