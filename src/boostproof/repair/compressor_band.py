"""Where the candidates run on a compressor's map, as found and after the repair."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from boostproof.bench.response import Array
from boostproof.physics.corrected import SAE_J1826, ReferenceConditions, corrected_flow
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.repair.bands import QUANTILES, quantiles
from boostproof.repair.ramp import Ramp, run
from boostproof.repair.subjects import Subjects

_CARS = 200


@dataclass(frozen=True)
class CompressorBand:
    """Corrected flow and pressure ratio along the ramp, nine in ten candidates between the outer rows.

    Attributes
    ----------
    speeds : of the engine, (slots,) [rad/s]
    flow, ratio : (3, slots) low, middle and high after the repair [kg/s], [1]
    found_flow, found_ratio : (slots,) middle as found
    reference : air that the flow is told for
    """

    speeds: Array = field(repr=False)
    flow: Array = field(repr=False)
    ratio: Array = field(repr=False)
    found_flow: Array = field(repr=False)
    found_ratio: Array = field(repr=False)
    reference: ReferenceConditions


def compressor_band(cars: Subjects, repaired: Array, ramp: Ramp, *, temperature: float) -> CompressorBand:
    """Drive some 200 of the cars, drawn by their weights, as found and repaired.

    Parameters
    ----------
    cars : as found
    repaired : (parameters, n) the same cars after the repair
    ramp : to be driven
    temperature : of the air around [K]
    """
    places = np.searchsorted(np.cumsum(cars.weight), (np.arange(_CARS) + 0.5) / _CARS).clip(0, cars.count - 1)

    def driven(par: Array) -> tuple[Array, Array]:
        outputs = run(par[:, places], ramp)
        flow = corrected_flow(cars.ambient, temperature, outputs[:, OUTPUT_INDEX["air_flow"]], SAE_J1826)
        ratio = np.asarray(outputs[:, OUTPUT_INDEX["compressor_outlet_pressure"]], float) / cars.ambient
        even = np.ones(_CARS)
        return quantiles(flow, even, QUANTILES), quantiles(ratio, even, QUANTILES)

    (found_flow, found_ratio), (flow, ratio) = driven(cars.actual), driven(repaired)
    return CompressorBand(ramp.speeds, flow, ratio, found_flow[1], found_ratio[1], SAE_J1826)
