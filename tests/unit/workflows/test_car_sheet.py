"""Answers of the Car page: understood one by one, changed in place, put right together."""

from __future__ import annotations

import tomllib

import pytest

from boostproof.car.spec import CarSpec
from boostproof.errors import InputError
from boostproof.keys import walk
from boostproof.quantity import Quantity
from boostproof.workflows.car_answer import Problem, Said, key_at, understood
from boostproof.workflows.car_changes import changed, merged
from boostproof.workflows.car_sheet import read_sheet, values_of
from boostproof.workflows.car_worth import Worth, worth_knowing

CAR = """\
format = 1  # first
[car]
name = "Test Estate"
complaint = ["climbs", "worse cold"]
[engine]
displacement = "2 L"
cylinders = 4
water_injection = false
[limits]
target = "15 psi"
[history]
only_when = "hot"
[[history.changed]]
what = "exhaust"  # told on the phone
from = "60 mm"
"""


def test_the_sheet_holds_what_the_file_says_and_what_is_missing() -> None:
    sheet = read_sheet(CAR.encode())
    assert sheet.values["engine.cylinders"] == ("4",)
    assert sheet.values["engine.water_injection"] == ("no",)
    assert sheet.values["car.complaint"] == ("climbs\nworse cold",)
    assert sheet.values["history.changed.0.from"] == ("60 mm",)
    assert sheet.missing == ("engine.redline", "wastegate.kind", "controller.kind")
    assert sheet.problems == {}
    assert read_sheet(b"").missing[:2] == ("car.name", "engine.displacement")


def test_what_is_wrong_in_a_file_stands_at_its_answer() -> None:
    text = CAR.replace('"2 L"', '"2 psi"').replace("cylinders", "cylinder") + '[turbo]\ngeometry = "variable"\n'
    problems = read_sheet(text.encode()).problems
    assert set(problems) == {"engine.displacement", "engine.cylinder", "turbo.geometry"}
    assert "is a pressure, but a volume is expected" in problems["engine.displacement"].says
    assert 'Did you mean "cylinders"?' in problems["engine.cylinder"].do
    high = CAR.replace('target = "15 psi"', 'target = "15 psi"\nstop = "12 psi"')
    assert "lies above the stop" in read_sheet(high.encode()).problems["limits.target"].says


@pytest.mark.parametrize(
    ("name", "said", "low", "high"),
    [
        ("limits.target", "11 or 12 psi", 75842.3, 82737.1),  # 1 psi = 6894.757 Pa
        ("limits.target", "about 0.8 bar", 72000.0, 88000.0),
        ("limits.stop", "22 psi +/- 1 psi", 144789.9, 158579.4),
        ("engine.displacement", "2,0", None, None),
        ("engine.redline", "6800", None, None),
        ("wastegate.port", "38..40", 0.038, 0.040),
    ],
)
def test_numbers_as_people_say_them(name: str, said: str, low: float | None, high: float | None) -> None:
    found = understood(name, (said,))
    assert isinstance(found, Quantity)
    if low is not None:
        assert (found.low, found.high) == pytest.approx((low, high), rel=1e-5)


def test_a_bare_number_gets_a_unit_only_where_the_question_names_it() -> None:
    assert understood("engine.displacement", ("2.0",)).value == pytest.approx(2.0e-3)
    found = understood("limits.target", ("14",))
    assert isinstance(found, Problem)
    assert "14 psi" in found.offers and "14 kPa" in found.offers
    assert "1 bar" in understood("limits.target", ("1",)).offers


@pytest.mark.parametrize(
    ("name", "said", "part"),
    [
        ("engine.redline", "6800 psi", "but a rotational speed is expected"),
        ("engine.cylinders", "four", "is not a plain number"),
        ("engine.cylinders", "40", "not between 1 and 16"),
        ("wastegate.kind", "internal flaper", 'Did you mean "internal flapper"?'),
        ("history.changed.0.what", "exhast", 'Did you mean "exhaust"?'),
        ("engine.supercharger", "yes", "outside what boostproof can judge"),
        ("engine.fuel", "diesel", "petrol and ethanol blends only"),
        ("wastegate.port", "26 m", "not possible here"),
    ],
)
def test_a_mistake_is_answered_with_what_was_expected(name: str, said: str, part: str) -> None:
    found = understood(name, (said,))
    assert isinstance(found, Problem)
    assert part in f"{found.says} {found.do}"


def test_nothing_and_not_known_are_fine() -> None:
    assert understood("wastegate.port", ("  ",)) is None
    assert understood("wastegate.port", ("not known",)) is None
    assert understood("limits.target", ("Not known",)) == "not known"
    assert understood("controller.bleed_hole", ("none",)) == "none"
    with pytest.raises(InputError):
        understood("engine.colour", ("grey",))


