"""A compressor's table of measured points, as a gas stand gives them, and what it says of an operating point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from boostproof.errors import InputRangeError
from boostproof.physics.corrected import ReferenceConditions, corrected_flow, corrected_speed
from boostproof.physics.map_columns import Column, check_columns, refused

Floats = NDArray[np.float64]

_SAME_LINE = 0.02  # speeds nearer than this belong to one line; lines lie 5 % and more apart


@dataclass(frozen=True, eq=False)
class CompressorTable:
    """Measured points of one compressor, row by row, in any order.

    The columns of a gas stand report (SAE J1826, from memory): corrected speed, corrected mass flow, total
    to total pressure ratio, isentropic total to total efficiency.

    Attributes
    ----------
    corrected_speed : shape (n,) [rad/s]
    corrected_flow : shape (n,) [kg/s]
    pressure_ratio : outlet over inlet total pressure, shape (n,) [1]
    efficiency : isentropic, a share of one, shape (n,) [1]
    reference : the air that speed and flow are corrected to
    line : which speed line each row belongs to, from the slowest, shape (n,); found here
    line_speed : mean corrected speed of each line, rising [rad/s]; found here

    Raises
    ------
    InputRangeError
        Naming the first row (counted from 1) that cannot be: a value missing or out of range, two points of
        one line at the same flow, a line of fewer than three points; or fewer than two lines.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> table = CompressorTable(
    ...     [8000.0] * 3 + [12000.0] * 3, [0.05, 0.08, 0.11, 0.08, 0.12, 0.16],
    ...     [1.40, 1.36, 1.20, 2.05, 1.98, 1.60], [0.66, 0.72, 0.55, 0.68, 0.75, 0.60], SAE_J1826)
    >>> table.line_speed.tolist()
    [8000.0, 12000.0]
    """

    corrected_speed: NDArray[np.float64]
    corrected_flow: NDArray[np.float64]
    pressure_ratio: NDArray[np.float64]
    efficiency: NDArray[np.float64]
    reference: ReferenceConditions
    line: NDArray[np.intp] = field(init=False)
    line_speed: NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        check_columns(self, _COLUMNS, _TABLE)
        line = _speed_lines(self.corrected_speed)
        object.__setattr__(self, "line", line)
        count = int(line.max()) + 1 if line.size else 0
        if count < 2:
            raise refused(_TABLE, f"a table needs at least two speed lines, this one has {count}.")
        for i in range(count):
            rows = np.flatnonzero(line == i)
            if rows.size < 3:
                raise refused(
                    _TABLE,
                    f"row {rows[0] + 1}: the speed line of {self.corrected_speed[rows[0]]:g} rad/s has "
                    f"{rows.size} point(s), at least three are needed.",
                    "Speeds within 2 % count as one line; add points or leave the line out.",
                )
            rows = rows[np.argsort(self.corrected_flow[rows], kind="stable")]
            same = np.flatnonzero(np.diff(self.corrected_flow[rows]) <= 1e-9)
            if same.size:
                first, second = sorted((int(rows[same[0]]) + 1, int(rows[same[0] + 1]) + 1))
                raise refused(
                    _TABLE,
                    f"rows {first} and {second}: one speed line has the same flow twice.",
                    "Leave one of the two out.",
                )
        object.__setattr__(
            self, "line_speed", np.array([self.corrected_speed[line == i].mean() for i in range(count)])
        )

    def rows_of_line(self, line: int) -> NDArray[np.intp]:
        """Rows of one line, from surge to choke."""
        rows = np.flatnonzero(self.line == line)
        return np.asarray(rows[np.argsort(self.corrected_flow[rows])])


_TABLE = "compressor table"
_COLUMNS: tuple[Column, ...] = (
    ("corrected_speed", 500.0, 40e3, "Give the speed in rad/s: rpm times 0.10472."),
    ("corrected_flow", 1e-4, 3.0, "Give the flow in kg/s."),
    ("pressure_ratio", 1.0, 8.0, "Give the ratio of absolute pressures, outlet over inlet, above 1."),
    ("efficiency", 0.0, 0.95, "Give the efficiency as a share of one, not in per cent."),
)


def _speed_lines(speed: Floats) -> NDArray[np.intp]:
    """Number of the line of each row: a new one begins where sorted speeds jump."""
    order = np.argsort(speed, kind="stable")
    jumps = np.diff(speed[order]) > _SAME_LINE * speed[order][:-1]
    line = np.empty(speed.size, np.intp)
    line[order] = np.concatenate([[0], np.cumsum(jumps)])[: speed.size]
    return line


def table_from_measured(
    pressure_in_abs: ArrayLike,
    temperature_in: ArrayLike,
    flow: ArrayLike,
    speed: ArrayLike,
    pressure_ratio: ArrayLike,
    efficiency: ArrayLike,
    reference: ReferenceConditions,
) -> CompressorTable:
    """A table from points as measured, corrected here from the inlet air of each row.

    Parameters
    ----------
    pressure_in_abs, temperature_in : total, before the compressor, one value or one for each row [Pa], [K]
    flow, speed : as measured, shape (n,) [kg/s], [rad/s]
    pressure_ratio, efficiency, reference : as in `CompressorTable`

    Raises
    ------
    InputRangeError
        As `CompressorTable`, and for inlet air as `corrected_flow`.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> table = table_from_measured(
    ...     97e3, 305.0, [0.05, 0.08, 0.11, 0.08, 0.12, 0.2], [8000.0] * 3 + [12000.0] * 3,
    ...     [1.40, 1.36, 1.20, 2.05, 1.98, 1.60], [0.66, 0.72, 0.55, 0.68, 0.75, 0.60], SAE_J1826)
    >>> round(float(table.corrected_flow[-1]), 5)
    0.20859
    """
    return CompressorTable(
        corrected_speed(temperature_in, speed, reference),
        corrected_flow(pressure_in_abs, temperature_in, flow, reference),
        np.asarray(pressure_ratio, float),
        np.asarray(efficiency, float),
        reference,
    )


def surge_line(table: CompressorTable) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Corrected flow and pressure ratio of the point of least flow on each speed line. [kg/s], [1]

    Both of shape (lines,), slowest line first. As good as the table: the stand's last stable points.
    """
    ends = [table.rows_of_line(i)[0] for i in range(table.line_speed.size)]
    return table.corrected_flow[ends], table.pressure_ratio[ends]


