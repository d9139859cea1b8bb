"""Air and exhaust against two reference libraries, which share no polynomial with each other.

Cantera with the species of GRI-Mech 3.0, and CoolProp with its multiparameter equations of state at zero
pressure. The two differ by 0.5 % for air at 250 K (GRI's fit), hence 0.6 % against Cantera.
"""

from __future__ import annotations

from collections.abc import Callable

import cantera
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostproof.errors import InputRangeError
from boostproof.physics import gas
from boostproof.physics.gas_properties import (
    SPECIES,
    air_properties,
    burnt_composition,
    exhaust_properties,
    mean_cp_air,
    mean_cp_exhaust,
    stoichiometric_air_fuel,
)

UNIVERSAL = 8.314462618
COOLPROP_NAMES = {
    "N2": "Nitrogen", "O2": "Oxygen", "Ar": "Argon", "CO2": "CarbonDioxide", "H2O": "Water",
    "CO": "CarbonMonoxide", "H2": "Hydrogen",
}  # fmt: skip


@pytest.fixture(scope="module")
def gri30() -> cantera.Solution:
    return cantera.Solution("gri30.yaml")


@pytest.fixture(scope="module")
def nasa() -> cantera.Solution:
    """A gas of our seven species, with the library's copy of the polynomials of NASA TM-4513."""
    every = {species.name: species for species in cantera.Species.list_from_file("nasa_gas.yaml")}
    return cantera.Solution(thermo="ideal-gas", species=[every[name] for name in SPECIES])


def in_cantera(shares: dict[str, np.ndarray]) -> dict[str, float]:
    return {name.upper() if name == "Ar" else name: float(share) for name, share in shares.items()}


@pytest.mark.parametrize(
    ("temperature", "cp"),
    # CoolProp 8.0.0, air at zero pressure; 298.15 K: 1004.7 J/(kg K)
    [(250.0, 1003.1), (298.15, 1004.7), (350.0, 1008.1), (400.0, 1013.3), (500.0, 1029.4), (600.0, 1050.9)],
)
def test_air_at_printed_points(temperature: float, cp: float) -> None:
    assert float(air_properties(temperature).cp) == pytest.approx(cp, rel=1e-3)
    assert PropsSI("CP0MASS", "T", temperature, "P", 1e5, "Air") == pytest.approx(cp, abs=0.05)


@pytest.mark.parametrize("temperature", [250.0, 298.15, 350.0, 400.0, 500.0, 600.0, 700.0])
def test_air_against_both_libraries(gri30: cantera.Solution, temperature: float) -> None:
    air = air_properties(temperature)
    gri30.TPX = temperature, 1e5, "N2:0.78084, O2:0.20946, AR:0.00934, CO2:0.0004"
    assert float(air.cp) == pytest.approx(gri30.cp_mass, rel=6e-3)
    assert float(air.gamma) == pytest.approx(gri30.cp_mass / gri30.cv_mass, rel=3e-3)
    cp0 = PropsSI("CP0MASS", "T", temperature, "P", 1e5, "Air")
    assert float(air.cp) == pytest.approx(cp0, rel=1e-3)
    # gamma of the ideal gas: CoolProp's own R of air, 287.047
    assert float(air.gamma) == pytest.approx(cp0 / (cp0 - 287.047), rel=5e-4)


def test_coldest_air() -> None:
    """CoolProp alone: GRI's fit of nitrogen begins at 300 K."""
    for temperature in (220.0, 235.0):
        cp0 = PropsSI("CP0MASS", "T", temperature, "P", 1e5, "Air")
        assert float(air_properties(temperature).cp) == pytest.approx(cp0, rel=1e-3)


@pytest.mark.parametrize("humidity_ratio", [0.005, 0.012, 0.03])
def test_moist_air_against_cantera(gri30: cantera.Solution, humidity_ratio: float) -> None:
    """Mass fractions given to the library, mole fractions used by us."""
    dry = "N2:0.78084, O2:0.20946, AR:0.00934, CO2:0.0004"
    gri30.TPX = 320.0, 1e5, dry
    mass = gri30.Y / (1.0 + humidity_ratio)
    mass[gri30.species_index("H2O")] = humidity_ratio / (1.0 + humidity_ratio)
    gri30.TPY = 320.0, 1e5, mass
    moist = air_properties(320.0, humidity_ratio)
    assert float(moist.gas_constant) == pytest.approx(1e3 * UNIVERSAL / gri30.mean_molecular_weight, rel=2e-5)
    assert float(moist.cp) == pytest.approx(gri30.cp_mass, rel=6e-3)
    gain = float(moist.cp / air_properties(320.0).cp)
    gri30.TPX = 320.0, 1e5, dry
    without = gri30.cp_mass
    gri30.TPY = 320.0, 1e5, mass
    assert gain == pytest.approx(gri30.cp_mass / without, abs=3e-4)


