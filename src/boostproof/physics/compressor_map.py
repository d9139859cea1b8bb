"""A compressor's table of measured points, and what the model's five numbers make of it.

A gas stand gives speed, flow, pressure ratio and efficiency along lines of constant speed. The transient
model knows a compressor by five numbers; `fit_compressor` finds those of a table and says, line by line,
how well they fit. The published parametric forms stand here too, so that the model's own form can be
measured against them. `compressor.py` holds the equations of the model itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, least_squares

from boostproof.errors import InputRangeError, NotDoneError
from boostproof.physics import compressor, layout
from boostproof.physics.corrected import ReferenceConditions, corrected_flow, corrected_speed
from boostproof.physics.gas import AIR_GAMMA

Floats = NDArray[np.float64]

# The components take arrays or single numbers, carry no annotation, and return slopes behind the value.
_isentropic_head: Callable[..., tuple[Floats, Floats]] = compressor.isentropic_head
_choke_flow: Callable[..., tuple[Floats, Floats]] = compressor.choke_flow
_map_flow: Callable[..., tuple[Floats, Floats]] = compressor.map_flow
_work_coefficient: Callable[..., tuple[Floats, Floats]] = compressor.work_coefficient

_WINDMILL = 2500.0  # m2/s2, added to tip speed squared by the transient model (air_side.py); a test compares
_SAME_LINE = 0.02  # speeds nearer than this belong to one line; lines lie 5 % and more apart
_LOWEST_RATIO, _HIGHEST_RATIO = 0.2, 8.0  # pressure ratios that isentropic_head takes

# What a good gas stand keeps to; only the proportion between the three matters to the fit.
_FLOW_SHARE, _HEAD_STEP, _EFFICIENCY_STEP = 0.01, 0.006, 0.01
_USUAL_HEAD, _HEAD_SPREAD = 0.62, 0.03  # usual wheels, as in the prior of a car


# ---------------------------------------------------------------- the model's five numbers


@dataclass(frozen=True)
class CompressorNumbers:
    """The five numbers by which the transient model knows one compressor.

    Attributes
    ----------
    diameter : outer diameter of the wheel (exducer) [m]
    area : effective inducer area that chokes [m2]
    head : isentropic head over tip speed squared at the surge side [1]
    work : work over tip speed squared at no flow [1]
    work_slope : its fall from no flow to choke [1]

    Examples
    --------
    >>> CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33).parameters(count=2)["compressor_area"]
    0.0023
    """

    diameter: float
    area: float
    head: float
    work: float
    work_slope: float

    def parameters(self, count: int = 1) -> dict[str, float]:
        """The numbers under the model's names; ``count`` equal compressors in parallel add their areas."""
        return {
            "compressor_diameter": self.diameter,
            "compressor_area": self.area * count,
            "compressor_head": self.head,
            "compressor_work": self.work,
            "compressor_work_slope": self.work_slope,
        }