def choke_flow_of_lines(table: CompressorTable) -> NDArray[np.float64]:
    """Largest corrected flow of each speed line, slowest line first, shape (lines,). [kg/s]

    The choke flow where the stand went that far; else a lower bound of it.
    """
    ends = [table.rows_of_line(i)[-1] for i in range(table.line_speed.size)]
    return table.corrected_flow[ends]


@dataclass(frozen=True)
class OperatingPoint:
    """Where an operating point lies on a table.

    Attributes
    ----------
    corrected_speed : [rad/s]
    efficiency : [1]
    surge_margin : ``(PI_s / W_s) / (PI / W) - 1`` with the surge point of the same speed [1]
    choke_margin : what flow is left to the table's choke at the same speed, as a share of that [1]
    """

    corrected_speed: float
    efficiency: float
    surge_margin: float
    choke_margin: float


def operating_point(table: CompressorTable, pressure_ratio: float, flow: float) -> OperatingPoint:
    """Speed, efficiency and margins of a pressure ratio and corrected flow on the table.

    Between points of a line and between lines it is interpolated linearly, at the same share of the way from
    the surge point to the choke point; nothing is extrapolated.

    Parameters
    ----------
    table : the compressor
    pressure_ratio : outlet over inlet total pressure [1]
    flow : corrected flow, in the reference of the table [kg/s]

    Raises
    ------
    InputRangeError
        If the point lies outside the table; the message says on which side.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> table = CompressorTable(
    ...     [8000.0] * 3 + [12000.0] * 3, [0.05, 0.08, 0.11, 0.08, 0.12, 0.16],
    ...     [1.40, 1.36, 1.20, 2.05, 1.98, 1.60], [0.66, 0.72, 0.55, 0.68, 0.75, 0.60], SAE_J1826)
    >>> point = operating_point(table, 1.67, 0.10)
    >>> round(point.corrected_speed), round(point.efficiency, 3), round(point.surge_margin, 2)
    (10000, 0.735, 0.59)
    """
    lines = [table.rows_of_line(i) for i in range(table.line_speed.size)]
    surge_flow, surge_ratio = surge_line(table)
    choke = choke_flow_of_lines(table)

    def ends(speed: float) -> tuple[float, float]:
        return (
            float(np.interp(speed, table.line_speed, surge_flow)),
            float(np.interp(speed, table.line_speed, choke)),
        )

    def at(speed: float, column: Floats) -> float:
        first, last = ends(speed)
        share = (flow - first) / (last - first)
        values = [
            np.interp(share, _along(table.corrected_flow[rows]), column[rows]) for rows in lines
        ]  # np.interp holds the end values: a point outside is sorted out below
        return float(np.interp(speed, table.line_speed, values))

    speeds = np.linspace(table.line_speed[0], table.line_speed[-1], 401)
    inside = np.array([ends(s)[0] <= flow <= ends(s)[1] for s in speeds])
    short = np.array([at(s, table.pressure_ratio) - pressure_ratio for s in speeds])
    # from the slow side: the first speed at which the line reaches the pressure ratio
    crossing = np.flatnonzero(inside[:-1] & inside[1:] & (short[:-1] <= 0.0) & (short[1:] >= 0.0))
    if not crossing.size:
        side = _side(inside, short, speeds, ends, flow)
        raise InputRangeError(
            f"Pressure ratio {pressure_ratio:g} at {flow:g} kg/s lies {side}.",
            kind="range",
            where="operating_point",
            do="Nothing is extrapolated; fit_compressor gives a form that goes further.",
        )
    i = int(crossing[0])
    speed = float(brentq(lambda s: at(s, table.pressure_ratio) - pressure_ratio, speeds[i], speeds[i + 1]))
    first, last = ends(speed)
    ratio_there = float(np.interp(speed, table.line_speed, surge_ratio))
    return OperatingPoint(
        speed,
        at(speed, table.efficiency),
        ratio_there / first * flow / pressure_ratio - 1.0,
        1.0 - flow / last,
    )


def _along(flow: Floats) -> Floats:
    """Share of the way from the first to the last point of a line, by flow."""
    return np.asarray((flow - flow[0]) / (flow[-1] - flow[0]))


def _side(
    inside: NDArray[np.bool_],
    short: Floats,
    speeds: Floats,
    ends: Callable[[float], tuple[float, float]],
    flow: float,
) -> str:
    """In words, on which side of the table a point lies."""
    if inside.any():
        if short[inside].max() < 0.0:
            # the fastest line still passes this flow: too much pressure for any speed of the table
            return "above the fastest speed line" if inside[-1] else "left of the surge line"
        if short[inside].min() > 0.0 and inside[0]:
            return "below the slowest speed line"
        return "beyond the choke ends of the speed lines"
    if flow < ends(float(speeds[0]))[0]:
        return "left of the surge line"
    return "beyond the choke end of every speed line"