TEMPERATURES = (300.0, 500.0, 700.0, 900.0, 1000.0, 1100.0, 1200.0, 1300.0)


@pytest.mark.parametrize(
    ("mixture", "cp", "gamma"),
    # Cantera 3.2.0 (gri30), burnt CH1.87 in dry air, frozen; rich by water-gas equilibrium of 3.5
    [
        (1.00, (1056.8, 1112.1, 1171.5, 1234.3, 1262.1, 1285.2, 1306.2, 1325.3),
         (1.3721, 1.3471, 1.3238, 1.3024, 1.2938, 1.2870, 1.2810, 1.2759)),
        (0.85, (1083.1, 1132.5, 1189.2, 1251.4, 1278.9, 1302.1, 1323.3, 1342.5),
         (1.3766, 1.3544, 1.3319, 1.3102, 1.3016, 1.2946, 1.2885, 1.2832)),
    ],
)  # fmt: skip
def test_exhaust_at_printed_points(mixture: float, cp: tuple[float, ...], gamma: tuple[float, ...]) -> None:
    exhaust = exhaust_properties(TEMPERATURES, mixture)
    assert exhaust.cp == pytest.approx(np.array(cp), rel=2e-3)
    assert exhaust.gamma == pytest.approx(np.array(gamma), rel=1e-3)


@pytest.mark.parametrize(("mixture", "gas_constant"), [(1.0, 286.57), (0.85, 296.31), (0.78, 302.04)])
def test_gas_constant_of_exhaust(mixture: float, gas_constant: float) -> None:
    """The same composition worked out apart from this code, molar masses of Cantera."""
    assert float(exhaust_properties(1000.0, mixture).gas_constant) == pytest.approx(gas_constant, abs=0.01)


@pytest.mark.parametrize("mixture", [0.65, 0.85, 1.0, 1.4])
@pytest.mark.parametrize("temperature", [300.0, 700.0, 999.0, 1001.0, 1300.0, 1600.0])
def test_exhaust_against_both_libraries(
    gri30: cantera.Solution, mixture: float, temperature: float
) -> None:
    exhaust = exhaust_properties(temperature, mixture)
    shares = burnt_composition(mixture)
    gri30.TPX = temperature, 1e5, in_cantera(shares)
    assert float(exhaust.cp) == pytest.approx(gri30.cp_mass, rel=2.5e-3)
    molar = sum(
        float(share) * PropsSI("CP0MOLAR", "T", temperature, "P", 1e5, COOLPROP_NAMES[name])
        for name, share in shares.items()
    )
    assert float(exhaust.cp) == pytest.approx(molar * float(exhaust.gas_constant) / UNIVERSAL, rel=2.5e-3)


def test_every_coefficient_is_copied_right(nasa: cantera.Solution) -> None:
    """Cantera's file of NASA TM-4513 holds the same fits: cp and enthalpy of mixtures of all seven species."""
    temperature = np.linspace(200.0, 1600.0, 29)
    for mixture in (0.65, 1.0, 1.4):
        exhaust = exhaust_properties(temperature, mixture, humidity_ratio=0.05)
        mean = mean_cp_exhaust(200.0, temperature[1:], mixture, humidity_ratio=0.05)
        nasa.X = {name: float(share) for name, share in burnt_composition(mixture, humidity_ratio=0.05).items()}
        cp, enthalpy = [], []
        for kelvin in temperature:
            nasa.TP = kelvin, 1e5
            cp.append(nasa.cp_mass)
            enthalpy.append(nasa.enthalpy_mass)
        # atomic masses of the two tables differ in the fifth digit
        assert exhaust.cp == pytest.approx(np.array(cp), rel=3e-6)
        assert exhaust.gamma == pytest.approx(np.array(cp) / (np.array(cp) - exhaust.gas_constant), rel=3e-6)
        assert mean == pytest.approx(np.diff(enthalpy).cumsum() / (temperature[1:] - 200.0), rel=3e-6)


