"""Surge: margin on the model's form, Helmholtz frequency, Greitzer's B and the cycle; sources at each check."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostproof.errors import InputRangeError
from boostproof.physics import compressor_map as cm
from boostproof.physics import generic_wheel as gw
from boostproof.physics import surge
from boostproof.physics.corrected import SAE_J1826

WHEEL = cm.CompressorNumbers(0.058, 1.15e-3, 0.62, 0.92, 0.33)
#: Three-stage axial machine of Moore & Greitzer 1986, from memory.
MOORE_GREITZER = surge.SurgeCharacteristic(0.30, 0.18, 0.25)


def slope(c: surge.SurgeCharacteristic, flow: float | np.ndarray) -> float | np.ndarray:
    """Pressure rise over flow of the cubic, differentiated by hand."""
    x = flow / c.semi_width - 1.0
    return 1.5 * c.semi_height / c.semi_width * (1.0 - x * x)


def critical_b(c: surge.SurgeCharacteristic, share: float) -> float:
    """B above which a steady point left of the top swings itself up, ``1 / sqrt(Psi_c' m_T)`` with the throttle's
    slope ``m_T = 2 Psi / Phi``: linear stability of Greitzer's equations, worked by hand."""
    flow = share * 2.0 * c.semi_width
    return float(1.0 / np.sqrt(slope(c, flow) * 2.0 * float(c.rise(flow)) / flow))


def relaxation_period(b: float, c: surge.SurgeCharacteristic, share: float) -> float:
    """Period where B is large, in radians of the Helmholtz frequency: the system creeps along its two stable
    branches and jumps between them, B times the integral of ``dPsi / (Phi - Phi_T)`` over both."""
    flow, half = share * 2.0 * c.semi_width, c.semi_width
    opening = flow / np.sqrt(float(c.rise(flow)))
    nodes, weights = np.polynomial.legendre.leggauss(80)
    total = 0.0
    for near, side, end in ((2 * half, 1.0, c.shut_off), (0.0, -1.0, c.shut_off + 2 * c.semi_height)):
        far = brentq(lambda f, e=end: float(c.rise(f)) - e, near + side * 1e-6 * half, near + side * 4 * half)
        phi = near + (far - near) * 0.5 * (nodes + 1.0)  # by flow: the integrand stays finite where branches turn
        rate = slope(c, phi) / (phi - opening * np.sqrt(c.rise(phi)))
        total += abs(float(np.sum(weights * rate)) * 0.5 * (far - near))
    return b * total


def test_margin_at_the_surge_line_is_nothing() -> None:
    speed = np.array([8000.0, 12000.0, 16000.0])
    flow = 0.4 * cm.model_choke_flow(speed, WHEEL, SAE_J1826)
    ratio = cm.model_pressure_ratio(flow, speed, WHEEL, SAE_J1826)
    at = surge.surge_margin(ratio, flow, WHEEL, SAE_J1826)
    assert at.margin == pytest.approx(0.0, abs=1e-6)
    assert at.speed == pytest.approx(speed, rel=1e-6)
    assert at.flow_share == pytest.approx(0.4, rel=1e-6)


@given(st.floats(1.1, 3.5), st.floats(0.03, 0.17), st.floats(1.005, 1.2))
def test_margin_rises_with_flow(ratio: float, flow: float, factor: float) -> None:
    """At one pressure ratio, more flow is further from surge, and less pressure at one flow as well."""
    near, far = surge.surge_margin(ratio, [flow, factor * flow], WHEEL, SAE_J1826).margin
    assert np.isfinite(near) and far > near
    lower = surge.surge_margin(1 + (ratio - 1) / factor, flow, WHEEL, SAE_J1826).margin
    assert float(lower) > near


@given(st.floats(1.1, 3.5), st.floats(0.03, 0.17))
def test_the_speed_found_gives_the_point(ratio: float, flow: float) -> None:
    speed = surge.surge_margin(ratio, flow, WHEEL, SAE_J1826).speed
    assert float(cm.model_flow(ratio, speed, WHEEL, SAE_J1826)) == pytest.approx(flow, rel=1e-6)


def test_helmholtz_bottle() -> None:
    """One litre, neck of 3 cm2 and 5 cm equivalent length, 343 m/s: 133.7 Hz (closed form, by hand)."""
    f = float(surge.helmholtz_frequency(343.0, 1e-3, 3e-4, 0.05))
    assert f == pytest.approx(343.0 / (2 * np.pi) * np.sqrt(6.0), rel=1e-12)
    assert f == pytest.approx(133.7, abs=0.05)


@given(
    st.floats(100.0, 500.0), st.floats(300.0, 420.0), st.floats(1e-3, 3e-2), st.floats(5e-4, 4e-3),
    st.floats(0.2, 2.0),
)  # fmt: skip
def test_b_and_helmholtz_belong_together(u: float, a: float, v: float, s: float, x: float) -> None:
    """Greitzer 1976 defines B = U / (2 omega_H L) as well (from memory)."""
    omega = 2 * np.pi * float(surge.helmholtz_frequency(a, v, s, x))
    assert float(surge.greitzer_b(u, a, v, s, x)) == pytest.approx(u / (2 * omega * x), rel=1e-12)


def test_ducts_in_a_row_add_their_inertia() -> None:
    """Pressure for an acceleration of the mass flow is sum(l/A): the same for one duct of equivalent length."""
    lengths, areas = np.array([0.6, 0.05, 0.4]), np.array([2.8e-3, 1.2e-3, 1.9e-3])
    for area in (1e-3, 2e-3):
        x = surge.equivalent_length(lengths, areas, area)
        assert x / area == pytest.approx(float(np.sum(lengths / areas)), rel=1e-12)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
@pytest.mark.parametrize("shape", [MOORE_GREITZER, surge.TURBOCHARGER], ids=["axial", "turbo"])
def test_cycle_begins_where_linear_stability_ends(shape: surge.SurgeCharacteristic, share: float) -> None:
    """Two routes: the criterion in closed form, and integration in time."""
    critical = critical_b(shape, share)
    assert surge.surge_cycle(0.85 * critical, shape, share) is None
    cycle = surge.surge_cycle(1.25 * critical, shape, share)
    assert cycle is not None
    assert cycle.least_flow < share * 2 * shape.semi_width < cycle.most_flow


def test_slow_cycle_takes_the_time_of_its_two_branches() -> None:
    """Two routes again: where B is large, integration in time and quadrature along the stable branches."""
    ratios = []
    for b in (2.0, 4.0, 8.0):
        cycle = surge.surge_cycle(b)
        assert cycle is not None
        period = 2 * np.pi / cycle.frequency_ratio
        ratios.append(period / relaxation_period(b, surge.TURBOCHARGER, 0.5))
    assert ratios[0] > ratios[1] > ratios[2] > 1.0  # the jumps take time as well
    assert ratios[2] < 1.026  # 1.024


def test_axial_machine_of_moore_and_greitzer() -> None:
    """Their cubic surges at B 1.8 and is steady at 0.3 (values that Gravdahl & Egeland 1999 use for surge, from
    memory), and deep surge reverses the flow."""
    assert surge.surge_cycle(0.3, MOORE_GREITZER) is None
    deep = surge.surge_cycle(1.8, MOORE_GREITZER)
    assert deep is not None and deep.least_flow < 0.0
    assert deep.frequency_ratio == pytest.approx(0.832, abs=0.01)  # a number of our own output


def test_the_cubic_is_what_it_says() -> None:
    c = MOORE_GREITZER
    assert [float(c.rise(f)) for f in (0.0, 0.25, 0.5)] == pytest.approx([0.30, 0.48, 0.66], rel=1e-12)
    flow = np.linspace(-0.2, 0.7, 19)
    numeric = (c.rise(flow + 1e-6) - c.rise(flow - 1e-6)) / 2e-6
    assert slope(c, flow) == pytest.approx(numeric, abs=1e-6)


def test_the_turbocharger_s_top_lies_at_the_usual_surge_share() -> None:
    """Its flow there is the usual share of what the model passes at 400 m/s, in a duct as wide as the inducer."""
    wheel = gw.generic_compressor(0.058)
    circle = wheel.area / gw.INDUCER_SHARE
    most = float(cm.model_choke_flow(2 * 400.0 / wheel.diameter, wheel, SAE_J1826))
    density = SAE_J1826.pressure / (287.05 * SAE_J1826.temperature)
    top = surge.USUAL_SURGE_SHARE * most / (density * circle * 400.0)
    assert 2 * surge.TURBOCHARGER.semi_width == pytest.approx(top, rel=0.01)


@pytest.mark.parametrize(
    ("tip", "volume", "area", "length"),
    # usual sizes: some four times the displacement in pipes, cooler and manifold, a duct as wide as the inducer
    [(350.0, 5e-3, 1.2e-3, 0.5), (400.0, 8e-3, 1.5e-3, 0.8), (400.0, 15e-3, 2.0e-3, 1.2),
     (450.0, 12e-3, 1.2e-3, 1.0), (250.0, 8e-3, 1.5e-3, 0.8)],
)  # fmt: skip
def test_flutter_is_5_to_20_hz(tip: float, volume: float, area: float, length: float) -> None:
    """Surge flutter of turbocharged cars: 5 to 20 Hz (common practice, no source). It is below the Helmholtz
    frequency, which alone would say 19 to 41 Hz for these; measured 5.5 to 15.9 Hz."""
    f = surge.surge_frequency(tip, 340.0, volume, area, length)
    assert f is not None and 5.0 < f < 20.0
    assert f < 0.55 * float(surge.helmholtz_frequency(surge.sound_speed(340.0), volume, area, length))


@settings(max_examples=10)
@given(st.floats(0.1, 8.0), st.floats(0.2, 0.9))
def test_every_cycle_is_bounded_and_slower_than_helmholtz(b: float, share: float) -> None:
    cycle = surge.surge_cycle(b, surge.TURBOCHARGER, share)
    if cycle is not None:
        # over a grid: 0.06 to 0.96; -0.073 to 0.194; 0.15 to 1.87
        assert 0.0 < cycle.frequency_ratio < 1.0
        assert -0.08 < cycle.least_flow < cycle.most_flow < 0.21
        assert 0.1 < cycle.least_rise < cycle.most_rise < 2.0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: surge.surge_margin(0.9, 0.1, WHEEL, SAE_J1826), "pressure_ratio must lie between 1 and 8"),
        (lambda: surge.surge_margin(2.0, 0.0, WHEEL, SAE_J1826), "flow must be positive"),
        (lambda: surge.surge_margin(2.0, 20.0, WHEEL, SAE_J1826), "20 kg/s at pressure ratio 2 is beyond this"),
        (lambda: surge.surge_margin(2.0, 0.1, WHEEL, SAE_J1826, surge_share=40.0), "0.9, got 40"),
        (lambda: surge.helmholtz_frequency(340.0, 0.0, 1e-3, 1.0), "volume must be positive, got 0"),
        (lambda: surge.greitzer_b(400.0, 340.0, 1e-2, 1e-3, float("nan")), "length must be positive, got nan"),
        (lambda: surge.surge_cycle(50.0), "b must lie between 0.02 and 10, got 50"),
        (lambda: surge.surge_cycle(1.0, flow_share=1.2), "flow_share must lie between 0.05 and 0.99"),
    ],
)
def test_impossible_input_is_refused(call, says: str) -> None:
    with pytest.raises(InputRangeError, match=says):
        call()
