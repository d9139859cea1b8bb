"""Surge: how far an operating point is from it, and at which frequency a system surges.

The transient model's own speed lines fall from choke to no flow and never rise again: it lets a surging
wheel pass less and less, but does not pulse. What a log or an ear shows of surge, a flutter of 5 to 20 Hz,
is reckoned here beside it, by Greitzer's one-dimensional system of duct, compressor, volume and throttle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import solve_ivp

from boostproof.errors import InputRangeError
from boostproof.physics.compressor_map import (
    CompressorNumbers,
    model_choke_flow,
    model_flow,
    model_pressure_ratio,
)
from boostproof.physics.corrected import ReferenceConditions
from boostproof.physics.gas import AIR_GAMMA, AIR_GAS_CONSTANT

#: Flow at the surge line over choke flow of the same speed; 0.3 on slow lines to 0.5 on fast ones. Common
#: practice, no source. Where a map is known, take ``CompressorFit.surge_share``.
USUAL_SURGE_SHARE = 0.40

_SLOWEST_TIP, _FASTEST_TIP = 20.0, 800.0  # m/s, between which an operating point is looked for


@dataclass(frozen=True)
class SurgeMargin:
    """Distance from surge at constant speed; arrays of the shape of the operating points.

    Attributes
    ----------
    margin : ``(PI_s / W_s) / (PI / W) - 1``; negative left of the surge line [1]
    flow_share : flow over choke flow of that speed [1]
    speed : corrected speed of the operating point [rad/s]
    """

    margin: NDArray[np.float64]
    flow_share: NDArray[np.float64]
    speed: NDArray[np.float64]


def surge_margin(
    pressure_ratio: ArrayLike,
    flow: ArrayLike,
    numbers: CompressorNumbers,
    reference: ReferenceConditions,
    *,
    surge_share: float = USUAL_SURGE_SHARE,
) -> SurgeMargin:
    """Surge margin of operating points on the model's form of a compressor.

    Parameters
    ----------
    pressure_ratio : outlet over inlet total pressure, any shape, above 1 to 8 [1]
    flow : corrected flow, broadcast with it, positive [kg/s]
    numbers, reference : the compressor, and the air that the flow is corrected to
    surge_share : flow at the surge line over choke flow of the same speed [1]

    Returns
    -------
    SurgeMargin

    Raises
    ------
    InputRangeError
        If a pressure ratio or flow is out of range, if no tip speed from 20 to 800 m/s gives the point, or if
        ``surge_share`` is not within 0.1 and 0.9.

    Notes
    -----
    The margin at constant speed as compressor texts define it. The surge line is a share of choke flow, since
    the five numbers do not hold one.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> at = surge_margin([2.0, 2.0], [0.16, 0.06], wheel, SAE_J1826)
    >>> [bool(m > 0) for m in at.margin]
    [True, False]
    """
    ratio, w = np.broadcast_arrays(np.asarray(pressure_ratio, float), np.asarray(flow, float))
    if not np.all((ratio > 1.0) & (ratio <= 8.0) & (w > 0.0) & np.isfinite(w)):
        raise _refused("surge_margin", "pressure_ratio must lie between 1 and 8, and flow must be positive.")
    if not 0.1 <= surge_share <= 0.9:
        raise _refused("surge_margin", f"surge_share must lie between 0.1 and 0.9, got {surge_share:g}.")
    low = np.full(w.shape, 2.0 * _SLOWEST_TIP / numbers.diameter)
    high = np.full(w.shape, 2.0 * _FASTEST_TIP / numbers.diameter)
    out = model_flow(ratio, high, numbers, reference) < w
    if np.any(out):
        i = int(np.flatnonzero(out)[0])
        raise _refused(
            "surge_margin",
            f"{w.flat[i]:g} kg/s at pressure ratio {ratio.flat[i]:g} is beyond this compressor at any speed.",
            "Check the unit of the flow, and whether the flow of one compressor is meant.",
        )
    for _ in range(60):  # halving: at one pressure ratio the flow rises with speed
        middle = 0.5 * (low + high)
        enough = model_flow(ratio, middle, numbers, reference) >= w
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    choked = model_choke_flow(high, numbers, reference)
    at_surge = surge_share * choked
    ratio_there = model_pressure_ratio(at_surge, high, numbers, reference)
    return SurgeMargin(np.asarray(ratio_there / at_surge * w / ratio - 1.0), np.asarray(w / choked), high)


def sound_speed(temperature: ArrayLike) -> NDArray[np.float64]:
    """Speed of sound in air, ``sqrt(gamma R T)``. [m/s] from [K]

    >>> round(float(sound_speed(288.15)), 1)
    340.3
    """
    return np.asarray(np.sqrt(AIR_GAMMA * AIR_GAS_CONSTANT * np.asarray(temperature, float)))


def equivalent_length(lengths: ArrayLike, areas: ArrayLike, area: float) -> float:
    """Length of one duct of ``area`` with the inertia of ducts in a row, ``A sum(l_i / A_i)``. [m]

    Parameters
    ----------
    lengths, areas : of each duct between the open end and the volume, the compressor's passage included,
        shape (n,) [m], [m2]
    area : that the answer refers to [m2]

    Examples
    --------
    >>> equivalent_length([0.5, 0.3], [2.0e-3, 1.0e-3], 1.0e-3)
    0.55
    """
    return float(area * np.sum(np.asarray(lengths, float) / np.asarray(areas, float)))


def helmholtz_frequency(
    sound: ArrayLike, volume: ArrayLike, area: ArrayLike, length: ArrayLike
) -> NDArray[np.float64]:
    """Frequency of air in a duct swinging against a volume, ``a / (2 pi) sqrt(A / (V L))``.

    Parameters
    ----------
    sound : speed of sound in the volume [m/s]
    volume : between compressor and throttle [m3]
    area, length : of the duct through the compressor, see `equivalent_length` [m2], [m]

    Returns
    -------
    ndarray
        Broadcast shape. [Hz]

    Raises
    ------
    InputRangeError
        If any is not positive.

    Notes
    -----
    Any text on acoustics. A surging system pulses at this frequency only where surge just begins; deep surge
    has to empty and fill the volume and is slower (`surge_cycle`).

    Examples
    --------
    >>> round(float(helmholtz_frequency(370.0, 8e-3, 1.5e-3, 0.8)), 1)
    28.5
    """
    a, v, s, x = _positive("helmholtz_frequency", sound=sound, volume=volume, area=area, length=length)
    return np.asarray(a / (2.0 * np.pi) * np.sqrt(s / (v * x)))


def greitzer_b(
    tip: ArrayLike, sound: ArrayLike, volume: ArrayLike, area: ArrayLike, length: ArrayLike
) -> NDArray[np.float64]:
    """Greitzer's B, ``U / (2 a) sqrt(V / (A L))``: what the volume stores over the inertia of the duct.

    Parameters
    ----------
    tip : tip speed of the wheel [m/s]
    sound, volume, area, length : as `helmholtz_frequency`

    Returns
    -------
    ndarray
        Broadcast shape. The larger, the deeper and slower surge is. [1]

    Raises
    ------
    InputRangeError
        If any is not positive.

    Notes
    -----
    Source: Greitzer, J. Eng. Power 98(2) (1976) 190-198 (from memory).

    Examples
    --------
    >>> round(float(greitzer_b(400.0, 370.0, 8e-3, 1.5e-3, 0.8)), 2)
    1.4
    """
    u, a, v, s, x = _positive("greitzer_b", tip=tip, sound=sound, volume=volume, area=area, length=length)
    return np.asarray(u / (2.0 * a) * np.sqrt(v / (s * x)))


@dataclass(frozen=True)
class SurgeCharacteristic:
    """Pressure rise over flow of a compressor at one speed, with its unstable side, as a cubic.

    ``Psi = Psi_0 + H (1 + 1.5 x - 0.5 x^3)`` with ``x = Phi / W - 1``. Psi is pressure rise over half density
    times tip speed squared, Phi the speed in the duct over tip speed.

    Attributes
    ----------
    shut_off : Psi_0, at no flow [1]
    semi_height : H, half the height from there to the top [1]
    semi_width : W, half the flow at the top [1]

    Notes
    -----
    Source of the form: Moore & Greitzer, J. Eng. Gas Turb. Power 108 (1986) 68-76 (from memory).
    """

    shut_off: float
    semi_height: float
    semi_width: float

    def rise(self, flow: ArrayLike) -> NDArray[np.float64]:
        """Psi at Phi. [1]"""
        x = np.asarray(flow, float) / self.semi_width - 1.0
        return np.asarray(self.shut_off + self.semi_height * (1.0 + 1.5 * x - 0.5 * x**3))


#: A usual turbocharger wheel, estimated: at no flow the air only whirls, head (U2^2 - U1^2)/2 with the
#: inducer's mean radius 0.54 of the outer one (0.71); at the top twice the usual head coefficient 0.60;
#: its flow 0.4 of choke flow in a duct of the inducer's size at 400 m/s.
TURBOCHARGER = SurgeCharacteristic(0.71, 0.245, 0.063)


@dataclass(frozen=True)
class SurgeCycle:
    """One turn of a surge cycle.

    Attributes
    ----------
    frequency_ratio : frequency over Helmholtz frequency [1]
    least_flow, most_flow : duct speed over tip speed; least below 0 is flow backwards, deep surge [1]
    least_rise, most_rise : pressure rise of the volume, in the units of the characteristic [1]
    """

    frequency_ratio: float
    least_flow: float
    most_flow: float
    least_rise: float
    most_rise: float


def surge_cycle(
    b: float, characteristic: SurgeCharacteristic = TURBOCHARGER, flow_share: float = 0.5
) -> SurgeCycle | None:
    """The cycle that duct, compressor, volume and throttle settle into; None where they come to rest.

    Parameters
    ----------
    b : Greitzer's B, 0.02 to 10 [1]
    characteristic : of the compressor at its speed, held
    flow_share : mean flow that the throttle lets through, over flow at the top [1]

    Returns
    -------
    SurgeCycle or None

    Raises
    ------
    InputRangeError
        If B or the share (0.05 to 0.99) is out of range.

    Notes
    -----
    ``dPhi/dt = B (Psi_c(Phi) - Psi)``, ``dPsi/dt = (Phi - g sqrt(Psi)) / B``, time in radians of the
    Helmholtz frequency: Greitzer 1976 without the lag of the compressor. Shaft speed is held; in a car it
    falls within some cycles.

    Examples
    --------
    >>> cycle = surge_cycle(1.4)
    >>> cycle.least_flow < 0.0, round(cycle.frequency_ratio, 2)
    (True, 0.38)
    >>> surge_cycle(0.05) is None
    True
    """
    if not 0.02 <= b <= 10.0:
        raise _refused("surge_cycle", f"b must lie between 0.02 and 10, got {b:g}.")
    if not 0.05 <= flow_share <= 0.99:
        raise _refused("surge_cycle", f"flow_share must lie between 0.05 and 0.99, got {flow_share:g}.")
    flow = flow_share * 2.0 * characteristic.semi_width
    rise = float(characteristic.rise(flow))
    opening = flow / np.sqrt(rise)

    def change(_: float, state: NDArray[np.float64]) -> list[float]:
        phi, psi = float(state[0]), float(state[1])
        out = opening * np.sign(psi) * np.sqrt(abs(psi))
        return [b * (float(characteristic.rise(phi)) - psi), (phi - out) / b]

    def upward(_: float, state: NDArray[np.float64]) -> float:
        return float(state[0] - flow)

    upward.direction = 1.0  # type: ignore[attr-defined]
    # long enough for some cycles: a relaxation cycle lasts about B times its stroke over the throttle's flow
    turns = 20.0
    stiffness = b * characteristic.semi_height / characteristic.semi_width
    end = 2.0 * np.pi * turns * (1.0 + stiffness)
    start = [flow + 0.2 * characteristic.semi_width, rise]
    solution: Any = solve_ivp(
        change, (0.0, end), start, method="LSODA", events=upward, rtol=1e-7, atol=1e-9, dense_output=True
    )
    times = solution.t_events[0]
    late = times[times > 0.5 * end]
    if late.size < 3:
        return None
    t = np.linspace(late[-2], late[-1], 2001)
    phi, psi = solution.sol(t)
    if phi.max() - phi.min() < 0.1 * characteristic.semi_width:  # still dying away
        return None
    period = float(late[-1] - late[0]) / (late.size - 1)
    return SurgeCycle(
        2.0 * np.pi / period, float(phi.min()), float(phi.max()), float(psi.min()), float(psi.max())
    )


def surge_frequency(
    tip: float, temperature: float, volume: float, area: float, length: float
) -> float | None:
    """Frequency at which a turbocharged intake surges; None where it would not. [Hz]

    Parameters
    ----------
    tip : tip speed of the compressor wheel [m/s]
    temperature : of the charge between compressor and throttle [K]
    volume : between compressor and throttle [m3]
    area, length : of the duct through the compressor, see `equivalent_length` [m2], [m]

    Raises
    ------
    InputRangeError
        If any is not positive, or B is not within 0.02 and 10.

    Notes
    -----
    `surge_cycle` of a usual turbocharger wheel times the Helmholtz frequency. Good to a factor of 1.5: the
    unstable side of the characteristic is an estimate.

    Examples
    --------
    >>> 5.0 < surge_frequency(400.0, 340.0, 8e-3, 1.5e-3, 0.8) < 20.0
    True
    """
    sound = sound_speed(temperature)
    cycle = surge_cycle(float(greitzer_b(tip, sound, volume, area, length)))
    if cycle is None:
        return None
    return cycle.frequency_ratio * float(helmholtz_frequency(sound, volume, area, length))


def _positive(where: str, **values: ArrayLike) -> tuple[NDArray[np.float64], ...]:
    arrays = []
    for name, value in values.items():
        array = np.asarray(value, float)
        if not np.all((array > 0.0) & np.isfinite(array)):
            raise _refused(where, f"{name} must be positive, got {array.min():g}.")
        arrays.append(array)
    return tuple(arrays)


def _refused(where: str, says: str, do: str = "") -> InputRangeError:
    return InputRangeError(says, kind="range", where=where, do=do)
