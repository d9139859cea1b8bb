"""Every test has a whole procedure: cautions where they must be, no pressure above its limit, examples that
our own reader takes."""

from __future__ import annotations

import doctest
import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest
from tests.unit.bench.small_car import write_car

from boostproof.bench.procedures import (
    CAUTION_KINDS,
    Procedure,
    caution,
    deference,
    fill,
    filling,
    procedure,
    procedures,
    quantities,
)
from boostproof.bench.readings import READING_TYPES
from boostproof.bench.tests import CATALOGUE, BenchTest
from boostproof.car.spec import PullPlace
from boostproof.casefolder import read_case
from boostproof.errors import InputRangeError
from boostproof.keys import keys_of
from boostproof.quantity import parse_quantity

ALL = procedures()
UNITS = ("psi", "bar", "kPa")
KPA = 1e3

# Hazards of the tests, by what is done in them: written here once more so that a caution cannot be lost.
AIR_AT_ACTUATOR = {
    "actuator-sweep", "leak-down", "controller-sweep", "line-sweep", "controller-vent", "bleed-decay",
    "solenoid-check", "hot-repeat",
}  # fmt: skip
REGULATED = AIR_AT_ACTUATOR | {"hose-flow", "intake-pressurise"}
RUNNING = {
    "floor-pull", "spring-only-pull", "line-pressure-log", "turbine-pressure-log", "exhaust-back-pressure",
    "tip-in", "re-apply", "repeat-ramp", "plugs-and-fuel", "swap-known-good",
}  # fmt: skip
HOT = REGULATED - {"hose-flow", "hot-repeat"} | {
    "cold-look", "free-travel", "seat-leak", "port-measure", "shaft-check", "exhaust-smoke", "compression",
    "hot-repeat", "floor-pull", "spring-only-pull", "line-pressure-log", "turbine-pressure-log",
    "exhaust-back-pressure", "plugs-and-fuel", "swap-known-good",
}  # fmt: skip
ELECTRICAL = {"solenoid-check", "sensor-check", "fault-memory-look", "hot-repeat"}
FUEL = {"plugs-and-fuel", "compression", "exhaust-smoke"}
LIFTED = {"free-travel", "seat-leak", "port-measure", "exhaust-smoke"}
# Highest pressure that a text may name [kPa gauge], from the procedures in the notes on the tests: 100 on a
# line or controller, 200 on a sensor, 20 into a turbine inlet, 100 as an example of a cap's force.
HIGHEST = {"sensor-check": 200.0, "compression": 1500.0, "plugs-and-fuel": 600.0, "intake-pressurise": 100.0}
LIMIT_OVER_FIRST_MOVEMENT = 60.0  # actuator of an internal gate whose maker says nothing


def words(one: Procedure) -> str:
    """All its text, cautions aside."""
    lines = [
        one.title, one.purpose, *one.parts_off, *one.tools, *one.connect, *one.steps, one.write, *one.never,
        one.pointless, one.sound, *(fault.shows for fault in one.faults),
    ]  # fmt: skip
    return "\n".join(lines)


def kinds(one: Procedure) -> set[str]:
    return {item.kind for item in one.cautions}


def keys(one: Procedure) -> set[str]:
    return {item.key for item in one.cautions}


def test_every_test_of_the_catalogue_and_of_the_readings_has_one() -> None:
    assert [one.number for one in ALL] == list(range(1, 30))
    assert {one.id for one in ALL} == {*READING_TYPES, "leak-down"}
    assert {test.id: test.number for test in CATALOGUE}.items() <= {one.id: one.number for one in ALL}.items()


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_it_is_complete(one: Procedure) -> None:
    may_be_empty = {"need", "parts_off", "figure", "pulls"}
    for item in fields(one):
        assert getattr(one, item.name) or item.name in may_be_empty, item.name
    low, high = one.minutes
    assert 0.0 < low < high
    assert one.purpose.count(".") == 1 and one.purpose.endswith(".")
    for line in (*one.connect, *one.steps, *one.never, one.sound, one.pointless, one.write):
        assert line.rstrip("\"'").endswith((".", "?")), line
    assert set(one.need) <= set(keys_of(PullPlace))
    assert one.cautions[0].kind in CAUTION_KINDS
    assert len({item.key for item in one.cautions}) == len(one.cautions)


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.id)
def test_it_agrees_with_the_test_it_belongs_to(test: BenchTest) -> None:
    one = procedure(test.id)
    assert one.minutes[0] <= test.minutes <= one.minutes[1]
    assert one.need == ((test.need,) if test.need else ())
    assert (test.title, test.steps) == (one.title, one.steps)
    assert list(test.cautions) == [item.says for item in one.cautions]


