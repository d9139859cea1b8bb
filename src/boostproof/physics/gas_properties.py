"""Specific heats, gamma and gas constant of moist air and of burnt petrol mixture over temperature.

The transient model runs on the fixed triples of ``gas.py``; this module says what those stand for and
what they cost away from their temperature. Ideal gases, each species by its seven-coefficient polynomial.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.physics.ranges import within

#: Atomic H/C of petrol without oxygenates; summer and winter grades lie at about 1.75 to 2.0.
PETROL_HYDROGEN_CARBON_RATIO = 1.87
#: ``[CO][H2O] / ([CO2][H2])`` at which rich exhaust freezes, about 1740 K (Spindt; Heywood 1988, section
#: 4.9, from memory).
WATER_GAS_CONSTANT = 3.5

_UNIVERSAL = 8.314462618  # J/(mol K), exact since 2019
_BREAK = 1000.0  # K, where the two polynomials of a species meet

# Standard atomic masses, IUPAC abridged. [g/mol]
_H, _C, _N, _O, _AR = 1.008, 12.011, 14.007, 15.999, 39.95

#: Order of the species in every array of this module.
SPECIES = ("N2", "O2", "Ar", "CO2", "H2O", "CO", "H2")
_MOLAR_MASS = 1e-3 * np.array([2 * _N, 2 * _O, _AR, _C + 2 * _O, 2 * _H + _O, _C + _O, 2 * _H])  # kg/mol

# cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4, and a6 that completes h/R, below and above 1000 K; valid
# from 200 K. McBride, Gordon and Reno, NASA TM-4513 (1993), read in an open thermodynamic data file.
_BELOW = np.array([
    [3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628],
    [3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356],
    [2.5, 0.0, 0.0, 0.0, 0.0, -745.375],
    [2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697],
    [4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267],
    [3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086],
    [2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173],
]).T  # fmt: skip
_ABOVE = np.array([
    [2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645],
    [3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725],
    [2.5, 0.0, 0.0, 0.0, 0.0, -745.375],
    [4.63659493, 2.74131991e-3, -9.95828531e-7, 1.60373011e-10, -9.16103468e-15, -49024.9341],
    [2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15, -29885.8938],
    [3.04848583, 1.35172818e-3, -4.85794075e-7, 7.88536486e-11, -4.69807489e-15, -14266.1171],
    [2.93286579, 8.26607967e-4, -1.46402335e-7, 1.54100359e-11, -6.88804432e-16, -813.065597],
]).T  # fmt: skip

# Dry air by volume as in the standard atmosphere, CO2 at 400 ppm as in CIPM-2007 (from memory).
_DRY_AIR = np.array([0.78084, 0.20946, 0.00934, 0.00040, 0.0, 0.0, 0.0])
_DRY_AIR /= _DRY_AIR.sum()
_AIR_MOLAR_MASS = float(_DRY_AIR @ _MOLAR_MASS)
_WATER = SPECIES.index("H2O")


@dataclass(frozen=True)
class GasProperties:
    """A consistent triple: ``gas_constant = cp (gamma - 1) / gamma``.

    Attributes
    ----------
    cp : at constant pressure [J/(kg K)]
    gamma : cp / cv [1]
    gas_constant : [J/(kg K)]
    """

    cp: NDArray[np.float64]
    gamma: NDArray[np.float64]
    gas_constant: NDArray[np.float64]


def air_properties(temperature: ArrayLike, humidity_ratio: ArrayLike = 0.0) -> GasProperties:
    """Properties of air, dry or moist, as an ideal gas.

    ``cp = sum x_i cp_i / sum x_i M_i`` over N2, O2, Ar, CO2 and H2O.

    Parameters
    ----------
    temperature : any shape, 220 to 700 [K]
    humidity_ratio : water over dry air, by mass, 0 to 0.1; broadcast with the temperature [kg/kg]

    Returns
    -------
    GasProperties
        Each of the broadcast shape.

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    The real gas has a cp higher by 0.16 % at 300 K and 100 kPa, by 0.47 % at 300 kPa (CoolProp).
    Source of the species' polynomials: NASA TM-4513 (1993).

    Examples
    --------
    >>> air = air_properties(298.15)
    >>> round(float(air.cp), 1), round(float(air.gamma), 4), round(float(air.gas_constant), 2)
    (1004.7, 1.4, 287.04)
    >>> round(float(air_properties(298.15, 0.012).cp), 1)
    1014.9
    """
    t = _air_temperature(temperature, "air_properties")
    return _properties(t, _moist_air(humidity_ratio, "air_properties"))


def exhaust_properties(
    temperature: ArrayLike,
    mixture: ArrayLike,
    *,
    hydrogen_carbon_ratio: ArrayLike = PETROL_HYDROGEN_CARBON_RATIO,
    humidity_ratio: ArrayLike = 0.0,
) -> GasProperties:
    """Properties of completely burnt petrol mixture as an ideal gas of frozen composition.

    Parameters
    ----------
    temperature : any shape, 200 to 1600 [K]
    mixture : lambda, 0.65 to 1.4 [1]
    hydrogen_carbon_ratio : atomic H/C of the fuel, 1 to 4 [1]
    humidity_ratio : of the intake air, 0 to 0.1 [kg/kg]

    Returns
    -------
    GasProperties
        Each of the broadcast shape.

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    See :func:`burnt_composition` for what the composition leaves out. Below its dew point (324 K at
    101 kPa and lambda 1) exhaust holds less water vapour than this. Source of the polynomials: NASA TM-4513 (1993).

    Examples
    --------
    >>> hot = exhaust_properties(1100.0, [0.85, 1.0])
    >>> [round(float(value), 4) for value in hot.gamma]
    [1.2952, 1.2876]
    """
    t = _exhaust_temperature(temperature, "exhaust_properties")
    return _properties(t, _burnt(mixture, hydrogen_carbon_ratio, humidity_ratio, "exhaust_properties"))


def mean_cp_air(
    temperature_from: ArrayLike, temperature_to: ArrayLike, humidity_ratio: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Mean cp of air between two temperatures, ``(h2 - h1) / (T2 - T1)``; cp itself where they are equal.

    Parameters
    ----------
    temperature_from, temperature_to : any shapes, 220 to 700 [K]
    humidity_ratio : 0 to 0.1 [kg/kg]

    Returns
    -------
    ndarray
        Broadcast shape. [J/(kg K)]

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    Source of the species' polynomials: NASA TM-4513 (1993).

    Examples
    --------
    >>> round(float(mean_cp_air(298.15, 400.0)), 1)
    1008.8
    """
    first = _air_temperature(temperature_from, "mean_cp_air")
    second = _air_temperature(temperature_to, "mean_cp_air")
    return _mean_cp(first, second, _moist_air(humidity_ratio, "mean_cp_air"))