def test_rich_composition_against_an_equilibrium_solver(nasa: cantera.Solution) -> None:
    """Cantera finds the water-gas equilibrium of the same atoms at the temperature where it is 3.5.

    Oxygen is left with these atoms only in traces, so the solver answers the same question by another road.
    """
    def water_gas(temperature: float) -> float:
        nasa.TP = temperature, 1e5
        gibbs = dict(zip(nasa.species_names, nasa.standard_gibbs_RT, strict=True))
        return float(np.exp(gibbs["CO2"] + gibbs["H2"] - gibbs["CO"] - gibbs["H2O"]))

    frozen_at = brentq(lambda temperature: water_gas(temperature) - 3.5, 1200.0, 2500.0)
    assert frozen_at == pytest.approx(1740.0, abs=30.0)  # Heywood 1988, section 4.9 (from memory)
    for mixture in (0.7, 0.85, 0.95):
        ours = burnt_composition(mixture)
        shift = 0.5 * min(float(ours["CO2"]), float(ours["H2"]))  # CO2 + H2 -> CO + H2O, away from the answer
        start = {name: float(share) for name, share in ours.items()}
        for name, way in (("CO2", -1), ("H2", -1), ("CO", 1), ("H2O", 1)):
            start[name] += way * shift
        nasa.TPX = frozen_at, 1e5, start
        nasa.equilibrate("TP")
        for name in ("CO", "CO2", "H2O", "H2"):
            assert float(nasa[name].X[0]) == pytest.approx(float(ours[name]), abs=2e-4), (mixture, name)


def test_stoichiometric_mixture() -> None:
    """CH1.87 14.60 (common figure for petrol 14.6 to 14.7); methane 17.2, octane 15.1 (Heywood app. D)."""
    assert float(stoichiometric_air_fuel(1.87)) == pytest.approx(14.60, abs=0.01)
    assert float(stoichiometric_air_fuel(4.0)) == pytest.approx(17.23, abs=0.05)
    assert float(stoichiometric_air_fuel(2.25)) == pytest.approx(15.13, abs=0.05)
    assert float(stoichiometric_air_fuel()) == pytest.approx(gas.STOICHIOMETRIC_AIR_FUEL, abs=0.01)


@pytest.mark.parametrize("mixture", [0.7, 0.9, 1.0, 1.2])
@pytest.mark.parametrize("humidity_ratio", [0.0, 0.015])
def test_mass_of_exhaust_is_that_of_air_and_fuel(
    gri30: cantera.Solution, mixture: float, humidity_ratio: float
) -> None:
    """Atoms are kept: carbon, hydrogen and oxygen of the burnt gas against what went in."""
    y = 1.87
    burnt = in_cantera(burnt_composition(mixture, humidity_ratio=humidity_ratio))
    gri30.TPX = 300.0, 1e5, burnt
    element = {name: float(gri30.elemental_mass_fraction(name)) for name in ("C", "H", "O", "N", "Ar")}
    assert sum(element.values()) == pytest.approx(1.0, abs=1e-9)
    air = mixture * float(stoichiometric_air_fuel(y))  # dry air per fuel, by mass
    total = air * (1.0 + humidity_ratio) + 1.0
    gri30.TPX = 300.0, 1e5, "N2:0.78084, O2:0.20946, AR:0.00934, CO2:0.0004"
    carbon = 12.011 / (12.011 + 1.008 * y) + air * float(gri30.elemental_mass_fraction("C"))
    hydrogen = 1.008 * y / (12.011 + 1.008 * y) + air * humidity_ratio * 2.016 / 18.015
    assert element["C"] == pytest.approx(carbon / total, rel=2e-4)
    assert element["H"] == pytest.approx(hydrogen / total, rel=2e-4)
    assert element["N"] == pytest.approx(air * float(gri30.elemental_mass_fraction("N")) / total, rel=2e-4)


def test_fixed_triples_of_the_transient_model() -> None:
    """``gas.py``: air 1.4 and 1004.7; exhaust at lambda 0.85 and 1100 K gamma 1.2946, R 296.3."""
    air = air_properties(np.linspace(250.0, 400.0, 16))
    assert air.cp == pytest.approx(np.full(16, gas.AIR_CP), rel=0.01)
    hot = exhaust_properties(1100.0, 0.85)
    assert float(hot.gamma) == pytest.approx(gas.EXHAUST_GAMMA, abs=1e-3)
    assert float(hot.gas_constant) == pytest.approx(gas.EXHAUST_GAS_CONSTANT, abs=0.05)
    assert exhaust_properties([900.0, 1300.0], 0.85).gamma == pytest.approx(gas.EXHAUST_GAMMA, abs=0.017)


def test_mean_cp() -> None:
    """298 to 1200 K at lambda 1: 1185.9 J/(kg K) (Cantera, gri30); air against CoolProp's enthalpy."""
    assert float(mean_cp_exhaust(298.15, 1200.0, 1.0)) == pytest.approx(1185.9, rel=1e-3)
    warm, cold = (PropsSI("H", "T", t, "P", 10.0, "Air") for t in (600.0, 300.0))  # 10 Pa: ideal
    assert float(mean_cp_air(300.0, 600.0)) == pytest.approx((warm - cold) / 300.0, rel=1e-3)
    assert float(mean_cp_air(300.0, 600.0)) == pytest.approx(float(mean_cp_air(600.0, 300.0)), rel=1e-12)
    assert float(mean_cp_air(350.0, 350.0)) == pytest.approx(float(air_properties(350.0).cp), rel=1e-12)
    near = float(mean_cp_exhaust(1099.98, 1100.02, 0.9))
    assert near == pytest.approx(float(exhaust_properties(1100.0, 0.9).cp), rel=1e-7)


