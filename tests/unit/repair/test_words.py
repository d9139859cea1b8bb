"""What people write after --repair, and what is said where it cannot be read."""

from __future__ import annotations

import pytest

from boostproof.diagnosis.causes import Fitted
from boostproof.errors import InputError
from boostproof.repair.catalogue import CATALOGUE
from boostproof.repair.setting import Known, parse_known, setting_for
from boostproof.repair.words import parse_repair, parse_repairs


@pytest.mark.parametrize(
    ("written", "repair", "size"),
    [
        ("port 30 mm", "port", 0.030),
        ("bigger port 1.25 in", "port", 0.03175),
        ("Port", "port", None),
        ("spring 12 psi", "spring", 82737.1),
        ("spring 0,8 bar", "spring", 80e3),
        ("new spring", "spring", None),
        ("external gate 44 mm", "external gate", 0.044),
        ("controller 2 turns out", "controller", -2.0),
        ("controller half a turn in", "controller", 0.5),
        ("controller 1 turn in", "controller", 1.0),
        ("the line", "line", None),
        ("boost leak", "leak", None),
        ("line 4 mm", "line", 0.004),
        ("bleed 0.8 mm", "bleed", 0.0008),
        ("take-off", "take-off", None),
        ("fit a new actuator", "actuator", None),
    ],
)
def test_repairs_as_people_write_them(written: str, repair: str, size: float | None) -> None:
    chosen = parse_repair(written)
    assert chosen.repair.id == repair
    assert chosen.size == (None if size is None else pytest.approx(size, rel=1e-5))


def test_a_setting_may_count_from_slack() -> None:
    chosen = parse_repair("controller at 3 turns")
    assert (chosen.size, chosen.absolute) == (3.0, True)


def test_a_tolerance_is_kept_and_never_finer_than_the_trade() -> None:
    assert parse_repair("port 30 mm +/- 1 mm").tolerance == pytest.approx(0.5e-3)
    assert parse_repair("port 30 mm +/- 0.01 mm").tolerance == pytest.approx(0.15e-3)


@pytest.mark.parametrize(
    ("written", "says", "do"),
    [
        ("prot 30 mm", 'No repair is called "prot"', "port"),
        ("sprung", 'No repair is called "sprung"', "spring"),
        ("30 mm", "No repair is called", "port"),
        ("leak 3 mm", "comes in no sizes", '--repair "leak"'),
        ("port 30 psi", "", "mm"),
        ("port 30", "", "mm"),
        ("port 3 m", "lies between 10 mm and 70 mm", "port 30 mm"),
        ("spring 12 psi abs", "absolute", "spring 12 psi"),
        ("external gate", "needs its size", "external gate 44 mm"),
        ("controller 2 turns", "no setting", "2 turns out"),
        ("controller 2 clicks out", "no setting", "2 turns out"),
    ],
)
def test_what_cannot_be_read_is_said_with_what_to_write(written: str, says: str, do: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_repair(written)
    assert says in caught.value.says
    assert do in caught.value.do
    assert caught.value.where == "--repair"


def test_several_are_one_repair_together_each_once() -> None:
    assert [c.repair.id for c in parse_repairs(["port 30 mm", "spring 12 psi"])] == ["port", "spring"]
    with pytest.raises(InputError, match="twice"):
        parse_repairs(["port 30 mm", "port 31 mm"])
    with pytest.raises(InputError, match="No repair was named"):
        parse_repairs([])


def test_a_car_is_offered_only_what_it_has() -> None:
    with pytest.raises(InputError) as caught:
        parse_repair("solenoid", Fitted("ball and spring"))
    assert caught.value.kind == "repair-not-here"
    assert parse_repair("solenoid", Fitted("solenoid 3-port")).repair.id == "solenoid"


def test_every_repair_is_found_by_its_id_and_words() -> None:
    names = [w.casefold() for r in CATALOGUE for w in (r.id, *r.words)]
    assert len(names) == len(set(names))
    for repair in CATALOGUE:
        for word in (repair.id, *repair.words):
            written = f"{word} {repair.size.example}" if repair.size else word
            assert parse_repair(written).repair is repair


def test_two_settings_give_a_third() -> None:
    """Worked by hand: 70 kPa at 1 turn and 100 at 3 is 15 a turn, so 85 kPa lies at 2 turns."""
    found = setting_for(85e3, parse_known("1 turn 70 kPa"), parse_known("3 turns = 1.0 bar"), (5e4, 5.5e4, 6e4), 1.0)
    assert found.turns == pytest.approx(2.0)
    assert found.per_turn == pytest.approx(15e3)
    assert not found.far
    assert setting_for(160e3, Known(1.0, 70e3), Known(3.0, 100e3), (0.0, 0.0, 0.0), 1.0).far


@pytest.mark.parametrize("written", ["two turns 12 psi", "2 turns", "2 turns 12", "2 turns 30 psi abs"])
def test_a_setting_that_cannot_be_read(written: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_known(written)
    assert caught.value.where == "--known"


def test_two_settings_must_differ() -> None:
    with pytest.raises(InputError, match="too near"):
        setting_for(85e3, Known(2.0, 70e3), Known(2.1, 90e3), (0.0, 0.0, 0.0), 1.0)