def mean_cp_exhaust(
    temperature_from: ArrayLike,
    temperature_to: ArrayLike,
    mixture: ArrayLike,
    *,
    hydrogen_carbon_ratio: ArrayLike = PETROL_HYDROGEN_CARBON_RATIO,
    humidity_ratio: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Mean cp of burnt mixture between two temperatures, as :func:`mean_cp_air`.

    Parameters
    ----------
    temperature_from, temperature_to : any shapes, 200 to 1600 [K]
    mixture, hydrogen_carbon_ratio, humidity_ratio : as in :func:`exhaust_properties`

    Returns
    -------
    ndarray
        Broadcast shape. [J/(kg K)]

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    Source of the species' polynomials: NASA TM-4513 (1993).

    Examples
    --------
    >>> round(float(mean_cp_exhaust(298.15, 1200.0, 1.0)), 1)
    1185.3
    """
    first = _exhaust_temperature(temperature_from, "mean_cp_exhaust")
    second = _exhaust_temperature(temperature_to, "mean_cp_exhaust")
    share = _burnt(mixture, hydrogen_carbon_ratio, humidity_ratio, "mean_cp_exhaust")
    return _mean_cp(first, second, share)


def stoichiometric_air_fuel(
    hydrogen_carbon_ratio: ArrayLike = PETROL_HYDROGEN_CARBON_RATIO,
) -> NDArray[np.float64]:
    """Mass of dry air that just burns a mass of the fuel CHy: ``(1 + y/4) M_air / (x_O2 M_fuel)``.

    Parameters
    ----------
    hydrogen_carbon_ratio : atomic H/C, 1 to 4, of a fuel without oxygen (no ethanol) [1]

    Returns
    -------
    ndarray
        Same shape. [kg/kg]

    Raises
    ------
    InputRangeError
        Outside this range.

    Notes
    -----
    Source: the balance of atoms, as in any text on combustion.

    Examples
    --------
    >>> round(float(stoichiometric_air_fuel(1.87)), 2)
    14.6
    """
    y = _hydrogen(hydrogen_carbon_ratio, "stoichiometric_air_fuel")
    oxygen = float(_DRY_AIR[SPECIES.index("O2")])
    return np.asarray((1.0 + 0.25 * y) * _AIR_MOLAR_MASS / oxygen / (1e-3 * (_C + _H * y)))


def burnt_composition(
    mixture: ArrayLike,
    *,
    hydrogen_carbon_ratio: ArrayLike = PETROL_HYDROGEN_CARBON_RATIO,
    humidity_ratio: ArrayLike = 0.0,
) -> dict[str, NDArray[np.float64]]:
    """Mole fractions of completely burnt mixture, water as vapour.

    Lean: CO2, H2O and the oxygen left over. Rich: all oxygen used, CO2, CO, H2O and H2 by
    ``[CO][H2O] = 3.5 [CO2][H2]``.

    Parameters
    ----------
    mixture : lambda, any shape, 0.65 to 1.4 [1]
    hydrogen_carbon_ratio : atomic H/C of a fuel without oxygen, 1 to 4 [1]
    humidity_ratio : of the intake air, 0 to 0.1 [kg/kg]

    Returns
    -------
    dict of str to ndarray
        One array of the broadcast shape for each of :data:`SPECIES`; together 1. [1]

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    Left out: unburnt fuel, NO, soot, and the CO that real engines emit at lambda 1 and above; together of
    the order of 1 % by volume (from memory). Richer than 0.65 soot and methane would matter.
    Source: Heywood 1988, section 4.9 (from memory) and the balance of atoms.

    Examples
    --------
    >>> rich = burnt_composition(0.85)
    >>> {name: round(float(share), 4) for name, share in rich.items() if name in ("CO2", "CO", "H2")}
    {'CO2': 0.1017, 'CO': 0.0492, 'H2': 0.0171}
    """
    share = _burnt(mixture, hydrogen_carbon_ratio, humidity_ratio, "burnt_composition")
    return dict(zip(SPECIES, share, strict=True))


def _air_temperature(temperature: ArrayLike, where: str) -> NDArray[np.float64]:
    return within(
        temperature, 220.0, 700.0, name="temperature of air", unit="K", where=where,
        do="Check the unit; temperatures are in kelvin.",
    )  # fmt: skip


def _exhaust_temperature(temperature: ArrayLike, where: str) -> NDArray[np.float64]:
    return within(
        temperature, 200.0, 1600.0, name="temperature of exhaust", unit="K", where=where,
        do="Check the unit; temperatures are in kelvin.",
    )  # fmt: skip


def _humidity(humidity_ratio: ArrayLike, where: str) -> NDArray[np.float64]:
    return within(
        humidity_ratio, 0.0, 0.1, name="humidity_ratio", unit="kg/kg", where=where,
        do="It is kilograms of water per kilogram of dry air, not per cent.",
    )  # fmt: skip


def _hydrogen(hydrogen_carbon_ratio: ArrayLike, where: str) -> NDArray[np.float64]:
    return within(
        hydrogen_carbon_ratio, 1.0, 4.0, name="hydrogen_carbon_ratio", unit="", where=where,
        do="It counts atoms; petrol has about 1.87.",
    )  # fmt: skip


def _moist_air(humidity_ratio: ArrayLike, where: str) -> NDArray[np.float64]:
    """Mole fractions, species first."""
    water = _humidity(humidity_ratio, where) * _AIR_MOLAR_MASS / _MOLAR_MASS[_WATER]  # mol per mol dry air
    moles = np.multiply.outer(_DRY_AIR, np.ones_like(water))
    moles[_WATER] = water
    return np.asarray(moles / (1.0 + water))


def _burnt(
    mixture: ArrayLike, hydrogen_carbon_ratio: ArrayLike, humidity_ratio: ArrayLike, where: str
) -> NDArray[np.float64]:
    """Mole fractions, species first."""
    rich = within(
        mixture, 0.65, 1.4, name="mixture", unit="", where=where, do="It is lambda, not the air-fuel ratio."
    )
    y = _hydrogen(hydrogen_carbon_ratio, where)
    moist = _humidity(humidity_ratio, where) * _AIR_MOLAR_MASS / _MOLAR_MASS[_WATER]
    rich, y, moist = np.broadcast_arrays(rich, y, moist)
    nitrogen, oxygen, argon, dioxide = (float(share) for share in _DRY_AIR[:4])
    # Moles per mole of carbon in the fuel.
    air = rich * (1.0 + 0.25 * y) / oxygen
    water_in = air * moist
    carbon = 1.0 + air * dioxide
    hydrogen = 0.5 * y + water_in
    oxygen_atoms = 2.0 * air * (oxygen + dioxide) + water_in
    # CO2 + H2O takes what oxygen there is beyond one atom for each carbon, at most one for all.
    both = np.minimum(oxygen_atoms - carbon, carbon + hydrogen)
    # Positive root of (K - 1) x^2 + [K (hydrogen - both) + carbon + both] x = carbon both, x the CO2.
    middle = WATER_GAS_CONSTANT * (hydrogen - both) + carbon + both
    product = carbon * both
    root = np.sqrt(middle * middle + 4.0 * (WATER_GAS_CONSTANT - 1.0) * product)
    co2 = 2.0 * product / (middle + root)
    water = both - co2
    left = 0.5 * (oxygen_atoms - carbon - both)
    moles = np.stack(
        [air * nitrogen, left, air * argon, co2, water, carbon - co2, hydrogen - water]
    )
    return np.asarray(np.maximum(moles, 0.0) / moles.sum(axis=0))  # lean, CO and H2 are rounding only


def _powers(temperature: NDArray[np.float64], weights: tuple[float, ...]) -> NDArray[np.float64]:
    """Sum over the coefficients of ``weights_k a_k T**k`` for each species: species, then the shape."""
    t = temperature

    def value(table: NDArray[np.float64]) -> NDArray[np.float64]:
        total = np.zeros(table.shape[1:] + t.shape)
        for row, weight in zip(table[4::-1], weights[::-1], strict=True):
            total = total * t + weight * row.reshape((-1,) + (1,) * t.ndim)
        return total

    return np.where(t < _BREAK, value(_BELOW), value(_ABOVE))


def _enthalpy(temperature: NDArray[np.float64]) -> NDArray[np.float64]:
    """Molar enthalpy over the universal gas constant, for each species. [K]"""
    t = temperature
    constant = np.where(t < _BREAK, *(table[5].reshape((-1,) + (1,) * t.ndim) for table in (_BELOW, _ABOVE)))
    return np.asarray(t * _powers(t, (1.0, 1 / 2, 1 / 3, 1 / 4, 1 / 5)) + constant)


def _mix(share: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum over the species, which both arrays have first; the other axes are broadcast from the right."""
    ndim = max(share.ndim, values.ndim)
    wide = [part.reshape(part.shape[:1] + (1,) * (ndim - part.ndim) + part.shape[1:]) for part in (share, values)]
    return np.asarray((wide[0] * wide[1]).sum(axis=0))


def _properties(temperature: NDArray[np.float64], share: NDArray[np.float64]) -> GasProperties:
    heat = _mix(share, _powers(temperature, (1.0,) * 5))
    gas_constant = np.broadcast_to(_UNIVERSAL / _mix(share, _MOLAR_MASS), heat.shape)
    return GasProperties(np.asarray(heat * gas_constant), np.asarray(heat / (heat - 1.0)), gas_constant)


def _mean_cp(
    first: NDArray[np.float64], second: NDArray[np.float64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    first, second = np.broadcast_arrays(first, second)
    rise = second - first
    # Over less than a hundredth of a kelvin the difference of enthalpies is rounding; cp is the same.
    equal = np.abs(rise) < 0.01
    difference = _enthalpy(second) - _enthalpy(first)
    mean = np.where(equal, _powers(first, (1.0,) * 5), difference / np.where(equal, 1.0, rise))
    return np.asarray(_UNIVERSAL * _mix(share, mean) / _mix(share, _MOLAR_MASS))
