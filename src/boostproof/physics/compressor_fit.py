"""The five numbers by which the model knows a compressor, fitted to its table, and how well they fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from boostproof.errors import InputRangeError, NotDoneError
from boostproof.physics import layout
from boostproof.physics.compressor_map import (
    USUAL_HEAD,
    USUAL_WORK,
    USUAL_WORK_SLOPE,
    CompressorNumbers,
    flow_at_head,
    head_coefficient,
    model_choke_flow,
    model_efficiency,
    model_flow,
    model_pressure_ratio,
)
from boostproof.physics.compressor_table import CompressorTable, choke_flow_of_lines, surge_line

Floats = NDArray[np.float64]

# What a good gas stand keeps to; only the proportion between the three matters to the fit.
_FLOW_SHARE, _HEAD_STEP, _EFFICIENCY_STEP = 0.01, 0.006, 0.01
_HEAD_SPREAD = 0.03  # of usual wheels, as in the prior of a car
_USUAL_TIP_SPEED = 450.0  # m/s at the fastest line of a table, to start from
_ROUNDS, _STILL = 30, 1e-5  # of weighting anew, and the step that ends them, of the scale of each number

_FIELDS = ("diameter", "area", "head", "work", "work_slope")
_LIMITS = {
    name: (layout.parameter(f"compressor_{name}").low, layout.parameter(f"compressor_{name}").high)
    for name in _FIELDS
}


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
    flow_rms : model less table at the table's pressure ratio [kg/s]
    pressure_ratio_rms : at the table's flow, as a share, over the points that the model can pass [1]
    efficiency_rms : at the table's pressure ratio and flow [1]
    surge_share : mean over the lines of the table's least flow over the model's choke flow [1]
    lines : the same, line by line, slowest first
    """

    numbers: CompressorNumbers
    uncertainty: dict[str, float]
    at_limit: tuple[str, ...]
    flow_rms: float
    pressure_ratio_rms: float
    efficiency_rms: float
    surge_share: float
    lines: tuple[LineErrors, ...]


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
    search = _Search(table, diameter)
    x, uncertainty = search.settle()
    numbers = search.numbers(x)
    if diameter is None:
        _check_diameter(table, numbers.diameter)
    return _described(table, numbers, uncertainty, search.at_limit(x))


class _Search:
    """Least squares over the numbers that are free, with weights that follow the solution."""

    def __init__(self, table: CompressorTable, diameter: float | None) -> None:
        self.table, self.diameter = table, diameter
        self.free = _FIELDS if diameter is None else _FIELDS[1:]
        self.low, self.high = np.array([_LIMITS[name] for name in self.free]).T
        self.largest = choke_flow_of_lines(table)[table.line]

    def numbers(self, x: Floats) -> CompressorNumbers:
        values = dict(zip(self.free, (float(v) for v in x), strict=True))
        return CompressorNumbers(**({} if self.diameter is None else {"diameter": self.diameter}), **values)

    def start(self) -> Floats:
        """Usual coefficients, and the area that chokes at the largest flow of the table."""
        fastest = self.table.line_speed[-1]
        diameter = self.diameter or float(np.clip(2.0 * _USUAL_TIP_SPEED / fastest, *_LIMITS["diameter"]))
        unit = CompressorNumbers(diameter, 1.0, USUAL_HEAD, USUAL_WORK, USUAL_WORK_SLOPE)
        area = float(self.table.corrected_flow.max() / model_choke_flow(fastest, unit, self.table.reference))
        begin = np.array([{**vars(unit), "area": area}[name] for name in self.free])
        inside = 1e-9 * (self.high - self.low)
        return np.asarray(np.clip(begin, self.low + inside, self.high - inside))

    def weights(self, x: Floats) -> Floats:
        numbers, speed, reference = self.numbers(x), self.table.corrected_speed, self.table.reference
        psi = head_coefficient(self.table.pressure_ratio, speed, numbers, reference)
        more, less = (flow_at_head(psi + s, speed, numbers, reference) for s in (_HEAD_STEP, -_HEAD_STEP))
        return np.asarray(1.0 / np.hypot(_FLOW_SHARE * self.largest, 0.5 * (more - less)))

    def residuals(self, x: Floats, weight: Floats, scatter: float) -> Floats:
        numbers = self.numbers(x)
        parts = [
            _flow_error(self.table, numbers) * weight,
            _efficiency_error(self.table, numbers) / _EFFICIENCY_STEP,
        ]
        if self.diameter is None:
            parts.append(np.array([(numbers.head - USUAL_HEAD) / _HEAD_SPREAD * scatter]))
        return np.concatenate(parts)

    def settle(self) -> tuple[Floats, dict[str, float]]:
        """The free numbers, and the standard uncertainty of all five."""
        x = self.start()
        scale = np.maximum(np.abs(x), 0.05 * (self.high - self.low))
        points = 2 * self.table.corrected_flow.size
        scatter = 1.0
        for _ in range(_ROUNDS):
            solution: Any = least_squares(
                self.residuals, x, bounds=(self.low, self.high), x_scale=scale, max_nfev=200,
                args=(self.weights(x), scatter),
            )  # fmt: skip
            moved = np.abs(solution.x - x) / scale
            x, scatter = solution.x, _rms(solution.fun[:points])
            if solution.success and moved.max() < _STILL:
                break
        else:
            raise NotDoneError(
                "The fit of the compressor table did not settle.",
                kind="no-solution",
                where="fit_compressor",
                do="Check the units of the table and its reference air.",
            )
        square = solution.fun**2
        square[points:] = scatter**2  # what is usual is no measurement with an error of its own
        deviation = _robust_deviation(solution.jac, square)
        return x, dict.fromkeys(_FIELDS, 0.0) | dict(zip(self.free, deviation, strict=True))

    def at_limit(self, x: Floats) -> tuple[str, ...]:
        edge = 1e-4 * (self.high - self.low)
        there = (x < self.low + edge) | (x > self.high - edge)
        return tuple(name for name, at_edge in zip(self.free, there, strict=True) if at_edge)


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


def _flow_error(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    model = model_flow(table.pressure_ratio, table.corrected_speed, numbers, table.reference)
    return np.asarray(model - table.corrected_flow)


def _efficiency_error(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    model = model_efficiency(
        table.pressure_ratio, table.corrected_flow, table.corrected_speed, numbers, table.reference
    )
    return np.asarray(model - table.efficiency)


def _ratio_error(table: CompressorTable, numbers: CompressorNumbers) -> Floats:
    model = model_pressure_ratio(table.corrected_flow, table.corrected_speed, numbers, table.reference)
    return np.asarray(model / table.pressure_ratio - 1.0)


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
    flow, efficiency, ratio = (error(table, numbers) for error in (_flow_error, _efficiency_error, _ratio_error))
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
        pressure_ratio_rms=_rms(ratio[passes]),
        efficiency_rms=_rms(efficiency),
        surge_share=float(surge.mean()),
        lines=tuple(lines),
    )
