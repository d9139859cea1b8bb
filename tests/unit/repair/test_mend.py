"""Repairs undo their faults, keep the rest, and give what geometry says."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.signature_table import EDGE
from tests.unit.repair.cars import FITTED, TARGET, kind_with, ramp, subjects

from boostproof.bench import set_ups
from boostproof.diagnosis.causes import CATALOGUE as CAUSES
from boostproof.physics import layout
from boostproof.repair.catalogue import CATALOGUE, repairs_for, usual_repair
from boostproof.repair.edits import hose_area
from boostproof.repair.mend import mended
from boostproof.repair.model import Chosen
from boostproof.repair.ramp import boost_of, run
from boostproof.repair.words import parse_repairs


@pytest.mark.parametrize("cause", [c.id for c in CAUSES])
def test_the_usual_repair_of_every_cause_brings_the_car_back_to_sound(cause: str) -> None:
    kind = kind_with(cause)
    cars = subjects(kind, {cause: 1.0}, count=60, severity=None)
    repair = usual_repair(cause, FITTED[kind])
    if cause not in repair.mends:  # the engine stays what it is; the gate has to follow
        assert cause in repair.helps
        return
    par = mended(cars, [Chosen(repair)], FITTED[kind].controller, seed=3)
    assert np.any(cars.actual != cars.sound)
    for row, p in enumerate(layout.PARAMETERS):
        tolerance = repair.fresh.get(p.name, 0.0)
        if tolerance == 0.0:
            assert np.array_equal(par[row], cars.sound[row]), p.name
        else:
            off = np.log(par[row] / cars.sound[row])
            assert np.abs(off).max() < 4.0 * tolerance, p.name
            assert 0.5 * tolerance < off.std() < 1.5 * tolerance, p.name


def test_an_engine_that_outgrew_its_gate_is_helped_by_a_larger_port() -> None:
    kind = EDGE  # its gate is just large enough
    cars = subjects(kind, {"engine-outgrew-gate": 1.0}, count=6, severity=0.9)
    wide = mended(cars, parse_repairs(["port 27 mm"]), FITTED[kind].controller, seed=1)
    loop = FITTED[kind].closed_loop
    found, after = (boost_of(run(par, ramp(loop)))[-4:].max(axis=0) for par in (cars.actual, wide))
    assert np.all(found > TARGET + 1e4)
    assert np.all(after < TARGET + 5e3)


def test_what_a_repair_is_not_for_stays() -> None:
    cars = subjects(kind_with("bleed-oversize"),
                    {"port-too-small + signal-line-leak": 1.0})  # fmt: skip
    par = mended(cars, parse_repairs(["port"]), "ball and spring", seed=1)
    port, leak = layout.index_of("port_diameter"), layout.index_of("line_leak")
    assert np.array_equal(par[port], cars.sound[port])
    assert np.array_equal(par[leak], cars.actual[leak])
    both = mended(cars, parse_repairs(["port", "line"]), "ball and spring", seed=1)
    assert np.array_equal(both[leak], cars.sound[leak])


def test_causes_of_one_change_are_mended_by_their_own_repair_only() -> None:
    kind = kind_with("gate-flutter")
    cars = subjects(kind, {"gate-not-seating": 0.5, "gate-flutter": 0.5})
    par = mended(cars, parse_repairs(["rod"]), FITTED[kind].controller, seed=1)
    leak = layout.index_of("gate_leak")
    flutter = cars.answer == 1
    assert np.array_equal(par[leak, flutter], cars.sound[leak, flutter])
    assert np.array_equal(par[leak, ~flutter], cars.actual[leak, ~flutter])


def test_a_setting_counts_from_the_one_found_or_from_slack() -> None:
    cars = subjects(kind_with("bleed-oversize"), {"controller-set-high": 1.0})
    offset, turn, slack = (layout.index_of(n) for n in ("offset", "offset_per_turn", "offset_at_slack"))
    out = mended(cars, parse_repairs(["controller 2 turns out"]), "ball and spring", seed=1)
    moved = out[offset] - cars.actual[offset]
    assert np.median(moved / cars.actual[turn]) == pytest.approx(-2.0, abs=0.1)
    at = mended(cars, parse_repairs(["controller at 3 turns"]), "ball and spring", seed=1)
    assert np.median((at[offset] - cars.actual[slack]) / cars.actual[turn]) == pytest.approx(3.0, abs=0.1)


def test_the_same_parts_go_to_the_same_car_whatever_the_size() -> None:
    cars = subjects(kind_with("bleed-oversize"), {"port-too-small": 1.0})
    port = layout.index_of("port_diameter")
    one, other = (mended(cars, parse_repairs([f"port {d} mm"]), "ball and spring", seed=5)[port] for d in (28, 31))
    assert other - one == pytest.approx(3e-3 * np.ones(cars.count))


def test_hose_of_half_a_metre() -> None:
    """The notes' figure for 0.5 m of 4 mm hose, f 0.03 and K 1.5: 5.5 mm2."""
    assert float(hose_area(np.array(4e-3))) * 1e6 == pytest.approx(5.5, abs=0.05)


def test_an_external_gate_of_good_size_holds_what_a_small_port_did_not() -> None:
    kind = kind_with("bleed-oversize")
    cars = subjects(kind, {"port-too-small": 1.0}, count=8, severity=0.6)
    par = mended(cars, parse_repairs(["external gate 44 mm"]), FITTED[kind].controller, seed=1)
    found, after = (boost_of(run(p, ramp())) for p in (cars.actual, par))
    rise = [b[-1] - b[8] for b in (found, after)]
    assert np.median(rise[0]) > 15e3 > 3.0 * np.median(rise[1])


def test_a_tied_open_gate_of_the_repaired_car_lies_under_the_target() -> None:
    """Floor of the repaired car: the notes' test of capacity."""
    cars = subjects(kind_with("bleed-oversize"), {"port-too-small": 1.0}, count=6, severity=0.6)
    par = mended(cars, parse_repairs(["port"]), "ball and spring", seed=1)
    floors = [boost_of(run(p, ramp(), set_ups.GATE_HELD_OPEN))[-1] for p in (cars.actual, par)]
    assert np.all(floors[1] < floors[0] - 1e4)
    assert np.all(floors[1] < TARGET)


def test_every_repair_is_for_causes_of_the_catalogue_and_has_prices() -> None:
    known = {c.id for c in CAUSES}
    for r in CATALOGUE:
        assert r.mends and r.covers <= known
        assert 0.0 < r.minutes[0] <= r.minutes[1] and 0.0 <= r.parts[0] <= r.parts[1]
        assert set(r.fresh) <= set(layout.NAMES)
        assert (r.edit is None) == (r.size is None)
        if r.size is not None:
            assert list(r.size.trade) == sorted(r.size.trade)
            assert r.size.low <= r.size.trade[0] and r.size.trade[-1] <= r.size.high
    assert all(repairs_for(c.id) for c in CAUSES)
    usual = {c.id: usual_repair(c.id) for c in CAUSES}
    for c in CAUSES:  # the catalogue's own figures lie within the range
        low, high = usual[c.id].minutes
        assert 0.3 * low <= c.minutes <= 2.0 * high, c.id