def model_choke_flow(
    speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Largest flow of the model at a corrected speed. [kg/s] from [rad/s]

    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> round(float(model_choke_flow(14000.0, wheel, SAE_J1826)), 3)
    0.211
    """
    tip = 0.5 * numbers.diameter * np.asarray(speed, float)
    return np.asarray(_choke_flow(tip, numbers.area, reference.pressure, reference.temperature)[0])


def model_flow(
    pressure_ratio: ArrayLike, speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Corrected flow of the model; falls, or stays, as the pressure ratio rises. [kg/s]

    Parameters
    ----------
    pressure_ratio : outlet over inlet total pressure, any shape, 0.2 to 8 [1]
    speed : corrected speed, broadcast with it [rad/s]
    numbers, reference : the compressor, and the air that flow and speed are corrected to

    Returns
    -------
    ndarray
        Broadcast shape; negative beyond the surge side, where a surging wheel lets air back. [kg/s]

    Notes
    -----
    ``map_flow`` of `boostproof.physics.compressor`, as the transient model calls it.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> round(float(model_flow(2.2, 14000.0, wheel, SAE_J1826)), 2)
    0.17
    """
    psi = _head_coefficient(pressure_ratio, speed, numbers, reference)
    return np.asarray(_map_flow(psi, numbers.head)[0] * model_choke_flow(speed, numbers, reference))


def _head_coefficient(
    pressure_ratio: ArrayLike, speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> Floats:
    tip = 0.5 * numbers.diameter * np.asarray(speed, float)
    head = _isentropic_head(np.asarray(pressure_ratio, float), reference.temperature)[0]
    return np.asarray(head / (tip * tip + _WINDMILL))


def model_efficiency(
    pressure_ratio: ArrayLike,
    flow: ArrayLike,
    speed: ArrayLike,
    numbers: CompressorNumbers,
    reference: ReferenceConditions,
) -> NDArray[np.float64]:
    """Isentropic efficiency of the model at a pressure ratio, corrected flow and corrected speed. [1]

    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> round(float(model_efficiency(2.2, 0.169, 14000.0, wheel, SAE_J1826)), 2)
    0.7
    """
    tip = 0.5 * numbers.diameter * np.asarray(speed, float)
    share = np.asarray(flow, float) / model_choke_flow(speed, numbers, reference)
    work = _work_coefficient(share, numbers.work, numbers.work_slope)[0] * tip * tip
    return np.asarray(_isentropic_head(np.asarray(pressure_ratio, float), reference.temperature)[0] / work)


def model_pressure_ratio(
    flow: ArrayLike, speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Pressure ratio at which the model passes a flow; where it cannot, that at its choke.

    Parameters
    ----------
    flow, speed : corrected, broadcast together [kg/s], [rad/s]
    numbers, reference : as `model_flow`, of which this is the way back

    Returns
    -------
    ndarray
        Broadcast shape, within 0.2 and 8. [1]

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> flow = model_flow(2.2, 14000.0, wheel, SAE_J1826)
    >>> round(float(model_pressure_ratio(flow, 14000.0, wheel, SAE_J1826)), 4)
    2.2
    """
    w, n = np.broadcast_arrays(np.asarray(flow, float), np.asarray(speed, float))
    w = np.minimum(w, model_choke_flow(n, numbers, reference) * (1.0 - 1e-9))
    low, high = np.full(w.shape, _LOWEST_RATIO), np.full(w.shape, _HIGHEST_RATIO)
    for _ in range(50):  # halving: the flow never rises with the pressure ratio
        middle = 0.5 * (low + high)
        passes = model_flow(middle, n, numbers, reference) >= w
        low, high = np.where(passes, middle, low), np.where(passes, high, middle)
    return np.asarray(0.5 * (low + high))


# ---------------------------------------------------------------- the table


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
        for name, low, high, do in _COLUMNS:
            column = np.array(getattr(self, name), float)
            column.setflags(write=False)
            object.__setattr__(self, name, column)
            if column.ndim != 1 or column.shape != self.corrected_speed.shape:
                raise _refused(
                    f"{name} has shape {column.shape}, corrected_speed {self.corrected_speed.shape}; "
                    "all columns must have one value for each row."
                )
            wrong = np.flatnonzero(~((column > low) & (column < high)))  # NaN as well
            if wrong.size:
                row = int(wrong[0])
                raise _refused(
                    f"row {row + 1}: {name} must lie between {low:g} and {high:g}, got {column[row]:g}.", do
                )
        line = _speed_lines(self.corrected_speed)
        object.__setattr__(self, "line", line)
        count = int(line.max()) + 1 if line.size else 0
        if count < 2:
            raise _refused(f"a table needs at least two speed lines, this one has {count}.")
        for i in range(count):
            rows = np.flatnonzero(line == i)
            if rows.size < 3:
                raise _refused(
                    f"row {rows[0] + 1}: the speed line of {self.corrected_speed[rows[0]]:g} rad/s has "
                    f"{rows.size} point(s), at least three are needed.",
                    "Speeds within 2 % count as one line; add points or leave the line out.",
                )
            rows = rows[np.argsort(self.corrected_flow[rows], kind="stable")]
            same = np.flatnonzero(np.diff(self.corrected_flow[rows]) <= 1e-9)
            if same.size:
                first, second = sorted((int(rows[same[0]]) + 1, int(rows[same[0] + 1]) + 1))
                raise _refused(
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


_COLUMNS: tuple[tuple[str, float, float, str], ...] = (
    ("corrected_speed", 500.0, 40e3, "Give the speed in rad/s: rpm times 0.10472."),
    ("corrected_flow", 1e-4, 3.0, "Give the flow in kg/s."),
    ("pressure_ratio", 1.0, 8.0, "Give the ratio of absolute pressures, outlet over inlet, above 1."),
    ("efficiency", 0.0, 0.95, "Give the efficiency as a share of one, not in per cent."),
)


def _refused(says: str, do: str = "") -> InputRangeError:
    return InputRangeError(says, kind="range", where="compressor table", do=do)


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


# ---------------------------------------------------------------- the fit of the five numbers


@dataclass(frozen=True)
class LineErrors:
    """What the fit leaves on one speed line, model less table.

    Attributes
    ----------
    corrected_speed : [rad/s]
    points : how many
    beyond_choke : points of more flow than the model passes at this speed
    flow_bias, flow_rms : at the table's pressure ratio, as a share of the line's largest flow [1]
    pressure_ratio_rms : at the table's flow, as a share of the table's value, over the points that the model
        can pass; 0 where there is none [1]
    efficiency_bias, efficiency_rms : at the table's pressure ratio and flow [1]
    """

    corrected_speed: float
    points: int
    beyond_choke: int
    flow_bias: float
    flow_rms: float
    pressure_ratio_rms: float
    efficiency_bias: float
    efficiency_rms: float


@dataclass(frozen=True)
class CompressorFit:
    """The five numbers of a table, and what they leave unexplained.

    Attributes
    ----------
    numbers : the model's five numbers
    uncertainty : standard uncertainty of each, by its field name; 0 for a diameter that was given. From the
        scatter about the form, taken as independent from point to point; where the form itself does not fit
        the wheel (see ``lines``) it is too small.
    at_limit : fields that ended at the edge of what the model allows: the form does not suit this table
    flow_rms, flow_worst : model less table at the table's pressure ratio [kg/s]
    pressure_ratio_rms : at the table's flow, as a share, over the points that the model can pass [1]
    efficiency_rms, efficiency_bias, efficiency_worst : at the table's pressure ratio and flow [1]
    surge_share : mean over the lines of the table's least flow over the model's choke flow [1]
    lines : the same, line by line, slowest first
    reference : the air that flow and speed are corrected to
    """

    numbers: CompressorNumbers
    uncertainty: dict[str, float]
    at_limit: tuple[str, ...]
    flow_rms: float
    flow_worst: float
    pressure_ratio_rms: float
    efficiency_rms: float
    efficiency_bias: float
    efficiency_worst: float
    surge_share: float
    lines: tuple[LineErrors, ...]
    reference: ReferenceConditions


_FIELDS = ("diameter", "area", "head", "work", "work_slope")
_LIMITS = {
    name: (layout.parameter(f"compressor_{name}").low, layout.parameter(f"compressor_{name}").high)
    for name in _FIELDS
}


def fit_compressor(table: CompressorTable, *, diameter: float | None = None) -> CompressorFit:
    """The model's five numbers that fit a table best, by least squares.

    Parameters
    ----------
    table : the measured points
    diameter : outer diameter of the wheel where it is known; better than fitting it [m]

    Returns
    -------
    CompressorFit

    Raises
    ------
    InputRangeError
        If the diameter is outside what the model allows, or gives tip speeds that no wheel has.
    NotDoneError
        If the search does not settle.

    Notes
    -----
    Diameter and head coefficient are hard to tell apart: a larger wheel with a lower coefficient gives nearly
    the same heads. Where the diameter is not given, the usual head coefficient, 0.62 +- 0.03 (as in the prior
    of a car), counts as one more point, on the scale of the scatter that the others show.

    Flow errors are weighted by what an error of 1 % in flow and of 0.006 in head coefficient (1 % of a usual
    0.6) together do to the flow of the model there: on the flat, surge side of a line a small error in
    pressure is a large one in flow, and without that weight those points alone would decide (effective
    variance; Orear, Am. J. Phys. 50 (1982) 912, from memory). Efficiency errors count 1 point each. The
    weights follow the solution and are held while it is improved. Uncertainties are those of White
    (Econometrica 48 (1980) 817, from memory), which stay right where the scatter differs from point to point.

    Examples
    --------
    A table made of the model itself gives its numbers back.

    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> speed = np.repeat([9000.0, 12000.0, 15000.0], 5)
    >>> flow = np.tile([0.5, 0.65, 0.75, 0.85, 0.95], 3) * model_choke_flow(speed, wheel, SAE_J1826)
    >>> ratio = model_pressure_ratio(flow, speed, wheel, SAE_J1826)
    >>> efficiency = model_efficiency(ratio, flow, speed, wheel, SAE_J1826)
    >>> fit = fit_compressor(CompressorTable(speed, flow, ratio, efficiency, SAE_J1826))
    >>> round(fit.numbers.diameter, 4), round(fit.numbers.head, 3), round(fit.numbers.work, 3)
    (0.058, 0.62, 0.92)
    """
    if diameter is not None:
        _check_diameter(table, diameter)
    free = _FIELDS if diameter is None else _FIELDS[1:]
    low, high = np.array([_LIMITS[name] for name in free]).T
    start_diameter = diameter if diameter is not None else 2.0 * 450.0 / table.line_speed[-1]
    start = _start(table, float(np.clip(start_diameter, *_LIMITS["diameter"])), free)
    scale = np.maximum(np.abs(start), 0.05 * (high - low))
    largest = np.array([table.corrected_flow[table.line == i].max() for i in range(table.line_speed.size)])

    def numbers_of(x: Floats) -> CompressorNumbers:
        values = dict(zip(free, (float(v) for v in x), strict=True))
        return CompressorNumbers(**({} if diameter is None else {"diameter": diameter}), **values)

    def errors(x: Floats) -> tuple[Floats, Floats]:
        numbers = numbers_of(x)
        return _flow_error(table, numbers), _efficiency_error(table, numbers)

    def weights(x: Floats) -> Floats:
        steep = _flow_over_head(table, numbers_of(x))
        return np.asarray(1.0 / np.hypot(_FLOW_SHARE * largest[table.line], steep * _HEAD_STEP))

    x = np.clip(start, low + 1e-9 * (high - low), high - 1e-9 * (high - low))
    scatter = 1.0
    for _ in range(30):
        weight = weights(x)

        def residuals(z: Floats, weight: Floats = weight, scatter: float = scatter) -> Floats:
            flow, efficiency = errors(z)
            parts = [flow * weight, efficiency / _EFFICIENCY_STEP]
            if diameter is None:
                usual = (numbers_of(z).head - _USUAL_HEAD) / _HEAD_SPREAD
                parts.append(np.array([usual * scatter]))
            return np.concatenate(parts)

        solution = least_squares(residuals, x, bounds=(low, high), x_scale=scale, max_nfev=200)
        moved = np.abs(solution.x - x) / scale
        x = solution.x
        left: Floats = solution.fun
        scatter = _rms(left[: 2 * weight.size])
        if moved.max() < 1e-5:
            break
    if not solution.success:
        raise NotDoneError(
            "The fit of the compressor table did not settle.",
            kind="no-solution",
            where="fit_compressor",
            do="Check the units of the table and its reference air.",
        )
    found = numbers_of(x)
    if diameter is None:
        _check_diameter(table, found.diameter)
    deviation = dict.fromkeys(_FIELDS, 0.0)
    square = left * left
    square[2 * weight.size :] = scatter * scatter  # what is usual is no measurement with an error of its own
    deviation.update(zip(free, _robust_deviation(solution.jac, square), strict=True))
    edge = 1e-4 * (high - low)
    at_edge = (x < low + edge) | (x > high - edge)
    at_limit = tuple(name for name, there in zip(free, at_edge, strict=True) if there)
    return _described(table, found, deviation, at_limit)


def _check_diameter(table: CompressorTable, diameter: float) -> None:
    low, high = _LIMITS["diameter"]
    tip = 0.5 * diameter * float(table.line_speed[-1])
    if not (low <= diameter <= high and 100.0 <= tip <= 800.0):
        raise InputRangeError(
            f"A wheel of {diameter:g} m at the fastest line, {table.line_speed[-1]:g} rad/s, has a tip speed "
            f"of {tip:.0f} m/s; the model takes {low:g} to {high:g} m and 100 to 800 m/s.",
            kind="range",
            where="fit_compressor",
            do="Check the unit of the speed and of the diameter.",
        )


def _start(table: CompressorTable, diameter: float, free: tuple[str, ...]) -> Floats:
    """Usual coefficients, and the area that chokes at the largest flow of the table."""
    unit = CompressorNumbers(diameter, 1.0, 0.62, 0.92, 0.33)
    fastest = model_choke_flow(table.line_speed[-1], unit, table.reference)
    begin = {
        "diameter": diameter, "area": float(table.corrected_flow.max() / fastest),
        "head": 0.62, "work": 0.92, "work_slope": 0.33,
    }  # fmt: skip
    return np.array([begin[name] for name in free])


def _flow_error(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    model = model_flow(table.pressure_ratio, table.corrected_speed, numbers, table.reference)
    return np.asarray(model - table.corrected_flow)


def _efficiency_error(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    model = model_efficiency(
        table.pressure_ratio, table.corrected_flow, table.corrected_speed, numbers, table.reference
    )
    return np.asarray(model - table.efficiency)


def _flow_over_head(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    """Slope of the model's flow over its head coefficient, by a difference. [kg/s]"""
    psi = _head_coefficient(table.pressure_ratio, table.corrected_speed, numbers, table.reference)
    choked = model_choke_flow(table.corrected_speed, numbers, table.reference)
    step = _HEAD_STEP
    right, left = (_map_flow(psi + s, numbers.head)[0] for s in (step, -step))
    return np.asarray(choked * (right - left) / (2.0 * step))


def _robust_deviation(jacobian: Floats, square: Floats) -> list[float]:
    """Standard deviations by White's sandwich of squared residuals, with the usual factor for few points."""
    n, p = jacobian.shape
    inverse = np.linalg.pinv(jacobian.T @ jacobian)
    middle = jacobian.T @ (jacobian * square[:, None])
    covariance = inverse @ middle @ inverse * (n / max(n - p, 1))
    return [float(v) for v in np.sqrt(np.maximum(np.diag(covariance), 0.0))]


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values * values))) if values.size else 0.0


