"""The model's own compressor map: flow, efficiency and pressure ratio of one compressor from its five numbers.

`compressor.py` holds the equations as the transient model runs them; here they are asked the way a map is
read, in corrected flow and speed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.physics import compressor
from boostproof.physics.corrected import ReferenceConditions

Floats = NDArray[np.float64]

# The components take arrays or single numbers, carry no annotation, and return slopes behind the value.
_isentropic_head: Callable[..., tuple[Floats, Floats]] = compressor.isentropic_head
_choke_flow: Callable[..., tuple[Floats, Floats]] = compressor.choke_flow
_map_flow: Callable[..., tuple[Floats, Floats]] = compressor.map_flow
_work_coefficient: Callable[..., tuple[Floats, Floats]] = compressor.work_coefficient

_LOWEST_RATIO, _HIGHEST_RATIO = 0.2, 8.0  # pressure ratios that isentropic_head takes

#: Coefficients of a usual wheel, the middle of the prior of a car: head at the surge side, work at no flow and
#: its fall to choke, over tip speed squared. [1]
USUAL_HEAD, USUAL_WORK, USUAL_WORK_SLOPE = 0.62, 0.92, 0.33


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
    0.221
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
    >>> round(float(model_flow(2.2, 14000.0, wheel, SAE_J1826)), 3)
    0.177
    """
    psi = head_coefficient(pressure_ratio, speed, numbers, reference)
    return flow_at_head(psi, speed, numbers, reference)


def flow_at_head(
    head: ArrayLike, speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Corrected flow of the model at a `head_coefficient`; the rest as `model_flow`. [kg/s]

    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> float(flow_at_head(0.62, 14000.0, wheel, SAE_J1826))  # the surge side
    0.0
    """
    share = _map_flow(np.asarray(head, float), numbers.head)[0]
    return np.asarray(share * model_choke_flow(speed, numbers, reference))


def head_coefficient(
    pressure_ratio: ArrayLike, speed: ArrayLike, numbers: CompressorNumbers, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Isentropic head over tip speed squared, as the model forms it. [1]

    Parameters as `model_flow`. A little is added to the square, so that it stays finite in a wheel at rest.

    Examples
    --------
    >>> from boostproof.physics.corrected import SAE_J1826
    >>> wheel = CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
    >>> round(float(head_coefficient(2.0, 14000.0, wheel, SAE_J1826)), 3)
    0.392
    """
    tip = 0.5 * numbers.diameter * np.asarray(speed, float)
    head = _isentropic_head(np.asarray(pressure_ratio, float), reference.temperature)[0]
    return np.asarray(head / (tip * tip + compressor.WINDMILL))


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
    >>> round(float(model_efficiency(2.2, 0.177, 14000.0, wheel, SAE_J1826)), 2)
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