def test_changes_are_made_in_place() -> None:
    new = changed(CAR, {"engine.redline": ("6800",), "engine.water_injection": ("yes",), "car.complaint": ("climbs",)})
    assert new == CAR.replace('["climbs", "worse cold"]', '["climbs"]').replace(
        "water_injection = false\n", 'water_injection = true\nredline = "6800 rpm"\n'
    )


def test_rows_are_added_changed_and_taken_out() -> None:
    more = changed(CAR, {"history.changed.1.what": ("fuel",), "history.changed.1.fault": ("after",)})
    assert more == CAR + '\n[[history.changed]]\nwhat = "fuel"\nfault = "after"\n'
    less = changed(more, {"history.changed.0.what": (), "history.changed.0.from": ()})
    assert tomllib.loads(less)["history"]["changed"] == [{"what": "fuel", "fault": "after"}]
    assert "# told on the phone" in less
    none = changed(CAR, {"history.changed.0.what": (), "history.changed.0.from": ()})
    assert "changed" not in tomllib.loads(none)["history"]
    part = changed(CAR, {"history.changed.0.what": ()})
    assert tomllib.loads(part)["history"]["changed"] == [{"from": "60 mm"}]


def test_boost_over_speed_takes_the_place_of_one_boost_and_back() -> None:
    rows = changed(
        CAR, {"limits.target": (), "limits.target.0.rpm": ("3000",), "limits.target.0.boost": ("12 psi",)}
    )
    assert tomllib.loads(rows)["limits"]["target"] == [{"rpm": "3000 rpm", "boost": "12 psi"}]
    more = changed(rows, {"limits.target.1.rpm": ("5000 rpm",), "limits.target.1.boost": ("15 psi",)})
    assert len(tomllib.loads(more)["limits"]["target"]) == 2
    gone = {f"limits.target.{i}.{key}": () for i in range(2) for key in ("rpm", "boost")}
    assert tomllib.loads(changed(more, {**gone, "limits.target": ("14 psi",)}))["limits"]["target"] == "14 psi"


def test_two_people_change_different_answers() -> None:
    base = values_of(tomllib.loads(CAR))
    theirs = {**base, "engine.redline": ("7000 rpm",)}
    mine = {"limits.target": ["14 psi"], "engine.redline": [""], "engine.cylinders": [" 4 "]}
    found = merged(base, theirs, mine)
    assert found.changes == {"limits.target": ("14 psi",)}
    assert found.conflicts == ()


def test_two_people_change_the_same_answer() -> None:
    base = values_of(tomllib.loads(CAR))
    theirs: dict[str, Said] = {**base, "limits.target": ("16 psi",)}
    found = merged(base, theirs, {"limits.target": ["14 psi"]})
    assert found.changes == {}
    [one] = found.conflicts
    assert (one.name, one.before, one.theirs, one.mine) == ("limits.target", ("15 psi",), ("16 psi",), ("14 psi",))
    assert merged(base, theirs, {"limits.target": ["16 psi"]}).conflicts == ()


def test_rows_that_two_people_add_stand_one_after_the_other() -> None:
    base = values_of(tomllib.loads(CAR))
    theirs: dict[str, Said] = {**base, "history.changed.1.what": ("fuel",)}
    found = merged(base, theirs, {"history.changed.1.what": ["hoses"], "history.changed.1.to": [""]})
    assert found.changes == {"history.changed.2.what": ("hoses",)}
    assert found.conflicts == ()


def test_every_key_of_the_schema_is_an_answer() -> None:
    for path, key in walk(CarSpec):
        assert key_at(".".join(path)) is key


def test_worth_is_what_the_verdict_says_and_nothing_else() -> None:
    verdict = {
        "missing": ["test: port-measure", "car: gate port", "car: boost wanted", "log: line_pressure"],
        "next_tests": [{"id": "port-measure", "minutes": 45.0, "minutes_saved": 12.4}],
    }
    assert worth_knowing(verdict) == {
        "wastegate.port": Worth("wastegate.port", "port-measure", 45.0, 12.4),
        "limits.target": Worth("limits.target"),
    }
    loss = {"missing": ["car: gate port"], "next_tests": [{"id": "port-measure", "minutes": 45.0, "minutes_saved": -3.0}]}
    assert worth_knowing(loss)["wastegate.port"].minutes_saved == 0.0
    assert worth_knowing({"missing": ["car: gate port"], "next_tests": []})["wastegate.port"].test == ""
    figures = {**verdict, "unknowns": [{"name": "controller.bleed_hole", "minutes_saved": 23.9}]}
    assert worth_knowing(figures)["controller.bleed_hole"] == Worth("controller.bleed_hole", minutes_saved=23.9)
    assert worth_knowing({}) == {}