def _described(
    table: CompressorTable,
    numbers: CompressorNumbers,
    uncertainty: dict[str, float],
    at_limit: tuple[str, ...],
) -> CompressorFit:
    flow = _flow_error(table, numbers)
    efficiency = _efficiency_error(table, numbers)
    ratio = (
        model_pressure_ratio(table.corrected_flow, table.corrected_speed, numbers, table.reference)
        / table.pressure_ratio
        - 1.0
    )
    passes = table.corrected_flow <= model_choke_flow(table.corrected_speed, numbers, table.reference)
    lines = []
    for i, speed in enumerate(table.line_speed):
        rows = table.rows_of_line(i)
        share = flow[rows] / table.corrected_flow[rows].max()
        can = rows[passes[rows]]
        lines.append(
            LineErrors(
                float(speed), rows.size, rows.size - can.size,
                float(share.mean()), _rms(share), _rms(ratio[can]),
                float(efficiency[rows].mean()), _rms(efficiency[rows]),
            )
        )  # fmt: skip
    surge = surge_line(table)[0] / model_choke_flow(table.line_speed, numbers, table.reference)
    return CompressorFit(
        numbers=numbers,
        uncertainty=uncertainty,
        at_limit=at_limit,
        flow_rms=_rms(flow),
        flow_worst=float(flow[np.abs(flow).argmax()]),
        pressure_ratio_rms=_rms(ratio[passes]),
        efficiency_rms=_rms(efficiency),
        efficiency_bias=float(efficiency.mean()),
        efficiency_worst=float(efficiency[np.abs(efficiency).argmax()]),
        surge_share=float(surge.mean()),
        lines=tuple(lines),
        reference=table.reference,
    )


