"""Pressures at rest against a general root finder, and one text on both engines."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq  # type: ignore[import-untyped]

from boostproof.physics import at_rest, layout, rigs
from boostproof.physics.controller import through_ball
from boostproof.physics.orifice import air_flow, series_area, tube_flow

AROUND, WARM = rigs.AMBIENT, rigs.TEMPERATURE


def cars(n: int, seed: int = 3) -> np.ndarray:
    """Ball and spring with a bleed, and a hose that leaks a little."""
    rng = np.random.default_rng(seed)
    par = np.repeat([[p.neutral] for p in layout.PARAMETERS], n, axis=1).astype(float)
    drawn = {
        "line_area": rng.uniform(2e-6, 8e-6, n), "hose_area": rng.uniform(4e-6, 12e-6, n), "check": np.ones(n),
        "offset": rng.uniform(1e4, 8e4, n), "bleed_area": rng.uniform(1e-7, 1e-6, n),
        "line_leak": rng.uniform(0.0, 5e-7, n),
    }  # fmt: skip
    for name, values in drawn.items():
        par[layout.index_of(name)] = values
    return par


def test_chamber_pressure_agrees_with_a_general_root_finder() -> None:
    """SciPy's brentq on the flow through ball, bleed and hose, one car at a time."""
    par, supply = cars(60), 1.6e5
    found = rigs.chamber_at(par, supply)
    for i in range(60):
        one = par[:, i : i + 1]
        lost = float(rigs._lost_behind_pinch(one)[0])
        names = "line_area", "hose_area", "offset", "bleed_area"
        area, hose_area, offset, bleed = (float(rigs.row(one, name)[0]) for name in names)
        branch = float(series_area(np.array(hose_area), np.array(lost)))

        def behind_the_ball(p, area=area, offset=offset, bleed=bleed, branch=branch):
            comes = through_ball(area, supply + AROUND, p, AROUND, WARM, offset, 1.0)[0]
            return comes - air_flow(bleed, p, AROUND, WARM)[0] - air_flow(branch, p, AROUND, WARM)[0]

        node = brentq(behind_the_ball, AROUND, AROUND + supply, xtol=1e-3)

        def in_the_chamber(p, hose_area=hose_area, node=node, lost=lost):
            return tube_flow(hose_area, node, p, WARM)[0] - air_flow(lost, p, AROUND, WARM)[0]

        chamber = brentq(in_the_chamber, AROUND - 1.0, node, xtol=1e-3) - AROUND
        assert found[i] == pytest.approx(chamber, abs=5.0)


def test_supply_that_holds_a_chamber_gives_that_chamber_back() -> None:
    par = cars(40, seed=5)
    supply = rigs.supply_for(par, 6.0e4)
    assert (supply < rigs.SEARCH_LIMIT - 1e3).all()
    # a leak behind a narrow hose counts as one area with it: a few tens of pascals
    assert rigs.chamber_at(par, supply) == pytest.approx(np.full(40, 6.0e4), abs=100.0)


def test_air_lost_behind_a_shop_hose_shows_on_the_gauge_before_it() -> None:
    """SciPy's brentq on the flow through hose and leak, one car at a time."""
    par = cars(8)
    lost = 0.7 * 0.25 * np.pi * np.array([0.0, 0.2, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0]) ** 2 * 1e-6  # holes of so many mm
    chamber = np.linspace(5e4, 1.5e5, 8)
    shown = rigs.regulator_for(par, chamber, lost)
    for i in range(8):
        leaves = float(air_flow(lost[i], chamber[i] + AROUND, AROUND, WARM)[0])

        def in_the_hose(p, i=i, leaves=leaves):
            return tube_flow(rigs._SHOP_HOSE, p, chamber[i] + AROUND, WARM)[0] - leaves

        held_by = brentq(in_the_hose, chamber[i] + AROUND - 1.0, chamber[i] + AROUND + 8e5, xtol=1e-3)
        assert shown[i] == pytest.approx(held_by - AROUND, abs=15.0)
    assert shown[0] == pytest.approx(chamber[0], abs=1.0)
    assert (np.diff(shown - chamber) > 0.0).all()


def test_the_two_engines_agree() -> None:
    par = cars(70, seed=7)
    rows = rigs._rows_at_rest(par, 0.0, None, None)
    rows[at_rest.LOW], rows[at_rest.HIGH], rows[at_rest.OTHER] = AROUND - 1.0, AROUND + 2e5, AROUND + 2e5
    inputs, steps = np.tile([0.0, 1.0], (at_rest.HALVINGS, 1)), np.ones(at_rest.HALVINGS)
    record = np.full(at_rest.HALVINGS, -1, np.int32)
    record[-1] = 0
    fast, plain = (
        at_rest.kernel().run(rows, inputs, steps, record, 1, engine=engine, dtype=np.float64)[0, 0]
        for engine in ("auto", "numpy")
    )
    assert np.abs(fast - plain).max() < 1e-6
