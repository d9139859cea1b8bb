"""Published forms of compressor maps, to measure the model's own form against.

Tables made by them stand in for maps of real compressors, of which none is kept here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.physics.gas import AIR_GAMMA

Floats = NDArray[np.float64]


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

    Notes
    -----
    Source: Leufven, LIU-TEK-LIC-2010:32; Llamas & Eriksson, J. Eng. Gas Turb. Power 139(1) 012601 (abstracts
    read, equations from memory).

    Examples
    --------
    >>> shape = (0.9, 0.7, 2.0, 2.2, 1.0, 2.0, 3.0, 2.35, 0.12, 1.4)  # c5 to c14, invented
    >>> form = SuperEllipse((0.116, 0.133, 2.2, 0.9, *shape), 18000.0)
    >>> round(float(form.flow(2.2, 14000.0)), 3)
    0.192
    """

    coefficients: tuple[float, ...]
    speed_reference: float

    def sub_functions(self, speed: ArrayLike) -> dict[str, NDArray[np.float64]]:
        """The five at a corrected speed [rad/s]: W_Ch, W_ZSL [kg/s], PI_Ch, PI_ZSL, CUR [1]."""
        c, n = self.coefficients, np.asarray(speed, float) / self.speed_reference
        return {
            "W_Ch": np.asarray(c[0] + c[1] * np.arctan(c[2] * n - c[3])),
            "PI_Ch": np.asarray(c[4] + c[5] * n ** c[6]),
            "CUR": np.asarray(c[7] + c[8] * n ** c[9]),
            "PI_ZSL": np.asarray(1.0 + c[10] * n ** c[11]),
            "W_ZSL": np.asarray(c[12] * n ** c[13]),
        }

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
