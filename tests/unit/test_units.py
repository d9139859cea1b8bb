"""Units: factors against outside sources, spellings as people write them."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from boostproof.errors import InputError
from boostproof.units import (
    DIMENSIONS,
    UNITS,
    Unit,
    accepted_units,
    find_unit,
    from_si,
    get_unit,
    nearest_units,
    split_reference,
    to_si,
)

# Reference library: scipy.constants (CODATA and the exact definitions of the customary units).
SCIPY = {
    "psi": constants.psi,
    "bar": constants.bar,
    "atm": constants.atm,
    "mmHg": constants.mmHg,
    "kgf/cm2": constants.g * 1e4,
    "in": constants.inch,
    "ft": constants.foot,
    "mi": constants.mile,
    "L": constants.liter,
    "ci": constants.inch**3,
    "lb/min": constants.pound / constants.minute,
    "kg/h": 1.0 / constants.hour,
    "lbf/in": constants.lbf / constants.inch,
    "deg": constants.degree,
    "rpm": 2.0 * constants.pi / constants.minute,
    "hp": constants.hp,
    "lb-ft": constants.lbf * constants.foot,
    "km/h": constants.kmh,
    "mph": constants.mph,
    "cfm": constants.foot**3 / constants.minute,
}

# NIST SP 811 (2008), appendix B.8, factors to SI as printed there (from memory).
SP811 = {
    "psi": 6.894757e3,
    "inHg": 3.386389e3,
    "mmHg": 1.333224e2,
    "inH2O": 2.490889e2,
    "mmH2O": 9.80665,
    "in": 2.54e-2,
    "ft": 3.048e-1,
    "ci": 1.638706e-5,
    "lb/min": 7.559873e-3,
    "lb/h": 1.259979e-4,
    "lbf/in": 1.751268e2,
    "rpm": 1.047198e-1,
    "hp": 7.456999e2,
    "PS": 7.354988e2,
    "lb-ft": 1.355818,
    "lb-in": 1.129848e-1,
    "mph": 4.4704e-1,
    "lb ft2": 4.214011e-2,
    "cfm": 4.719474e-4,
}

FORMATS = """
    psi kPa hPa MPa bar mbar inHg mmHg Pa mm cm m in ft C F K rpm krpm rpm/s L cc ci mL g/s kg/h lb/min
    L/min N/mm lbf/in % s ms min deg Hz V ohm kW hp Nm lb-ft km/h mph kg
