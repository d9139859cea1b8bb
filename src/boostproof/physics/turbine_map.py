"""A turbine's table of measured points, and what the model's numbers make of it.

Turbine maps come as a flow parameter over the expansion ratio, often as one line only, with or without
efficiency. `fit_turbine` finds the model's effective area, and where efficiency and speed are given, the
best efficiency and the blade speed ratio where it lies. `turbine.py` holds the equations of the model.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics import turbine
from boostproof.physics.corrected import ReferenceConditions
from boostproof.physics.gas import EXHAUST_CP, EXHAUST_GAMMA, EXHAUST_GAS_CONSTANT
from boostproof.physics.map_columns import Column, check_columns, refused

Floats = NDArray[np.float64]

_flow_function: Callable[..., tuple[Floats, Floats]] = turbine.turbine_flow_function
_torque: Callable[..., tuple[Floats, ...]] = turbine.turbine_torque
_ANY_TEMPERATURE = 1000.0  # K; efficiency over blade speed ratio does not depend on it


def isentropic_drop(expansion_ratio: ArrayLike, gamma: float = EXHAUST_GAMMA) -> NDArray[np.float64]:
    """Share of ``cp T03`` that expansion gives at best, ``1 - (p4/p03)^((gamma-1)/gamma)``. [1]

    Parameters
    ----------
    expansion_ratio : total inlet over static outlet pressure, any shape, at least 1 [1]
    gamma : ratio of specific heats [1]

    Raises
    ------
    InputRangeError
        If a ratio is below 1.

    Examples
    --------
    >>> round(float(isentropic_drop(2.0)), 4)
    0.1459
    """
    ratio = np.asarray(expansion_ratio, float)
    if not np.all(ratio >= 1.0):
        raise InputRangeError(
            f"expansion_ratio must be at least 1, got {ratio.min():g}.",
            kind="range",
            where="turbine",
            do="Give inlet over outlet pressure, both absolute.",
        )
    return np.asarray(1.0 - ratio ** (-(gamma - 1.0) / gamma))


def blade_speed_ratio(
    expansion_ratio: ArrayLike,
    temperature_in: ArrayLike,
    speed: ArrayLike,
    diameter: ArrayLike,
    *,
    specific_heat: float = EXHAUST_CP,
    gamma: float = EXHAUST_GAMMA,
) -> NDArray[np.float64]:
    """Rim speed over the speed of an isentropic jet, ``(D w / 2) / sqrt(2 cp T03 (1 - PI^-k))``.

    Parameters
    ----------
    expansion_ratio : total inlet over static outlet pressure, above 1 [1]
    temperature_in : total, before the turbine [K]
    speed : of the shaft [rad/s]
    diameter : of the wheel at its inlet [m]
    specific_heat, gamma : of the gas, a consistent pair [J/(kg K)], [1]

    Returns
    -------
    ndarray
        Broadcast shape; best efficiency lies at 0.60 to 0.70. [1]

    Raises
    ------
    InputRangeError
        If an expansion ratio is not above 1, where no jet is.

    Notes
    -----
    Any text on turbochargers.

    Examples
    --------
    >>> round(float(blade_speed_ratio(
    ...     250 / 115, 1200.0, 150e3 * np.pi / 30, 0.045, specific_heat=1290.0, gamma=1.29)), 4)
    0.5019
    """
    drop = isentropic_drop(expansion_ratio, gamma)
    if not np.all(drop > 0.0):
        raise InputRangeError(
            "expansion_ratio must be above 1 for a blade speed ratio.",
            kind="range",
            where="blade_speed_ratio",
        )
    jet = np.sqrt(2.0 * specific_heat * np.asarray(temperature_in, float) * drop)
    return np.asarray(0.5 * np.asarray(diameter, float) * np.asarray(speed, float) / jet)


@dataclass(frozen=True, eq=False)
class TurbineTable:
    """Measured points of one turbine, row by row, in any order.

    Attributes
    ----------
    expansion_ratio : total inlet over static outlet pressure, shape (n,), above 1 [1]
    flow_parameter : ``m sqrt(T03) / p03``, shape (n,) [kg sqrt(K) / (s Pa)]
    efficiency : total to static, bearings included as most maps have it, shape (n,), or None [1]
    speed_parameter : ``w / sqrt(T03)``, shape (n,), or None [rad / (s sqrt(K))]

    Raises
    ------
    InputRangeError
        Naming the first row (counted from 1) that cannot be; or fewer than three rows.

    Examples
    --------
    >>> TurbineTable([1.5, 2.0, 2.5], [1.7e-5, 1.9e-5, 2.0e-5]).efficiency is None
    True
    """

    expansion_ratio: NDArray[np.float64]
    flow_parameter: NDArray[np.float64]
    efficiency: NDArray[np.float64] | None = None
    speed_parameter: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        check_columns(self, _COLUMNS, _TABLE)
        if self.expansion_ratio.size < 3:
            raise refused(_TABLE, f"a table needs at least three rows, this one has {self.expansion_ratio.size}.")


_TABLE = "turbine table"
_COLUMNS: tuple[Column, ...] = (
    ("expansion_ratio", 1.0, 8.0, "Give the ratio of absolute pressures, inlet over outlet, above 1."),
    ("flow_parameter", 1e-7, 1e-3, "Give kg/s by root kelvin over pascal; per kilopascal is 1000 times."),
    ("efficiency", 0.0, 0.95, "Give the efficiency as a share of one, not in per cent."),
    ("speed_parameter", 10.0, 2000.0, "Give rad/s over the root of kelvin: rpm times 0.10472."),
)


def table_from_corrected(
    expansion_ratio: ArrayLike,
    corrected_flow: ArrayLike,
    reference: ReferenceConditions,
    efficiency: ArrayLike | None = None,
    corrected_speed: ArrayLike | None = None,
) -> TurbineTable:
    """A table from corrected flow [kg/s] and corrected speed [rad/s] in some reference gas state.

    ``m sqrt(T03)/p03 = m_corr sqrt(Tref)/pref``, ``w / sqrt(T03) = w_corr / sqrt(Tref)``. Columns and errors
    as in `TurbineTable`.

    Examples
    --------
    >>> from boostproof.physics.corrected import ISO_2533
    >>> table = table_from_corrected([1.5, 2.0, 2.5], [0.10, 0.115, 0.12], ISO_2533)
    >>> float(round(table.flow_parameter[0] * 1e5, 4))
    1.6753
    """
    root = np.sqrt(reference.temperature)
    return TurbineTable(
        np.asarray(expansion_ratio, float),
        np.asarray(corrected_flow, float) * root / reference.pressure,
        None if efficiency is None else np.asarray(efficiency, float),
        None if corrected_speed is None else np.asarray(corrected_speed, float) / root,
    )


def model_flow_parameter(
    expansion_ratio: ArrayLike, area: float, gas_constant: float = EXHAUST_GAS_CONSTANT
) -> NDArray[np.float64]:
    """Flow parameter of the model, ``A / sqrt(R)`` times its flow function. [kg sqrt(K) / (s Pa)]

    Parameters
    ----------
    expansion_ratio : any shape, at least 1 [1]
    area : effective flow area [m2]
    gas_constant : of the gas [J/(kg K)]

    Examples
    --------
    >>> round(float(model_flow_parameter(1.0, 5e-4)), 9)
    0.0
    """
    root = np.asarray(expansion_ratio, float) ** -0.25
    return np.asarray(area / np.sqrt(gas_constant) * _flow_function(root)[0])


def model_efficiency(
    expansion_ratio: ArrayLike, speed_parameter: ArrayLike, diameter: float, efficiency: float
) -> NDArray[np.float64]:
    """Efficiency of the model, its torque times speed over what isentropic expansion would give.

    Parameters
    ----------
    expansion_ratio, speed_parameter : as in `TurbineTable`, broadcast together
    diameter : of the wheel at its inlet [m]
    efficiency : best [1]

    Returns
    -------
    ndarray
        A parabola in blade speed ratio with its top at the model's optimum. [1]

    Examples
    --------
    >>> round(float(model_efficiency(2.0, 500.0, 0.050, 0.66)), 2)
    0.66
    """
    drop = isentropic_drop(expansion_ratio)
    speed = np.asarray(speed_parameter, float) * np.sqrt(_ANY_TEMPERATURE)
    torque = _torque(1.0, _ANY_TEMPERATURE, 1.0 - drop, speed, diameter, efficiency)[0]
    return np.asarray(torque * speed / (EXHAUST_CP * _ANY_TEMPERATURE * drop))


@dataclass(frozen=True)
class EfficiencyFit:
    """Efficiency over blade speed ratio, ``eta_max (2 b - b^2)`` with ``b = BSR / BSR_opt``.

    Attributes
    ----------
    best, best_uncertainty : efficiency at the optimum the table itself shows [1]
    optimum, optimum_uncertainty : blade speed ratio there [1]
    rms : fit less table [1]
    model_best, model_best_uncertainty : the model's ``turbine_efficiency``, which lies at the optimum that
        the model takes for all turbines [1]
    model_rms : model less table [1]
    span : least and largest blade speed ratio of the table; outside it all this is extrapolated [1]
    """

    best: float
    best_uncertainty: float
    optimum: float
    optimum_uncertainty: float
    rms: float
    model_best: float
    model_best_uncertainty: float
    model_rms: float
    span: tuple[float, float]


@dataclass(frozen=True)
class TurbineFit:
    """The model's numbers of a turbine table, and what they leave unexplained.

    Attributes
    ----------
    area, area_uncertainty : effective flow area [m2]
    flow_rms : model less table, as a share of the table's largest flow parameter [1]
    efficiency : what the efficiencies say; None where efficiency, speed or diameter is missing
    """

    area: float
    area_uncertainty: float
    flow_rms: float
    efficiency: EfficiencyFit | None


def fit_turbine(
    table: TurbineTable,
    *,
    diameter: float | None = None,
    specific_heat: float = EXHAUST_CP,
    gamma: float = EXHAUST_GAMMA,
    gas_constant: float = EXHAUST_GAS_CONSTANT,
) -> TurbineFit:
    """The model's turbine area and efficiency that fit a table best, by least squares.

    Parameters
    ----------
    table : the measured points
    diameter : of the wheel at its inlet; without it efficiency cannot be placed [m]
    specific_heat, gamma, gas_constant : of the gas that the table was measured with, a consistent triple; the
        default is burnt mixture. Cold air is 1004.7, 1.4, 287.05. [J/(kg K)], [1], [J/(kg K)]

    Returns
    -------
    TurbineFit
        Standard uncertainties are those of least squares with independent scatter, estimated from it.

    Raises
    ------
    InputRangeError
        If the diameter is not within 20 and 110 mm, or efficiency does not bend down over the blade speed
        ratios of the table, so that it has no best.

    Notes
    -----
    Flow is one number times the model's flow function. Efficiency is linear in ``2 eta_max / BSR_opt`` and
    ``eta_max / BSR_opt^2``. The parabola is that of Watson & Janota 1982 and of Eriksson (both from memory).

    Examples
    --------
    >>> ratio = np.array([1.5, 2.0, 2.5, 3.0])
    >>> fit = fit_turbine(TurbineTable(ratio, model_flow_parameter(ratio, 5.4e-4)))
    >>> round(fit.area * 1e4, 3), fit.efficiency is None
    (5.4, True)
    """
    unit = model_flow_parameter(table.expansion_ratio, 1.0, gas_constant)
    (area,), (area_sd,), left = _least_squares(unit[:, None], table.flow_parameter)
    left = left / table.flow_parameter.max()
    efficiency = None
    if diameter is not None:
        if not 0.02 <= diameter <= 0.11:
            raise InputRangeError(
                f"diameter must lie between 20 and 110 mm, got {diameter * 1e3:g} mm.",
                kind="range",
                where="fit_turbine",
                do="Give the inlet diameter of the turbine wheel in metres.",
            )
        if table.efficiency is not None and table.speed_parameter is not None:
            bsr = blade_speed_ratio(
                table.expansion_ratio, 1.0, table.speed_parameter, diameter,
                specific_heat=specific_heat, gamma=gamma,
            )  # fmt: skip
            efficiency = _efficiency_fit(bsr, table.efficiency)
    return TurbineFit(area, area_sd, _rms(left), efficiency)


def _efficiency_fit(bsr: Floats, efficiency: Floats) -> EfficiencyFit:
    columns = np.stack([bsr, -bsr * bsr], axis=1)
    (rise, bend), covariance, left = _linear(columns, efficiency)
    if not (bend > 0.0 and rise > 0.0):
        raise InputRangeError(
            f"Efficiency does not bend down over blade speed ratios {bsr.min():.2f} to {bsr.max():.2f}; "
            "it has no best there.",
            kind="range",
            where="fit_turbine",
            do="Check the unit of the speed and the diameter, or give points over more speeds.",
        )
    # eta_max = rise^2 / (4 bend), BSR_opt = rise / (2 bend)
    to_best = np.array([rise / (2.0 * bend), -((rise / bend) ** 2) / 4.0])
    to_optimum = np.array([1.0 / (2.0 * bend), -rise / (2.0 * bend**2)])
    b = bsr / turbine.BLADE_SPEED_OPTIMUM
    (best,), (best_sd,), model_left = _least_squares((2.0 * b - b * b)[:, None], efficiency)
    return EfficiencyFit(
        best=rise**2 / (4.0 * bend),
        best_uncertainty=float(np.sqrt(to_best @ covariance @ to_best)),
        optimum=rise / (2.0 * bend),
        optimum_uncertainty=float(np.sqrt(to_optimum @ covariance @ to_optimum)),
        rms=_rms(left),
        model_best=best,
        model_best_uncertainty=best_sd,
        model_rms=_rms(model_left),
        span=(float(bsr.min()), float(bsr.max())),
    )


def _linear(columns: Floats, values: Floats) -> tuple[list[float], Floats, Floats]:
    """Solution, its covariance from the scatter, and fit less values."""
    solution, *_ = np.linalg.lstsq(columns, values, rcond=None)
    left = columns @ solution - values
    freedom = max(values.size - columns.shape[1], 1)
    covariance = np.linalg.pinv(columns.T @ columns) * float(left @ left) / freedom
    return [float(v) for v in solution], covariance, left


def _least_squares(columns: Floats, values: Floats) -> tuple[list[float], list[float], Floats]:
    """Solution, standard uncertainties, and fit less values."""
    solution, covariance, left = _linear(columns, values)
    return solution, [float(v) for v in np.sqrt(np.diag(covariance))], left


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values * values)))