exhaust_temperature = st.floats(200.0, 1600.0)
lambdas = st.floats(0.65, 1.4)
hydrogen = st.floats(1.0, 4.0)
humidities = st.floats(0.0, 0.1)


@given(exhaust_temperature, lambdas, hydrogen, humidities)
def test_exhaust_is_sane_over_the_whole_range(t: float, mixture: float, y: float, w: float) -> None:
    shares = burnt_composition(mixture, hydrogen_carbon_ratio=y, humidity_ratio=w)
    assert all(float(share) >= 0.0 for share in shares.values())
    assert float(sum(shares.values())) == pytest.approx(1.0, abs=1e-12)
    if mixture < 0.999:
        equilibrium = shares["CO"] * shares["H2O"] / (shares["CO2"] * shares["H2"])
        assert float(equilibrium) == pytest.approx(3.5, rel=1e-6)
        assert float(shares["O2"]) == pytest.approx(0.0, abs=1e-12)
    if mixture > 1.001:
        assert float(shares["CO"] + shares["H2"]) == pytest.approx(0.0, abs=1e-12)
        assert float(shares["O2"]) > 0.0
    exhaust = exhaust_properties(t, mixture, hydrogen_carbon_ratio=y, humidity_ratio=w)
    assert 1.2 < float(exhaust.gamma) < 1.42
    assert float(exhaust.cp * (exhaust.gamma - 1.0) / exhaust.gamma) == pytest.approx(
        float(exhaust.gas_constant), rel=1e-12
    )


@given(st.floats(220.0, 690.0), humidities)
def test_gamma_of_air_falls_with_temperature(t: float, w: float) -> None:
    cold, warm = air_properties(t, w), air_properties(t + 10.0, w)
    assert float(warm.gamma) < float(cold.gamma) + 2e-4  # flat below 250 K
    assert float(cold.cp) == pytest.approx(float(cold.gas_constant * cold.gamma / (cold.gamma - 1.0)))


@given(st.floats(250.0, 1590.0), lambdas)
def test_cp_of_exhaust_rises_with_temperature(t: float, mixture: float) -> None:
    assert float(exhaust_properties(t + 10.0, mixture).cp) > float(exhaust_properties(t, mixture).cp)


@given(exhaust_temperature, st.floats(0.65, 1.39))
def test_cp_of_exhaust_falls_with_lambda(t: float, mixture: float) -> None:
    leaner = exhaust_properties(t, mixture + 0.01)
    assert float(leaner.cp) < float(exhaust_properties(t, mixture).cp)
    if mixture < 0.99:  # leaner than 1 the gas constant rises towards that of air
        assert float(leaner.gas_constant) < float(exhaust_properties(t, mixture).gas_constant)


def test_no_step_where_the_polynomials_meet() -> None:
    below, above = exhaust_properties([1000.0 - 1e-9, 1000.0], 0.85).cp
    assert above == pytest.approx(below, rel=1e-6)


def test_shapes_are_broadcast_and_gaps_stay_gaps() -> None:
    table = exhaust_properties(np.array([[900.0], [1100.0], [np.nan]]), [0.8, 1.0])
    assert table.cp.shape == table.gamma.shape == table.gas_constant.shape == (3, 2)
    assert np.isnan(table.cp[2]).all() and np.isfinite(table.cp[:2]).all()
    assert float(table.cp[1, 0]) == float(exhaust_properties(1100.0, 0.8).cp)
    assert air_properties([300.0, 310.0], [[0.0], [0.01], [0.02]]).cp.shape == (3, 2)
    assert mean_cp_exhaust([300.0, 400.0], 1100.0, [[0.8], [0.9]]).shape == (2, 2)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: air_properties(25.0), "temperature of air must lie between 220 K and 700 K, got 25 K"),
        (lambda: exhaust_properties(850.0, 14.7), "mixture must lie between 0.65 and 1.4, got 14.7"),
        (lambda: exhaust_properties([900.0, 1700.0], 1.0), "between 200 K and 1600 K, got 1700 K"),
        (lambda: air_properties(300.0, 40.0), "humidity_ratio must lie between 0 kg/kg and 0.1 kg/kg"),
        (lambda: stoichiometric_air_fuel(0.87), "hydrogen_carbon_ratio must lie between 1 and 4, got 0.87"),
        (lambda: mean_cp_air(300.0, 900.0), "mean_cp_air: temperature of air must lie"),
    ],
)
def test_outside_is_refused(call: Callable[[], object], says: str) -> None:
    with pytest.raises(InputRangeError) as caught:
        call()
    assert says in str(caught.value)
    assert caught.value.do