# ---------------------------------------------------------------- published forms


@dataclass(frozen=True)
class SuperEllipse:
    """The super-ellipse of Leufven and Eriksson: five sub-functions of corrected speed.

    With ``n`` the corrected speed over ``speed_reference``: choke flow ``c1 + c2 atan(c3 n - c4)``, pressure
    ratio there ``c5 + c6 n^c7``, curvature ``c8 + c9 n^c10``, pressure ratio at zero slope ``1 + c11 n^c12``,
    flow there ``c13 n^c14``.

    Attributes
    ----------
    coefficients : c1 to c14; c1, c2 and c13 in kg/s, the others 1
    speed_reference : [rad/s]
    reference : the air that flow and speed are corrected to

    Notes
    -----
    Source: Leufven, LIU-TEK-LIC-2010:32; Llamas & Eriksson, J. Eng. Gas Turb. Power 139(1) 012601 (abstracts
    read, equations from memory).
    """

    coefficients: tuple[float, ...]
    speed_reference: float
    reference: ReferenceConditions

    def sub_functions(self, speed: ArrayLike) -> dict[str, NDArray[np.float64]]:
        """The five at a corrected speed [rad/s]: W_Ch, W_ZSL [kg/s], PI_Ch, PI_ZSL, CUR [1]."""
        return _sub_functions(np.asarray(self.coefficients), np.asarray(speed, float) / self.speed_reference)

    def flow(self, pressure_ratio: ArrayLike, speed: ArrayLike) -> NDArray[np.float64]:
        """Corrected flow; outside the ellipse that at its nearer end. [kg/s] from [1] and [rad/s]"""
        s = self.sub_functions(speed)
        y = (np.asarray(pressure_ratio, float) - s["PI_Ch"]) / (s["PI_ZSL"] - s["PI_Ch"])
        return np.asarray(s["W_ZSL"] + (s["W_Ch"] - s["W_ZSL"]) * _rounded(y, s["CUR"]))

    def pressure_ratio(self, flow: ArrayLike, speed: ArrayLike) -> NDArray[np.float64]:
        """Pressure ratio at a corrected flow; outside the ellipse that at its nearer end. [1]"""
        s = self.sub_functions(speed)
        x = (np.asarray(flow, float) - s["W_ZSL"]) / (s["W_Ch"] - s["W_ZSL"])
        return np.asarray(s["PI_Ch"] + (s["PI_ZSL"] - s["PI_Ch"]) * _rounded(x, s["CUR"]))