def test_an_unknown_test_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputRangeError, match="actuator-sweep"):
        procedure("actuator-swep")


# -- cautions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_every_hazard_has_its_caution(one: Procedure) -> None:
    found = kinds(one)
    assert ("air" in found) or one.id not in REGULATED | {"sensor-check"}
    assert ("pull" in found and "co" in found) or one.id not in RUNNING | {"hot-repeat"}
    assert ("hot" in found) or one.id not in HOT
    assert ("electrical" in found) or one.id not in ELECTRICAL
    assert ("fuel" in found) or one.id not in FUEL
    assert ("lift" in found) or one.id not in LIFTED
    assert {"supply", "eyes"} <= keys(one) or one.id not in REGULATED
    assert "hands" in keys(one) or one.id not in AIR_AT_ACTUATOR
    assert keys(one) & {"limit-actuator", "limit-through"} or one.id not in AIR_AT_ACTUATOR
    assert {"cut", "least-first", "mixture"} <= keys(one) or one.id not in RUNNING
    assert "hot" in found or "lift" not in found


def test_what_the_air_cautions_say() -> None:
    supply, eyes = caution("supply").says, caution("eyes").says
    for part in ("regulator", "relief valve", "shut-off", "Start at zero"):
        assert part in supply
    assert "Eye protection" in eyes
    for key in ("limit-actuator", "limit-through"):
        said = caution(key).says
        assert "maker's" in said and "{max 60 kPa} above first movement" in said
        assert "internal" in said and "{max 100 kPa}" in said and "external" in said
    intake = caution("limit-intake").says
    assert "Never above the boost wanted" in intake and "Crankcase vent open" in intake
    assert "280 N" in caution("caps").says and "caps" in keys(procedure("intake-pressurise"))
    assert "fused" in caution("fuse").says and "airbag" in caution("fuse").says
    assert "Never hold the gate shut" in caution("never-shut").says


def test_the_force_on_a_cap_is_that_of_the_pressure() -> None:
    # 100 kPa on a disc of 60 mm: pi/4 d^2 p = 283 N
    force = 3.14159 / 4.0 * 0.060**2 * 100e3
    assert force == pytest.approx(280.0, rel=0.02)


def test_every_caution_is_used_or_belongs_to_a_repair() -> None:
    from boostproof.bench.procedures import _cautions

    used = {key for one in ALL for key in keys(one)}
    repairs = {"recheck-fuel", "law", "recheck-floor", "runaway", "overspeed"}
    assert set(_cautions("en")) == used | repairs
    assert {item.kind for item in _cautions("en").values()} == set(CAUTION_KINDS)


def test_the_maker_local_rules_and_licensed_practice_go_first() -> None:
    for part in ("maker", "local rules", "licensed practice", "unsafe"):
        assert part in deference()


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_no_test_holds_a_gate_shut(one: Procedure) -> None:
    assert 'gate = "held shut"' not in one.pulls
    told = "\n".join((*one.steps, *one.connect))
    assert not re.search(r"(hold|held|tie|clamp|wire|cap)\w* (it |the gate |the lever )?shut", told.lower())


# -- pressures --------------------------------------------------------------------------------------


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_no_text_names_a_pressure_above_the_limit(one: Procedure) -> None:
    highest = HIGHEST.get(one.id, 100.0) * KPA
    assert max(quantities(words(one)), default=0.0) <= highest
    example = re.sub(r'"[^"]*" abs|barometer = "[^"]*"', "", one.reading)
    slack = 10.0 * KPA  # a supply before a controller may stand a little higher than what it lets through
    assert max(quantities(example), default=0.0) <= highest + slack
    for item in one.cautions:
        if item.key != "supply":  # that one says what workshop air has
            assert max(quantities(item.says), default=0.0) <= 200.0 * KPA


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_no_quantity_with_another_unit_in_other_shops_is_written_out(one: Procedure) -> None:
    text = "\n".join((words(one), one.reading, one.pulls, *(item.says for item in one.cautions)))
    bare = re.sub(r"\{[^{}=\n]*\}", "", text)
    assert not re.search(r"\d\s*(psi|kPa|bar|mbar|inHg|mm|°C|°F|degC)\b", bare)


