"""Generic wheels against usual figures, published points and the prior of a car; sources at each check."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.car import prior
from boostproof.errors import InputRangeError
from boostproof.physics import compressor_map as cm
from boostproof.physics import generic_wheel as gw
from boostproof.physics import layout
from boostproof.physics.corrected import SAE_J1826

RPM = np.pi / 30.0


@pytest.mark.parametrize(
    ("turbine", "compressor", "inertia"),
    # computed by hand from the shape factors (estimates), printed to two digits; the spread that is claimed is a
    # factor of 1.5
    [(37, 40, 0.65e-5), (45, 50, 1.8e-5), (55, 61, 4.9e-5), (65, 71, 1.1e-4)],
)
def test_inertia_by_size(turbine: float, compressor: float, inertia: float) -> None:
    j = float(gw.rotor_inertia(turbine * 1e-3, compressor * 1e-3))
    assert j == pytest.approx(inertia, rel=0.05)


def test_inertia_of_the_published_point() -> None:
    """Pukrushpan 2003 gives 5e-5 kg m2: a rotor of 55/61 mm. A wheel of solid aluminium, as wide as the shape
    factor says, weighs what a scale shows for that size, some 80 to 250 g (common practice, no source)."""
    assert float(gw.rotor_inertia(0.055, 0.061)) == pytest.approx(5e-5, rel=0.05)
    width = gw.COMPRESSOR_SHAPE * 32 / np.pi * 0.061  # disk of the same inertia: J = rho pi w D^4 / 32
    mass = gw.ALUMINIUM_DENSITY * np.pi / 4 * 0.061**2 * width
    assert 0.02 < mass < 0.25


def test_stored_energy() -> None:
    """J w^2 / 2: 2e-5 kg m2 at 150 000 rpm holds 2467 J (worked by hand)."""
    energy = 0.5 * 2e-5 * (150e3 * RPM) ** 2
    assert energy == pytest.approx(2467, abs=1)
    # a wheel pair of that inertia and what its drag takes: less than a tenth of the energy in 0.1 s
    assert 0.1 * energy > gw.USUAL_SHAFT_DRAG * (150e3 * RPM) ** 2 * 0.1


def test_tip_speed_and_pressure_ratio() -> None:
    """50 mm at 150 000 rpm: 392.7 m/s; with Psi = 2 cp T (PI^k - 1)/U^2 = 1.2 it makes 2.565 (by hand)."""
    u = float(gw.tip_speed(0.050, 150e3 * RPM))
    assert u == pytest.approx(392.7, abs=0.05)
    assert float(gw.pressure_ratio_of_tip_speed(u, 298.15, head=1.2 / 2)) == pytest.approx(2.565, abs=1e-3)
    assert float(gw.tip_speed_margin(0.050, 500.0 / 0.025)) == pytest.approx(0.0, abs=1e-12)
    assert float(gw.tip_speed_margin(0.050, 600.0 / 0.025)) < 0.0


@pytest.mark.parametrize("size", gw.WHEEL_CLASSES, ids=lambda c: c.name)
def test_generic_wheels_do_what_their_class_does(size: gw.WheelClass) -> None:
    """Usual flows, speeds and pressure ratios of small, medium and large wheels (common practice, no source):
    small 0.02 to 0.14, medium 0.04 to 0.25, large 0.06 to 0.45 kg/s in 298 K, 100 kPa; 120 to 230, 90 to 180,
    70 to 140 krpm; largest pressure ratio 2.3 to 3.8."""
    for diameter in size.exducer:
        wheel = gw.generic_compressor(diameter)
        fastest = gw.TIP_SPEED_LIMIT[0] / (0.5 * diameter)
        most = float(cm.model_choke_flow(fastest, wheel, SAE_J1826))
        assert size.flow[0] < most < 1.14 * size.flow[1]  # 1.13 where 46 mm turns at its limit, else below 0.94
        # surge end of a slow line, 40 % of its choke flow, is not below what the class can still flow
        slow = 0.4 * float(cm.model_choke_flow(size.speed[0], wheel, SAE_J1826))
        assert slow > 0.79 * size.flow[0]  # 0.794 for 58 mm
    # the fastest usual speed of the smallest wheel is no faster than cast wheels may turn, nor idle
    tip = float(gw.tip_speed(size.exducer[0], size.speed[1]))
    assert tip == pytest.approx(450.0, abs=35.0) and tip < gw.TIP_SPEED_LIMIT[1]
    # the largest ratio of a map stands at its surge line, some half of the choke flow
    wheel = gw.generic_compressor(size.exducer[0])
    flow = 0.5 * cm.model_choke_flow(size.speed[1], wheel, SAE_J1826)
    ratio = float(cm.model_pressure_ratio(flow, size.speed[1], wheel, SAE_J1826))
    assert gw.USUAL_LARGEST_PRESSURE_RATIO[0] < ratio < gw.USUAL_LARGEST_PRESSURE_RATIO[1]


def prior_values(**turbo: float) -> dict[str, float]:
    """Centres of what the prior of a car says of its turbo, engine flow 0.211 kg/s."""
    collector = prior._Collector()
    names = ("compressor_inducer", "compressor_exducer", "turbine_inducer")
    known = {n: SimpleNamespace(value=turbo[n]) if n in turbo else None for n in names}
    car = SimpleNamespace(turbo=SimpleNamespace(**known))
    prior._turbo(collector, car, 0.211, 1.0)  # type: ignore[arg-type]
    return {n.name: n.centre for n in collector.list}


def test_generic_wheels_are_those_of_the_prior() -> None:
    said = prior_values(compressor_inducer=0.0433, compressor_exducer=0.058)
    wheel = gw.generic_compressor(0.058, 0.0433)
    for name, value in wheel.parameters().items():
        assert said[name] == pytest.approx(value, rel=1e-3), name
    by_inducer = prior_values(compressor_inducer=0.0433)
    assert by_inducer["compressor_diameter"] == pytest.approx(0.058, rel=2e-3)
    unknown = prior_values()
    wheel = gw.generic_compressor(unknown["compressor_diameter"])
    assert wheel.area == pytest.approx(unknown["compressor_area"], rel=1e-3)
    turbine = gw.generic_turbine(wheel)
    for name, value in turbine.parameters().items():
        assert unknown[name] == pytest.approx(value, rel=1e-3), name
    inertia = float(gw.rotor_inertia(turbine.diameter, wheel.diameter))
    assert unknown["shaft_inertia"] == pytest.approx(inertia, rel=5e-3)
    assert unknown["shaft_drag"] == gw.USUAL_SHAFT_DRAG


@given(st.floats(0.03, 0.11), st.floats(1.01, 1.5))
def test_wheels_scale(diameter: float, factor: float) -> None:
    """Areas by the square, inertia by the fifth power, speed by the inverse, coefficients not at all."""
    small, large = gw.generic_compressor(diameter), gw.generic_compressor(min(factor * diameter, 0.12))
    scale = large.diameter / small.diameter
    assert large.area / small.area == pytest.approx(scale**2, rel=1e-9)
    assert (large.head, large.work, large.work_slope) == (small.head, small.work, small.work_slope)
    a, b = gw.generic_turbine(small), gw.generic_turbine(large)
    assert b.area / a.area == pytest.approx(scale**2, rel=1e-9)
    ratio = gw.rotor_inertia(b.diameter, large.diameter) / gw.rotor_inertia(a.diameter, small.diameter)
    assert float(ratio) == pytest.approx(scale**5, rel=1e-9)
    for numbers in (small.parameters(), a.parameters()):
        for name, value in numbers.items():
            assert layout.parameter(name).low <= value <= layout.parameter(name).high, name


@given(st.floats(0.05, 0.08), st.floats(60.0, 90.0), st.floats(0.5, 4.0))
def test_turbine_area_rises_with_trim_and_size(diameter: float, trim: float, more: float) -> None:
    wheel = gw.generic_compressor(diameter)
    inlet = 0.87 * diameter
    one, other = (
        gw.generic_turbine(wheel, inlet, inlet * np.sqrt(t / 100.0)).area for t in (trim, trim + more)
    )
    assert other / one == pytest.approx((trim + more) / trim, rel=1e-9)
    usual = gw.generic_turbine(wheel)
    assert gw.generic_turbine(wheel, 1.1 * inlet).area == pytest.approx(1.21 * usual.area, rel=1e-9)


def test_trim() -> None:
    """Trim is 100 (inducer/exducer)^2 (common practice): 44 in 58 mm is 57.5."""
    assert gw.trim(0.044, 0.058) == pytest.approx(57.55, abs=0.01)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: gw.generic_compressor(58.0), "exducer must lie between 25 and 120 mm, got 58000 mm"),
        (lambda: gw.generic_compressor(0.058, 0.060), "smaller diameter must be positive and below the larger"),
        (lambda: gw.generic_compressor(0.058, 0.030), "make a trim of 27, wheels have 35 to 75"),
        (lambda: gw.generic_turbine(gw.generic_compressor(0.058), 0.05, 0.03), "make a trim of 36, wheels have"),
        (lambda: gw.generic_turbine(gw.generic_compressor(0.058), 0.2), "inducer must lie between 20 and 110 mm"),
    ],
)
def test_impossible_wheels_are_refused(call, says: str) -> None:
    with pytest.raises(InputRangeError, match=says):
        call()