def _rounded(x: Floats, curvature: Floats) -> Floats:
    return np.asarray((1.0 - np.clip(x, 0.0, 1.0) ** curvature) ** (1.0 / curvature))


def _sub_functions(c: Floats, n: Floats) -> dict[str, Floats]:
    return {
        "W_Ch": np.asarray(c[0] + c[1] * np.arctan(c[2] * n - c[3])),
        "PI_Ch": np.asarray(c[4] + c[5] * n ** c[6]),
        "CUR": np.asarray(c[7] + c[8] * n ** c[9]),
        "PI_ZSL": np.asarray(1.0 + c[10] * n ** c[11]),
        "W_ZSL": np.asarray(c[12] * n ** c[13]),
    }


@dataclass(frozen=True)
class SuperEllipseFit:
    """A super-ellipse of a table.

    Attributes
    ----------
    form : the ellipse
    flow_rms : at the table's pressure ratio, where that lies on the ellipse [kg/s]
    pressure_ratio_rms : at the table's flow, as a share [1]
    """

    form: SuperEllipse
    flow_rms: float
    pressure_ratio_rms: float


def fit_super_ellipse(table: CompressorTable) -> SuperEllipseFit:
    """The published super-ellipse that fits a table best.

    Parameters
    ----------
    table : at least four speed lines, since each sub-function has up to four coefficients

    Returns
    -------
    SuperEllipseFit

    Raises
    ------
    InputRangeError
        If the table has fewer than four speed lines.
    NotDoneError
        If the search does not settle.

    Notes
    -----
    What is made small is the distance along the ray from the ellipse's corner ``(W_ZSL, PI_Ch)``, as a share
    of the ellipse there; it treats the flat and the steep side alike, as the total least squares of Llamas &
    Eriksson do.
    """
    if table.line_speed.size < 4:
        raise InputRangeError(
            f"The table has {table.line_speed.size} speed lines, the super-ellipse needs at least four.",
            kind="range",
            where="fit_super_ellipse",
            do="fit_compressor needs two.",
        )
    top = float(table.line_speed[-1])
    n = table.corrected_speed / top
    largest = float(table.corrected_flow.max())
    unit = np.ones(14)
    unit[[0, 1, 12]] = largest
    low = np.array([0.0, 0.05, 0.2, -2.0, 0.3, 0.0, 0.3, 1.2, 0.0, 0.3, 0.1, 0.8, 0.02, 0.3])
    high = np.array([1.5, 2.0, 12.0, 12.0, 1.5, 4.0, 6.0, 6.0, 6.0, 6.0, 8.0, 5.0, 0.9, 4.0])
    peak = float(table.pressure_ratio.max()) - 1.0
    start = np.array([0.5, 0.5, 3.0, 1.4, 1.0, 0.3 * peak, 2.0, 2.2, 0.8, 2.0, peak, 2.1, 0.4, 1.3])

    def residuals(x: Floats) -> Floats:
        s = _sub_functions(x * unit, n)
        across = np.maximum(s["W_Ch"] - s["W_ZSL"], 1e-3 * largest)
        up = np.maximum(s["PI_ZSL"] - s["PI_Ch"], 1e-3)
        wide = np.maximum((table.corrected_flow - s["W_ZSL"]) / across, 0.0)
        tall = np.maximum((table.pressure_ratio - s["PI_Ch"]) / up, 0.0)
        return np.asarray((wide ** s["CUR"] + tall ** s["CUR"] + 1e-12) ** (1.0 / s["CUR"]) - 1.0)

    start = np.clip(start, low + 1e-6, high - 1e-6)
    solution: Any = least_squares(residuals, start, bounds=(low, high), x_scale=high - low, max_nfev=2000)
    if not solution.success:
        raise NotDoneError(
            "The fit of the super-ellipse did not settle.", kind="no-solution", where="fit_super_ellipse"
        )
    form = SuperEllipse(tuple(float(v) for v in solution.x * unit), top, table.reference)
    s = form.sub_functions(table.corrected_speed)
    on = (table.pressure_ratio < s["PI_ZSL"]) & (table.pressure_ratio > s["PI_Ch"])
    flow = form.flow(table.pressure_ratio, table.corrected_speed) - table.corrected_flow
    ratio = form.pressure_ratio(table.corrected_flow, table.corrected_speed) / table.pressure_ratio - 1.0
    return SuperEllipseFit(form, _rms(flow[on]), _rms(ratio))


