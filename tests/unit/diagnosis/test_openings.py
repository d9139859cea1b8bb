"""Set-ups that tests share: every id is one of the catalogue, and sparing never makes a test free."""

from __future__ import annotations

from boostproof.bench.tests import BY_ID, CATALOGUE
from boostproof.diagnosis.choice.openings import NEEDS, OPENINGS, shared, spared, standing_after
from boostproof.diagnosis.choice.pull_risk import is_pull


def test_every_test_is_in_the_catalogue_and_every_opening_has_its_times() -> None:
    assert set(NEEDS) <= set(BY_ID)
    assert {o for needs in NEEDS.values() for o in needs} == set(OPENINGS)


def test_what_needs_a_lift_by_the_procedure_has_it_here() -> None:
    for test in CATALOGUE:
        assert ("lift" in test.procedure.need) == ("lifted" in NEEDS.get(test.id, ())), test.id


def test_every_pull_that_is_driven_for_itself_needs_the_car_strapped() -> None:
    beside = {"plugs-and-fuel", "hot-repeat"}  # a pull is a part of them, the bench the other
    for test in CATALOGUE:
        if test.id not in beside:
            assert is_pull(test.id) == ("strapped" in NEEDS.get(test.id, ())), test.id


def test_nothing_is_spared_on_a_car_that_is_together() -> None:
    assert all(spared(t.id, t.minutes, frozenset()) == 0.0 for t in CATALOGUE)


def test_every_test_keeps_its_own_work() -> None:
    for t in CATALOGUE:
        assert spared(t.id, t.minutes, frozenset(OPENINGS)) <= 0.7 * t.minutes


def test_a_second_test_behind_the_same_pipe_spares_lift_and_pipe() -> None:
    """45 min of measuring a port hold 6 min of lift and 20 min of pipe, which looking at the seat has made."""
    assert spared("port-measure", 45.0, standing_after(["seat-leak"])) == 26.0
    assert shared("actuator-sweep", "intake-pressurise") == {"air"}
    assert not shared("cold-look", "actuator-sweep")


def test_a_pull_ends_what_a_car_cannot_be_driven_with() -> None:
    assert "lifted" not in standing_after(["seat-leak", "floor-pull"])
    assert "air" in standing_after(["actuator-sweep", "floor-pull"])
    assert "strapped" not in standing_after(["floor-pull", "seat-leak"])
