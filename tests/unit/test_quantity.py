"""Quantities: the grammar of the formats, what is refused and how, and the distributions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from boostproof.errors import InputError
from boostproof.quantity import Quantity, UsualTolerance, parse_quantity
from boostproof.units import DIMENSIONS, UNITS, Unit, accepted_units, get_unit, to_si

PSI = get_unit("psi").factor


def pressure(text: object, **more: object) -> Quantity:
    return parse_quantity(text, dimension="pressure", usual_sd=500.0, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "form", "value", "two_sd", "reference"),
    [
        ("22 psi", "exact", 22 * PSI, 1000.0, "gauge"),
        ("22psi", "exact", 22 * PSI, 1000.0, "gauge"),
        (" 22  PSI ", "exact", 22 * PSI, 1000.0, "gauge"),
        ("0,80 bar", "exact", 80e3, 1000.0, "gauge"),
        (".8 bar", "exact", 80e3, 1000.0, "gauge"),
        ("-5 kPa", "exact", -5e3, 1000.0, "gauge"),
        ("\u22125 kPa", "exact", -5e3, 1000.0, "gauge"),
        ("1e2 kPa", "exact", 100e3, 1000.0, "gauge"),
        ("101.3 kPa abs", "exact", 101.3e3, 1000.0, "abs"),
        ("101.3 kPa (abs)", "exact", 101.3e3, 1000.0, "abs"),
        ("14.7 psia", "exact", 14.7 * PSI, 1000.0, "abs"),
        ("8 psi gauge", "exact", 8 * PSI, 1000.0, "gauge"),
        ("0.80 bar +/- 0.05 bar", "tolerance", 80e3, 5e3, "gauge"),
        ("0,80 bar ± 0,05 bar", "tolerance", 80e3, 5e3, "gauge"),
        ("0.80 bar +/- 1 psi", "tolerance", 80e3, PSI, "gauge"),
        ("10 +/- 0.5 psi", "tolerance", 10 * PSI, 0.5 * PSI, "gauge"),
        ("0.80 bar ± 5 %", "tolerance", 80e3, 4e3, "gauge"),
        ("100 kPa +/- 2 kPa abs", "tolerance", 100e3, 2e3, "abs"),
        ("100 kPa abs +/- 2 kPa", "tolerance", 100e3, 2e3, "abs"),
        ("about 14 psi", "about", 14 * PSI, 1.4 * PSI, "gauge"),
        ("About 14 psi", "about", 14 * PSI, 1.4 * PSI, "gauge"),
        ("~14 psi", "about", 14 * PSI, 1.4 * PSI, "gauge"),
        ("about 0 psi", "exact", 0.0, 1000.0, "gauge"),
    ],
)
def test_value_with_its_doubt(text: str, form: str, value: float, two_sd: float, reference: str) -> None:
    q = pressure(text)
    assert (q.form, q.reference) == (form, reference)
    assert q.value == pytest.approx(value)
    assert 2 * q.sd == pytest.approx(two_sd)
    assert (q.low, q.high) == pytest.approx((value - two_sd, value + two_sd))
    assert q.text == text.strip()


@pytest.mark.parametrize(
    "text",
    ["11..14 psi", "11 .. 14 psi", "11...14 psi", "11-14 psi", "11 - 14 psi", "11\u201314 psi",
     "11 or 14 psi", "11 to 14 psi", "11 psi or 14 psi", "14..11 psi", "about 11..14 psi", "11,0..14,0 psi"],
)  # fmt: skip
def test_range(text: str) -> None:
    q = pressure(text)
    assert q.form == "range"
    assert (q.low, q.high) == pytest.approx((11 * PSI, 14 * PSI))
    assert q.value == pytest.approx(12.5 * PSI)


def test_range_may_have_a_negative_end_and_be_absolute() -> None:
    assert pressure("-5..5 kPa").value == 0.0
    assert pressure("98..102 kPa abs").reference == "abs"


def test_range_of_no_width_is_a_value() -> None:
    assert pressure("12..12 psi").form == "exact"


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("3/16 in", "length", 0.0047625),
        ("1 1/2 in", "length", 0.0381),
        ('1/2"', "length", 0.0127),
        ("1,5 mm", "length", 1.5e-3),
        ("6800 1/min", "rotational_speed", 6800 * math.pi / 30),
        ("6.8 krpm", "rotational_speed", 6800 * math.pi / 30),
        ("400 rpm/s", "rotational_acceleration", 400 * math.pi / 30),
        ("20 °C", "temperature", 293.15),
        ("68 F", "temperature", 293.15),
        ("30 %", "fraction", 0.3),
        ("2,0 L", "volume", 2e-3),
        ("122 ci", "volume", 122 * 0.0254**3),
        ("12.2 L/min", "volume_flow", 12.2e-3 / 60),
        ("45 deg", "angle", math.pi / 4),
    ],
)
def test_other_dimensions(text: str, dimension: str, value: float) -> None:
    q = parse_quantity(text, dimension=dimension)
    assert q.value == pytest.approx(value)
    assert q.reference is None
    assert q.sd > 0.0


def test_a_tolerance_of_a_temperature_is_a_difference() -> None:
    assert parse_quantity("20 C +/- 2 C", dimension="temperature").sd == pytest.approx(1.0)
    assert parse_quantity("68 F +/- 9 F", dimension="temperature").sd == pytest.approx(2.5)


def test_a_share_has_its_tolerance_in_points() -> None:
    assert parse_quantity("30 % +/- 5 %", dimension="fraction").sd == pytest.approx(0.025)


def test_usual_tolerance_applies_and_is_never_zero() -> None:
    usual = UsualTolerance(relative=0.03, absolute=4e3)
    assert pressure("1 bar").sd == 500.0
    q = parse_quantity("1 bar", dimension="pressure", usual_sd=usual)
    assert q.sd == pytest.approx(5e3)
    # Without one, half a step of the last digit, flat: step / sqrt(12) (GUM 4.3.7, from memory).
    assert parse_quantity("1.00 bar", dimension="pressure").sd == pytest.approx(1e3 / math.sqrt(12))
    assert parse_quantity("0 kPa", dimension="pressure", usual_sd=UsualTolerance(0.1, 0.0)).sd > 0.0


def test_a_barometer_is_absolute_and_a_drop_is_neither() -> None:
    barometer = {"dimension": "pressure", "gauge_default": "abs", "reference_fixed": True}
    assert parse_quantity("29.92 inHg", **barometer).reference == "abs"  # type: ignore[arg-type]
    assert parse_quantity("99 kPa abs", **barometer).reference == "abs"  # type: ignore[arg-type]
    with pytest.raises(InputError, match="always absolute"):
        parse_quantity("99 kPa gauge", **barometer)  # type: ignore[arg-type]
    assert pressure("0.9 psi", gauge_default="difference").reference == "difference"
    with pytest.raises(InputError, match="difference of two pressures"):
        pressure("0.9 psi abs", gauge_default="difference")


@pytest.mark.parametrize(
    ("text", "says", "do"),
    [
        (22, "22 has no unit.", 'Write the unit with it, for example "22 psi". Accepted units: psi, kPa'),
        ("22", '"22" has no unit.', 'for example "22 psi"'),
        (True, "true is not a quantity.", "Accepted units"),
        ([1], "A list is not a quantity.", "Accepted units"),
        ("", "The text is empty.", "Leave the key out if it is not known."),
        ("22 pis", '"pis" in "22 pis" is not a unit of pressure.', "Did you mean psi?"),
        ("12 mm", '"12 mm" is a length, but a pressure is expected.', "Accepted units: psi"),
        ("twenty psi", '"twenty psi" cannot be read as a pressure.', '"22 psi"'),
        ("10 +/- 0.5", "has no unit", "Accepted units"),
        ("8 psi +/- 0 psi", "is zero; no value is that sure.", "Leave the tolerance out"),
        ("about 8 psi +/- 1 psi", 'has both "about" and a tolerance', "Write one of them."),
        ("1,234.5 kPa", "more than one point or comma", "at most one decimal"),
        ("-5-10 kPa", "can be read in more than one way", "-5..10 kPa"),
        ("-200 kPa", "below a perfect vacuum", "Check the sign"),
        ("-1 kPa abs", "an absolute pressure is above zero", "Leave the word abs out"),
        ("8 psig abs", "says both abs and gauge", "Write one of them."),
        ("8 psi abs gauge", "says both abs and gauge", "Write one of them."),
    ],
)
def test_refusals_say_what_is_wrong_and_what_to_do(text: object, says: str, do: str) -> None:
    with pytest.raises(InputError) as caught:
        pressure(text, where="car.toml, line 3")
    assert says in caught.value.says
    assert do in caught.value.do
    assert caught.value.where == "car.toml, line 3"


def test_a_comma_for_thousands_is_never_taken_for_a_decimal_comma() -> None:
    with pytest.raises(InputError) as caught:
        parse_quantity("6,800 rpm", dimension="rotational_speed")
    assert caught.value.says == '"6,800" can be read as 6800 or as 6.800.'
    assert parse_quantity("1,250 bar", dimension="pressure").value == pytest.approx(125e3)


def test_other_refusals() -> None:
    with pytest.raises(InputError, match="only for pressures"):
        parse_quantity("6 mm abs", dimension="length")
    with pytest.raises(InputError, match="below absolute zero"):
        parse_quantity("-300 C", dimension="temperature")
    with pytest.raises(InputError, match="divides by zero"):
        parse_quantity("1/0 in", dimension="length")
    with pytest.raises(InputError, match="too large"):
        pressure("1e999 psi")


numbers = st.decimals(min_value=0, max_value=90_000, places=3).map(lambda d: f"{d.normalize():f}")
offered = [u for u in UNITS if u.dimension != "ratio" and u.name in accepted_units(u.dimension)]
units = st.sampled_from(offered)


layouts = st.sampled_from(["{} {}", "{}{}", "  {}   {} "])
cases = st.sampled_from([str, str.upper, str.lower])


@given(numbers, units, layouts, cases)
def test_exact_round_trip(number: str, unit: Unit, layout: str, case: type[str]) -> None:
    q = parse_quantity(layout.format(number, case(unit.name)), dimension=unit.dimension)
    assert q.value == pytest.approx(to_si(float(number), unit))
    assert q.in_unit() == pytest.approx(float(number), abs=1e-6)
    assert q.unit == unit
    assert q.form == "exact"


@given(numbers, numbers, units)
def test_tolerance_round_trip(number: str, tolerance: str, unit: Unit) -> None:
    assume(float(tolerance) > 0)
    q = parse_quantity(f"{number} {unit} +/- {tolerance} {unit}", dimension=unit.dimension)
    assert (q.value, 2 * q.sd) == pytest.approx((to_si(float(number), unit), float(tolerance) * unit.factor))
    assert q == parse_quantity(q.text, dimension=unit.dimension)


@given(numbers, numbers, units, st.sampled_from(["{}..{} {}", "{}-{} {}", "{} or {} {}", "{} to {} {}"]))
def test_range_round_trip(first: str, second: str, unit: Unit, layout: str) -> None:
    low, high = sorted((float(first), float(second)))
    assume(high - low > 1e-3)
    q = parse_quantity(layout.format(first, second, unit), dimension=unit.dimension)
    assert (q.low, q.high) == pytest.approx((to_si(low, unit), to_si(high, unit)))
    assert q.low < q.value < q.high


@given(numbers, st.sampled_from(["bar", "mm", "L", "C", "s", "%"]))
def test_decimal_comma_means_the_same_as_a_point(number: str, name: str) -> None:
    unit = get_unit(name)
    with_comma = parse_quantity(f"{number.replace('.', ',')} {name}", dimension=unit.dimension)
    assert with_comma.value == parse_quantity(f"{number} {name}", dimension=unit.dimension).value


@given(st.text(max_size=30), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_read_or_refused(text: str, dimension: str) -> None:
    try:
        q = parse_quantity(text, dimension=dimension)
    except InputError as error:
        assert error.says
        assert error.do
    else:
        assert q.sd > 0.0
        assert math.isfinite(q.value)


@pytest.mark.parametrize("text", ["0.80 bar +/- 0.05 bar", "11..14 psi", "about 14 psi", "90 kPa"])
def test_density_and_quantiles_are_one_distribution(text: str) -> None:
    q = pressure(text)
    p = np.array([[0.001, 0.02, 0.025, 0.2], [0.5, 0.8, 0.98, 0.999]])
    x = q.ppf(p)
    assert x.shape == p.shape
    assert np.all(np.diff(x.ravel()) > 0)
    far = q.value - 40 * q.sd
    breaks = [q.low, q.high] if q.form == "range" else [q.value]

    def mass(top: float) -> float:
        inside = [b for b in breaks if far < b < top]
        found = integrate.quad(lambda v: float(np.exp(q.log_density(v))), far, top, points=inside, limit=400)
        return float(found[0])

    for probability, at in zip(p.ravel(), x.ravel(), strict=True):
        assert mass(float(at)) == pytest.approx(probability, abs=2e-6)


def test_normal_density_agrees_with_scipy() -> None:
    q = pressure("0.80 bar +/- 0.05 bar")
    x = np.linspace(60e3, 100e3, 9)
    np.testing.assert_allclose(q.log_density(x), stats.norm(80e3, 2.5e3).logpdf(x))
    np.testing.assert_allclose(q.ppf([0.1, 0.9]), stats.norm(80e3, 2.5e3).ppf([0.1, 0.9]))


def test_a_range_is_flat_with_five_per_cent_outside() -> None:
    q = pressure("10..20 kPa")
    np.testing.assert_allclose(q.ppf([0.025, 0.5, 0.975]), [10e3, 15e3, 20e3])
    inside = q.log_density([10e3, 12e3, 20e3])
    np.testing.assert_allclose(inside, math.log(0.95 / 10e3))
    draws = q.ppf((np.arange(200_000) + 0.5) / 200_000)
    assert draws.std() == pytest.approx(q.sd, rel=1e-3)
    assert np.mean((draws < 10e3) | (draws > 20e3)) == pytest.approx(0.05, abs=1e-5)