def jensen_kristensen_flow(head: ArrayLike, mach: ArrayLike, k: ArrayLike) -> NDArray[np.float64]:
    """Flow coefficient of the rational form, ``Phi = (k3 Psi - k1) / (k2 + Psi)``, ``ki = ki1 + ki2 M``.

    Parameters
    ----------
    head : Psi, isentropic head over half the tip speed squared, any shape [1]
    mach : M, tip speed over the inlet's speed of sound, broadcast with it [1]
    k : the six coefficients, shape (3, 2) [1]

    Returns
    -------
    ndarray
        ``m / (rho1 (pi/4) D^2 U)``. [1]

    Notes
    -----
    Source: Jensen & Kristensen 1991, as given by Moraal & Kolmanovsky, SAE 1999-01-0908 (title page read,
    equations from memory). Coefficients are fitted to each map.

    Examples
    --------
    >>> k = [[0.18, -0.02], [-1.5, 0.2], [0.12, 0.02]]
    >>> psi = jensen_kristensen_head(0.08, 1.1, k)
    >>> round(float(jensen_kristensen_flow(psi, 1.1, k)), 6)
    0.08
    """
    k1, k2, k3 = _linear_in_mach(k, mach)
    psi = np.asarray(head, float)
    return np.asarray((k3 * psi - k1) / (k2 + psi))