@pytest.mark.parametrize("test", ["actuator-sweep", "leak-down"])
def test_the_examples_keep_to_the_limit_over_first_movement(test: str) -> None:
    (row,) = tomllib.loads(fill(procedure(test).reading))["reading"]

    def kpa(text: str) -> float:
        return parse_quantity(text, dimension="pressure", usual_sd=0.0).value / KPA

    if "supply_up_to" in row:
        assert kpa(row["supply_up_to"]) <= kpa(row["first_movement"]) + LIMIT_OVER_FIRST_MOVEMENT
        assert kpa(row["first_movement"]) < kpa(row["full_travel"]) <= kpa(row["supply_up_to"])
        assert kpa(row["last_return"]) < kpa(row["first_movement"])
    assert kpa(row["leak"]["start"]) >= kpa(row["leak"]["after_60_s"])


@pytest.mark.parametrize("units", ["psi", "bar", "kPa", "MPa", "mbar"])
def test_a_limit_is_never_rounded_up(units: str) -> None:
    for limit in (5, 20, 50, 60, 100, 200):
        said = fill(f"{{max {limit} kPa}}", pressure=units)
        value = parse_quantity(said, dimension="pressure", usual_sd=0.0).value
        assert 0.98 * limit * KPA - 500.0 <= value <= limit * KPA * (1.0 + 1e-12)


def test_units_are_those_of_the_shop() -> None:
    assert doctest.testmod(filling).failed == 0
    # 1 psi = 6.894757 kPa, 1 in = 25.4 mm (NIST SP 811, from memory)
    text = "{60 kPa}, {20 to 30 kPa}, {12 mm}, {0.5 m}, {600 to 950 degC}, { duty = 1 }, {no place}"
    assert fill(text) == "60 kPa, 20 to 30 kPa, 12 mm, 0.5 m, 600 to 950 °C, { duty = 1 }, {no place}"
    assert fill(text, pressure="psi", length="in", temperature="F") == (
        "8.7 psi, 2.9 to 4.4 psi, 0.47 in, 20 in, 1110 to 1740 °F, { duty = 1 }, {no place}"
    )
    assert fill("{100 kPa}", pressure="bar") == "1.00 bar"


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_nothing_is_left_unfilled(one: Procedure) -> None:
    for text in (words(one), *(item.says for item in one.cautions)):
        assert "{" not in fill(text, pressure="psi")


# -- examples ---------------------------------------------------------------------------------------



@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_the_example_is_read_without_a_question(one: Procedure, units: str, tmp_path: Path) -> None:
    write_car(tmp_path)
    for name, text in (("readings", one.reading), ("pulls", one.pulls)):
        if text:
            length = "in" if units == "psi" else "mm"
            body = "format = 1\n" + fill(text, pressure=units, length=length)
            (tmp_path / f"{name}.toml").write_text(body, encoding="utf-8")
    (tmp_path / "recordings").mkdir()
    for name in set(re.findall(r"recordings/[\w.]+", one.reading + one.pulls)):
        (tmp_path / name).write_text("time,rpm\n0,1\n", encoding="utf-8")
    case = read_case(tmp_path)
    assert case.findings == ()
    (read,) = case.readings.reading
    assert read.test == ("actuator-sweep" if one.id == "leak-down" else one.id)
    told = {item.name for item in fields(read) if getattr(read, item.name) not in (None, ())} - {"test"}
    assert told
    recorded = getattr(read, "recording", None)
    assert recorded is None or one.id == "swap-known-good" or recorded in [r.file for r in case.pulls.recording]


@pytest.mark.parametrize("one", [one for one in ALL if one.figure], ids=lambda one: one.id)
def test_a_figure_is_named_for_its_test(one: Procedure) -> None:
    assert one.figure == one.id