""".split()  # noqa: SIM905


@pytest.mark.published
@pytest.mark.parametrize(("name", "factor"), SCIPY.items())
def test_factor_agrees_with_scipy_constants(name: str, factor: float) -> None:
    assert get_unit(name).factor == pytest.approx(factor, rel=2e-6)


@pytest.mark.published
@pytest.mark.parametrize(("name", "factor"), SP811.items())
def test_factor_agrees_with_nist_sp_811(name: str, factor: float) -> None:
    assert get_unit(name).factor == pytest.approx(factor, rel=1e-6)


@pytest.mark.published
@pytest.mark.parametrize(("number", "scale"), [(-40.0, "F"), (32.0, "F"), (212.0, "F"), (25.0, "C")])
def test_temperature_agrees_with_scipy_constants(number: float, scale: str) -> None:
    expected = float(constants.convert_temperature(number, scale, "K"))
    assert to_si(number, get_unit(scale, "temperature")) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("name", FORMATS)
def test_every_unit_of_the_formats_is_known_in_any_case(name: str) -> None:
    unit = find_unit(name)
    assert unit is not None
    assert unit.name == name
    assert find_unit(name.upper(), unit.dimension) == find_unit(name.lower(), unit.dimension) == unit


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("degC", "C"), ("deg F", "F"), ("°C", "C"), ("°F", "F"), ("ºC", "C"), ("Â°C", "C"), ("\ufffdC", "C"),
        ("℃", "C"), ("[psi]", "psi"), ("(kPa)", "kPa"), ("ft-lb", "lb-ft"), ("lb·ft", "lb-ft"), ("N·m", "Nm"),
        ("1/min", "rpm"), ("min-1", "rpm"), ("min⁻¹", "rpm"), ("r/min", "rpm"), ("rpm per second", "rpm/s"),
        ("RPM x 1000", "krpm"), ("cm³", "cc"), ("in³", "ci"), ("Ω", "ohm"), ("µs", "us"), ("us", "us"),
        ("in Hg", "inHg"), ("lb/in²", "psi"), ("lbs/min", "lb/min"), ("grams/sec", "g/s"), ("percent", "%"),
        ("per cent", "%"), ("sec", "s"), ("°BTDC", "deg"), ("lambda", "1"), ("[-]", "1"), ("kph", "km/h"),
        ("litres", "L"), ("LPM", "L/min"), ('"', "in"), ("V.", "V"),
    ],
)  # fmt: skip
def test_spellings_of_headers_and_labels(written: str, name: str) -> None:
    unit = find_unit(written)
    assert unit is not None
    assert unit.name == name


def test_a_spelling_means_one_unit_of_a_dimension() -> None:
    for unit in UNITS:
        assert find_unit(unit.name, unit.dimension) == unit
    assert len({(unit.dimension, unit.name) for unit in UNITS}) == len(UNITS)


def test_every_dimension_offers_units_that_it_knows() -> None:
    for dimension in DIMENSIONS:
        for name in accepted_units(dimension):
            assert find_unit(name, dimension) is not None


@given(st.sampled_from(UNITS), st.floats(-1e6, 1e6))
def test_to_si_and_back(unit: Unit, number: float) -> None:
    assert from_si(to_si(number, unit), unit) == pytest.approx(number, rel=1e-9, abs=1e-6)


@given(st.sampled_from(UNITS))
def test_arrays_convert_like_numbers(unit: Unit) -> None:
    numbers = np.array([[0.0, 1.5], [-3.0, 200.0]])
    expected = [[to_si(float(n), unit) for n in row] for row in numbers]
    np.testing.assert_allclose(to_si(numbers, unit), expected)
    np.testing.assert_allclose(from_si(to_si(numbers, unit), unit), numbers, atol=1e-9)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("psig", ("psi", "gauge")), ("PSIA", ("PSI", "abs")), ("kPa abs", ("kPa", "abs")),
        ("bar (g)", ("bar", "gauge")),
        ("bar(a)", ("bar", "abs")), ("kPa(abs)", ("kPa", "abs")), ("kPa absolute", ("kPa", "abs")),
        ("mbar_a", ("mbar", "abs")), ("psi gauge", ("psi", "gauge")), ("psi rel.", ("psi", "gauge")),
        ("kPa", ("kPa", None)), ("Pa", ("Pa", None)), ("g/s", ("g/s", None)),
    ],
)  # fmt: skip
def test_reference_is_taken_off_the_unit(written: str, expected: tuple[str, str | None]) -> None:
    assert split_reference(written) == expected


@pytest.mark.parametrize(
    ("wrong", "dimension", "right"),
    [("pis", "pressure", "psi"), ("kilopascall", "pressure", "kPa"), ("km/hh", "speed", "km/h"),
     ("rpms", "rotational_speed", "rpm")],
)  # fmt: skip
def test_nearest_unit(wrong: str, dimension: str | None, right: str) -> None:
    assert nearest_units(wrong, dimension)[0] == right


def test_unknown_unit_is_an_error_that_helps() -> None:
    with pytest.raises(InputError) as caught:
        get_unit("pis", "pressure")
    assert caught.value.says == '"pis" is not a unit of pressure.'
    assert caught.value.do.startswith("Did you mean psi? Accepted: psi, kPa, hPa")
    assert find_unit("furlong") is None
    assert find_unit("mm", "pressure") is None


def test_units_and_quantities_need_no_numpy() -> None:
    code = (
        "import sys; from boostproof.quantity import parse_quantity; "
        "parse_quantity('22 psi +/- 1 psi', dimension='pressure'); "
        "raise SystemExit(int('numpy' in sys.modules or 'scipy' in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