def jensen_kristensen_head(flow: ArrayLike, mach: ArrayLike, k: ArrayLike) -> NDArray[np.float64]:
    """Head coefficient of the rational form, ``Psi = (k1 + k2 Phi) / (k3 - Phi)``. [1]

    The way back of `jensen_kristensen_flow`; parameters and source as there.
    """
    k1, k2, k3 = _linear_in_mach(k, mach)
    phi = np.asarray(flow, float)
    return np.asarray((k1 + k2 * phi) / (k3 - phi))


def _linear_in_mach(k: ArrayLike, mach: ArrayLike) -> tuple[Floats, Floats, Floats]:
    m = np.asarray(mach, float)
    first, second, third = (row[0] + row[1] * m for row in np.asarray(k, float))
    return first, second, third


def jensen_kristensen_efficiency(flow: ArrayLike, mach: ArrayLike, a: ArrayLike) -> NDArray[np.float64]:
    """Efficiency, ``a1 Phi^2 + a2 Phi + a3`` with ``ai = (ai1 + ai2 M) / (ai3 - M)``. [1]

    Parameters
    ----------
    flow, mach : Phi and M, broadcast together [1]
    a : the nine coefficients, shape (3, 3) [1]

    Source as `jensen_kristensen_flow`.

    Examples
    --------
    >>> a = [[-280.0, 70.0, 4.0], [66.2, -21.3, 4.0], [-0.838, 0.672, 4.0]]  # invented
    >>> round(float(jensen_kristensen_efficiency(0.108, 1.0, a)), 3)
    0.745
    """
    m = np.asarray(mach, float)
    a1, a2, a3 = ((row[0] + row[1] * m) / (row[2] - m) for row in np.asarray(a, float))
    phi = np.asarray(flow, float)
    return np.asarray((a1 * phi + a2) * phi + a3)


