"""Many points on a table at once, against the one-point search that is written another way."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.errors import InputRangeError
from boostproof.physics.compressor_points import (
    ABOVE,
    BELOW,
    CHOKE,
    INSIDE,
    SIDES,
    SURGE,
    map_mesh,
    operating_points,
)
from boostproof.physics.compressor_table import CompressorTable, operating_point
from boostproof.physics.corrected import SAE_J1826

# An invented wheel of three lines.
TABLE = CompressorTable(
    np.repeat([8000.0, 12000.0, 15000.0], 3), np.array([0.05, 0.08, 0.11, 0.08, 0.12, 0.16, 0.11, 0.15, 0.19]),
    np.array([1.40, 1.36, 1.20, 2.05, 1.98, 1.60, 2.80, 2.65, 2.10]),
    np.array([0.66, 0.72, 0.55, 0.68, 0.75, 0.60, 0.65, 0.70, 0.58]), SAE_J1826,
)  # fmt: skip


def test_every_point_is_the_one_that_the_search_for_one_finds() -> None:
    rng = np.random.default_rng(7)
    ratio, flow = rng.uniform(1.1, 3.0, 60), rng.uniform(0.03, 0.21, 60)
    points = operating_points(TABLE, ratio, flow)
    assert set(points.side.tolist()) == {INSIDE, BELOW, SURGE, CHOKE, ABOVE}
    for i, (pi, w) in enumerate(zip(ratio.tolist(), flow.tolist(), strict=True)):
        if points.side[i] != INSIDE:
            with pytest.raises(InputRangeError) as outside:
                operating_point(TABLE, pi, w)
            # Below and left of the slowest line's surge point the search speaks of surge; see the next test.
            if not (points.side[i] == BELOW and w < 0.05):
                assert SIDES[points.side[i]].split()[0] in outside.value.says
            assert np.isnan(points.efficiency[i]) and np.isnan(points.surge_margin[i])
            continue
        one = operating_point(TABLE, pi, w)
        assert points.corrected_speed[i] == pytest.approx(one.corrected_speed, rel=1e-6)
        assert points.efficiency[i] == pytest.approx(one.efficiency, abs=1e-6)
        assert points.surge_margin[i] == pytest.approx(one.surge_margin, abs=1e-6)
        assert points.choke_margin[i] == pytest.approx(one.choke_margin, abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "flow", "side"),
    [
        (1.67, 0.10, INSIDE), (1.05, 0.03, BELOW), (1.10, 0.08, BELOW), (1.60, 0.04, SURGE), (2.30, 0.08, SURGE),
        (1.30, 0.15, CHOKE), (1.50, 0.25, CHOKE), (2.90, 0.14, ABOVE),
    ],
)  # fmt: skip
def test_sides(ratio: float, flow: float, side: int) -> None:
    assert operating_points(TABLE, [ratio], [flow]).side.tolist() == [side]


def test_margins_near_the_ends_of_a_line() -> None:
    # Two points on the line of 12000 rad/s, a ten-thousandth of a kg/s inside its ends: 2.05 falls to 1.98 over
    # 0.04 kg/s, and 1.98 to 1.60 over the next 0.04.
    ratio = np.array([2.05 - 1e-4 * 0.07 / 0.04, 1.60 + 1e-4 * 0.38 / 0.04])
    flow = np.array([0.0801, 0.1599])
    points = operating_points(TABLE, ratio, flow)
    assert points.corrected_speed == pytest.approx([12000.0, 12000.0], rel=1e-6)
    assert points.surge_margin == pytest.approx(2.05 / 0.08 * flow / ratio - 1.0, abs=1e-6)
    assert points.choke_margin == pytest.approx(1.0 - flow / 0.16, abs=1e-6)


def test_the_mesh_goes_through_the_points_of_the_table() -> None:
    mesh = map_mesh(TABLE, between=4, shares=5)
    assert mesh.flow.shape == mesh.efficiency.shape == (9, 5)
    assert mesh.speed[::4].tolist() == [8000.0, 12000.0, 15000.0]
    assert mesh.flow[::4, [0, 2, 4]].ravel() == pytest.approx(TABLE.corrected_flow)
    assert mesh.pressure_ratio[::4, [0, 2, 4]].ravel() == pytest.approx(TABLE.pressure_ratio)
    assert mesh.efficiency[::4, [0, 2, 4]].ravel() == pytest.approx(TABLE.efficiency)


def test_points_without_a_value_are_refused() -> None:
    with pytest.raises(InputRangeError, match="finite and of one shape"):
        operating_points(TABLE, [2.0, np.nan], [0.1, 0.1])
    with pytest.raises(InputRangeError, match="finite and of one shape"):
        operating_points(TABLE, [2.0], [0.1, 0.1])