@dataclass(frozen=True)
class ExponentialForm:
    """Flow that falls exponentially to nothing at the zero-slope head; polynomials in the tip Mach number.

    ``Phi = Phi_max (1 - exp(beta (Psi / Psi_max - 1)))``.

    Attributes
    ----------
    flow_max, steepness, head_max : coefficients of Phi_max, beta, Psi_max, constant first [1]
    diameter : [m]
    gas_constant : [J/(kg K)]
    specific_heat : [J/(kg K)]
    """

    flow_max: tuple[float, ...]
    steepness: tuple[float, ...]
    head_max: tuple[float, ...]
    diameter: float
    gas_constant: float
    specific_heat: float


#: Pukrushpan 2003 as it stands in public code. The printed diameter is not physical (tip speeds near
#: 1000 m/s): good for checking arithmetic, not for a car.
PUKRUSHPAN_2003 = ExponentialForm(
    flow_max=(2.21195e-3, -4.63685e-5, -5.36235e-4, 2.70399e-4, -3.69906e-5),
    steepness=(2.44419, -1.34837, 1.76567),
    head_max=(0.43331, -0.68344, 0.80121, -0.42937, 0.10581, -9.78755e-3),
    diameter=0.2286,
    gas_constant=286.9,
    specific_heat=1004.0,
)


def exponential_coefficients(
    pressure_ratio: ArrayLike, temperature_in: ArrayLike, speed: ArrayLike, form: ExponentialForm
) -> dict[str, NDArray[np.float64]]:
    """Tip Mach number M, Psi, Psi_max and Phi of the exponential form, broadcast shape. [1]

    Parameters
    ----------
    pressure_ratio [1], temperature_in [K], speed [rad/s] : any shapes
    form : a set of coefficients

    Examples
    --------
    >>> c = exponential_coefficients(2.0, 298.15, 80e3 * np.pi / 30, PUKRUSHPAN_2003)
    >>> {name: float(f"{float(value):.5g}") for name, value in c.items()}
    {'M': 2.7671, 'Psi': 0.143, 'Psi_max': 0.19527, 'Phi': 0.0014799}
    """
    t = np.asarray(temperature_in, float)
    tip = 0.5 * form.diameter * np.asarray(speed, float)
    m = tip / np.sqrt(AIR_GAMMA * form.gas_constant * t)
    rise = np.asarray(pressure_ratio, float) ** ((AIR_GAMMA - 1.0) / AIR_GAMMA) - 1.0
    psi = form.specific_heat * t * rise / (0.5 * tip * tip)
    psi_max = np.polynomial.polynomial.polyval(m, form.head_max)
    phi_max = np.polynomial.polynomial.polyval(m, form.flow_max)
    beta = np.polynomial.polynomial.polyval(m, form.steepness)
    phi = phi_max * (1.0 - np.exp(beta * (psi / psi_max - 1.0)))
    return {"M": m, "Psi": psi, "Psi_max": np.asarray(psi_max), "Phi": np.asarray(phi)}


def exponential_flow(
    pressure_in_abs: ArrayLike,
    pressure_ratio: ArrayLike,
    temperature_in: ArrayLike,
    speed: ArrayLike,
    form: ExponentialForm,
) -> NDArray[np.float64]:
    """Mass flow of the exponential form, ``Phi rho1 (pi/4) D^2 U``; negative beyond the zero-slope head.

    Parameters
    ----------
    pressure_in_abs [Pa], pressure_ratio [1], temperature_in [K], speed [rad/s] : broadcast together
    form : a set of coefficients

    Returns
    -------
    ndarray
        [kg/s]

    Notes
    -----
    Source: Moraal & Kolmanovsky, SAE 1999-01-0908; Pukrushpan 2003 (coefficients read in public code).

    Examples
    --------
    >>> round(float(exponential_flow(101325.0, 2.0, 298.15, 80e3 * np.pi / 30, PUKRUSHPAN_2003)), 6)
    0.068897
    """
    density = np.asarray(pressure_in_abs, float) / (form.gas_constant * np.asarray(temperature_in, float))
    tip = 0.5 * form.diameter * np.asarray(speed, float)
    phi = exponential_coefficients(pressure_ratio, temperature_in, speed, form)["Phi"]
    return np.asarray(phi * density * (np.pi / 4.0) * form.diameter**2 * tip)
