"""Mistakes: file, line, what was expected, what to do; never a traceback."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostproof.casefolder import read_case
from boostproof.errors import InputError, UnsupportedCarError

from .conftest import CAR, HEAD, Make, ReadCase


def refused(folder: Path) -> InputError:
    with pytest.raises(InputError) as caught:
        read_case(folder)
    error = caught.value
    assert error.says
    assert error.do
    assert "Traceback" not in str(error)
    return error


# --- the folder and the file ---------------------------------------------------------------------


def test_no_such_folder(tmp_path: Path) -> None:
    error = refused(tmp_path / "nowhere")
    assert error.says == "There is no such folder."
    assert "nowhere" in error.where


def test_a_file_instead_of_a_folder(make: Make) -> None:
    error = refused(make() / "car.toml")
    assert error.says == "car.toml is a file; a case is a folder with car.toml in it."
    assert error.do == "Give the folder instead."


def test_no_car_toml(make: Make) -> None:
    error = refused(make(None))
    assert error.says == "There is no car.toml in this folder."
    assert "boostproof new DIR" in error.do


def test_a_misnamed_car_toml(make: Make) -> None:
    assert 'Did you mean "cars.toml"?' in refused(make(None, files=["cars.toml"])).do


def test_a_folder_named_car_toml(make: Make) -> None:
    folder = make(None)
    (folder / "car.toml").mkdir()
    assert refused(folder).says == "car.toml is a folder, not a file."


@pytest.mark.parametrize("text", ["", "  \n\n"])
def test_an_empty_file(make: Make, text: str) -> None:
    error = refused(make(text))
    assert error.says == "car.toml is empty."
    assert error.where == "car.toml"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read(make: Make) -> None:
    folder = make()
    (folder / "car.toml").chmod(0)
    assert "cannot be read" in refused(folder).says


def test_not_utf8(make: Make) -> None:
    error = refused(make(CAR.encode() + b'# \xb1 sign\n'))
    assert error.where == "car.toml, line 12"
    assert "not UTF-8" in error.says


def test_utf16_and_binary(make: Make) -> None:
    assert refused(make(CAR.encode("utf-16"))).says == "car.toml is UTF-16 text."
    assert refused(make(b"PK\x03\x04\0\0")).says == "car.toml is not a text file."


def test_a_recording_saved_as_car_toml(make: Make) -> None:
    assert refused(make(b"rpm,boost\n" * 500_000)).kind == "too-large"


# --- TOML ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "says", "do"),
    [
        ("displacement = 2.0 L", "text and quantities stand in quotes", 'displacement = "2.0 L"'),
        ("displacement = \u201c2.0 L\u201d", "typographic quotes", "straight quotes"),
        ('displacement = "2.0 L', "a text is not closed on its line", 'Close it with ".'),
        ("full_load_lambda = 0,82", "a plain number has a decimal point", "full_load_lambda = 0.82"),
        ("water_injection = yes", "written true and false", "water_injection = true"),
        ("displacement =", "nothing stands after the equals sign", "Fill the value in"),
        ("displacement", "an equals sign is missing", "Write key"),
        ("[engine", "a section heading is not closed", "[section]"),
        ("[car]", "this section or key stands twice", "under one heading"),
        ('name = "x"\nname = "y"', "this key stands twice", "Keep one"),
        ('notes = "C:\\logs"', "a backslash", "with / instead"),
        ("x = [1 2]", "a list is not closed, or a comma is missing", "]"),
    ],
)
def test_toml_mistakes_in_plain_words(make: Make, line: str, says: str, do: str) -> None:
    error = refused(make(f"format = 1\n[car]\n{line}\n[wastegate]\n"))
    assert error.kind == "not-toml"
    assert error.where in {"car.toml, line 3", "car.toml, line 4"}
    assert says in error.says
    assert do in error.do


def test_lists_inside_each_other_without_end(make: Make) -> None:
    assert refused(make("x = " + "[" * 100_000)).kind == "not-toml"


# --- keys and values -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "line", "says", "do"),
    [
        ('name = "the red coupe"', 'nmae = "x"', 3, '[car] has no key "nmae".', 'Did you mean "name"?'),
        ("[wastegate]", "[wastgate]", 8, 'The file has no section "wastgate".', 'Did you mean "wastegate"?'),
        ("cylinders = 4", 'cylinders = 4\nport = "26 mm"', 7, '[engine] has no key "port".', "port belongs in [wastegate]."),
        ('"2.0 L"', "2.0", 5, "[engine] displacement: 2.0 has no unit.", "Accepted units: L, cc, ci, mL."),
        ('"2.0 L"', '"2.0 mm"', 5, '"2.0 mm" is a length, but a volume is expected.', "L, cc, ci, mL"),
        ('"2.0 L"', '"2.0 litrs"', 5, '"litrs" in "2.0 litrs" is not a unit of volume.', "Did you mean L?"),
        ('"2.0 L"', '"-2.0 L"', 5, "must be above zero", "Leave the key out"),
        ('"2.0 L"', '""', 5, "[engine] displacement is not filled in.", 'for example "2.0 L"'),
        ("cylinders = 4", 'cylinders = "4"', 6, '"4" is not a plain number.', "without quotes and unit"),
        ("cylinders = 4", "cylinders = 4.5", 6, "4.5 is not a whole number.", "for example 4"),
        ("cylinders = 4", "cylinders = 400", 6, "400 is not between 1 and 16.", "number of cylinders"),
        ("cylinders = 4\n", "", 4, "[engine] lacks cylinders.", "Add cylinders = 4"),
        ('kind = "none"', 'kind = "bal and spring"', 11, '"bal and spring" is not known here.',
         'Did you mean "ball and spring"? Accepted: none, ball and spring, bleed valve'),
        ('kind = "none"', "kind = true", 11, "true is not one of its words.", "Accepted: none"),
        ("[controller]\nkind = \"none\"\n", "", 1, "The section [controller] is missing.", "kind ="),
        ("format = 1\n", "", 1, 'The line "format = 1" is missing.', "first line"),
        ("format = 1", "format = 2", 1, "this version reads format 1, not 2.", "format = 1"),
        ('name = "the red coupe"', "name = true", 3, "true is not text.", "in quotes"),
    ],
)  # fmt: skip
def test_car_mistakes(make: Make, old: str, new: str, line: int, says: str, do: str) -> None:
    assert old in CAR
    error = refused(make(CAR.replace(old, new)))
    assert error.where == f"car.toml, line {line}"
    assert says in error.says
    assert do in error.do


@pytest.mark.parametrize(
    ("text", "says", "do"),
    [
        ('[weather]\nbarometer = "99 kPa gauge"', "always absolute", "Leave the word gauge out"),
        ('[weather]\nhumidity = "160 %"', "more than 100 %", "Check"),
        ("[pull_place]\nlift = \"yes\"", '"yes" is neither true nor false.', "without quotes"),
        ('[signal_line]\nlength = "-1 m"', "must be above zero", "Leave"),
        ('[history]\nonly_when = ["hot", "dmp"]', '"dmp" is not known here.', "Accepted: hot, cold"),
        ("[history]\nlast_right = 5", "[history.last_right] is a table of keys, not 5.", "Write"),
        ('[[history.changed]]\nwhat = "exhaust"\nwhen = "May"', '[history.changed] 1 has no key "when".', "Known keys"),
        ('[turbo]\ncompressor_map = "maps/none.csv"', 'there is no file "maps/none.csv"', "relative to the case"),
        ('[turbo]\ncompressor_map = "../secret.csv"', "lies outside the case folder", "Copy it"),
        ('[limits]\ntarget = 14', "14 has no unit.", 'Accepted too: "as logged", "not known".'),
        ('[limits]\ntarget = [{ rpm = "4000 rpm", boost = 14 }]', "[limits.target] 1 boost: 14 has no unit.", "psi"),
        ("[engine2]", 'no key "engine2"', 'Did you mean "engine"?'),
    ],
)  # fmt: skip
def test_more_car_mistakes(make: Make, text: str, says: str, do: str) -> None:
    error = refused(make(CAR + text + "\n"))
    assert error.where.startswith("car.toml, line 1")
    assert says in error.says.replace('section "engine2"', 'key "engine2"')
    assert do in error.do


def test_the_first_mistake_is_said_and_the_others_counted(make: Make) -> None:
    error = refused(make(CAR.replace('"2.0 L"', "2.0").replace('"7000 rpm"', '"7000"') + "[intake]\ncoler = 1\n"))
    assert error.where == "car.toml, line 5"
    assert error.do.endswith("More to mend in this file: lines 7, 13.")


@pytest.mark.parametrize(
    ("reading", "line", "says", "do"),
    [
        ('test = "actuator-sweeps"', 3, 'There is no test "actuator-sweeps".', 'Did you mean "actuator-sweep"?'),
        ('test = "leak-down"', 3, 'There is no test "leak-down".', "part of an actuator-sweep"),
        ('note = "x"', 2, "Reading 1 lacks test.", "actuator-sweep"),
        ('test = "seat-leak"\nfirst_movement = "7 psi"', 4, 'Reading 1 (seat-leak) has no key "first_movement".',
         "first_movement is a key of actuator-sweep"),
        ('test = "actuator-sweep"\nfirst_movement = 7', 4, "7 has no unit.", 'Accepted too: "none".'),
        ('test = "actuator-sweep"\n[reading.vent]\nheld = "12 psi"', 5, "[reading.vent] 1 held", "mm"),
        ('test = "actuator-sweep"\n[reading.vents]\nheld = "12 mm"', 4, 'has no key "vents"', 'Did you mean "vent"?'),
        ('test = "sensor-check"\nrows = [\n  { applied = "0 psi" },\n  { applied = 15 },\n]', 6, "15 has no unit", "psi"),
        ('test = "intake-pressurise"\ndrop_in_30_s = "1 psi abs"', 4, "difference of two pressures", "abs"),
        ('test = "floor-pull"\nrecording = "recordings/a.csv"', 4, 'no file "recordings/a.csv"', "relative"),
        ('test = "hot-repeat"\nof = "sweep"', 4, '"sweep" is not known here.', "Accepted"),
    ],
)  # fmt: skip
def test_reading_mistakes(make: Make, reading: str, line: int, says: str, do: str) -> None:
    error = refused(make(readings=f"{HEAD}[[reading]]\n{reading}\n"))
    assert error.where == f"readings.toml, line {line}"
    assert says in error.says
    assert do in error.do


@pytest.mark.parametrize(
    ("text", "line", "says", "do"),
    [
        ('file = "recordings/lgo.csv"', 3, 'no file "recordings/lgo.csv"', 'Did you mean "recordings/log.csv"?'),
        ('file = "log.csv"', 3, 'no file "log.csv"', 'Did you mean "recordings/log.csv"?'),
        ('set_up = { controller = "in" }', 2, "lacks file", "recordings/log.csv"),
        ('file = "recordings/log.csv"\n[[recording]]\nfile = "recordings/log.csv"', 5, "stands twice", "one heading"),
        ('file = "recordings/log.csv"\n[recording.channels]\nbost = "P"', 5, 'no name "bost"', 'Did you mean "boost"?'),
        ('file = "recordings/log.csv"\n[recording.channels]\nboost = { column = "P", unit = "pis" }', 5,
         '"pis" is not a known unit', "psi"),
        ('file = "recordings/log.csv"\nexcluded = [{ from = 3, to = 2 }]', 4, "has no length", "earlier"),
        ('file = "recordings/log.csv"\nset_up = { gate = "held" }', 4, '"held" is not known here.', "held open"),
    ],
)  # fmt: skip
def test_pulls_mistakes(make: Make, text: str, line: int, says: str, do: str) -> None:
    error = refused(make(pulls=f"{HEAD}[[recording]]\n{text}\n", files=["recordings/log.csv"]))
    assert error.where == f"pulls.toml, line {line}"
    assert says in error.says
    assert do in error.do


# --- names and headings --------------------------------------------------------------------------


def test_a_misspelt_heading_is_found_where_it_stands(make: Make) -> None:
    error = refused(make(readings=f'{HEAD}[[reading]]\ntest = "free-travel"\n\n[reeding.leak]\nstart = "9 psi"\n'))
    assert error.where == "readings.toml, line 5"
    assert 'Did you mean "reading"?' in error.do


def test_a_misspelt_heading_that_makes_the_next_one_stand_twice(make: Make) -> None:
    sweep = 'test = "actuator-sweep"\n[reading.vent]\nheld = "12 mm"\n'
    error = refused(make(readings=f"{HEAD}[[reading]]\n{sweep}[[raeding]]\n{sweep}"))
    assert error.kind == "not-toml"
    assert error.where == "readings.toml, line 8"
    assert "stands twice" in error.says
    assert error.do.startswith("Is [raeding] on line 6 meant as [reading]?")


def test_a_section_that_stands_twice_is_no_misspelling(make: Make) -> None:
    error = refused(make(CAR + '[engine]\nfuel = "petrol"\n'))
    assert error.do.startswith("Put all keys of a section under one heading")


@pytest.mark.parametrize("name", ["maps/" + "x" * 300, "maps/a\\u0000b"])
def test_a_file_name_that_no_file_can_have(make: Make, name: str) -> None:
    error = refused(make(CAR + f'[turbo]\ncompressor_map = "{name}"\n'))
    assert error.kind == "no-file"
    assert error.where == "car.toml, line 13"


# --- values that no car has ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("section", "line", "limits"),
    [
        ("turbo", 'compressor_inducer = "46 m"', "0.01 to 0.3 m"),
        ("exhaust", 'bore = "63 cm"', "1.5 to 30 cm"),
        ("actuator", 'opening_pressure = "900 psi"', "-14.5 to 145 psi"),
        ("actuator", 'opening_pressure = "1e300 psi"', "-14.5 to 145 psi"),
        ("actuator", 'opening_pressure = "8..80 bar"', "-1 to 10 bar"),
        ("limits", 'stop = "90 kPa abs"', "102.3 to 1101 kPa"),
        ("sensors", 'manifold_range = "30 bar"', "0.8 to 20 bar"),
        ("sensors", 'manifold_range = "450 psi gauge"', "-3.093 to 275.4 psi"),
        ("weather", 'barometer = "101.3 bar"', "0.45 to 1.12 bar"),
        ("weather", 'temperature = "240 C"', "-63.15 to 61.85 C"),
        ("signal_line", 'restrictor = "1.2 in"', "0.001969 to 0.3937 in"),
    ],
)
def test_a_slip_of_the_unit_or_the_decimal_point(make: Make, section: str, line: str, limits: str) -> None:
    error = refused(make(CAR + f"[{section}]\n{line}\n"))
    assert error.where == "car.toml, line 13"
    assert f"is not possible here ({limits} is)." in error.says
    assert error.do == "Check the unit and the decimal point."


@pytest.mark.parametrize(
    "text",
    [
        '[limits]\nstop = "2.2 bar abs"',
        '[sensors]\nmanifold_range = "2 bar gauge"',
        '[weather]\nbarometer = "780 mbar"\ntemperature = "-20 F"\naltitude = "-3 m"',
        '[actuator]\noperated_by = "pressure"\nopening_pressure = "-0.4 bar"',
        '[turbo]\ncompressor_inducer = "1.8 in"',
    ],
)
def test_rare_cars_are_not_refused(read: ReadCase, text: str) -> None:
    assert read(text).findings == ()


# --- out of scope --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("section", "line", "says"),
    [
        ("engine", 'fuel = "diesel"', "Diesel"),
        ("engine", 'fuel = "Diesel B7"', "Diesel"),
        ("engine", "supercharger = true", "supercharger"),
        ("turbo", 'geometry = "variable"', "Variable-geometry"),
        ("turbo", 'geometry = "variable vanes"', "Variable-geometry"),
        ("turbo", 'arrangement = "sequential"', "Sequential and compound"),
        ("turbo", 'arrangement = "compound"', "Sequential and compound"),
        ("turbo", 'arrangement = "electrically driven"', "Electrically driven"),
        ("turbo", "electric = true", "Electrically driven"),
        ("turbo", 'driven_by = "electric motor"', "Electrically driven"),
    ],
)
def test_out_of_scope_is_said_by_name_before_anything_else(make: Make, section: str, line: str, says: str) -> None:
    broken = CAR.replace('"2.0 L"', "2.0").replace("[engine]\n", "[engine]\n" + (f"{line}\n" if section == "engine" else ""))
    text = broken + (f"[turbo]\n{line}\n" if section == "turbo" else "")
    with pytest.raises(UnsupportedCarError) as caught:
        read_case(make(text))
    assert says in caught.value.says
    assert caught.value.kind == "unsupported-car"
    assert caught.value.where == f"car.toml, line {5 if section == 'engine' else 13}"


def test_more_than_two_turbos_is_refused(make: Make) -> None:
    assert "3 is not between 1 and 2" in refused(make(CAR + "[turbo]\ncount = 3\n")).says


@pytest.mark.parametrize("line", ['geometry = "fixed"', "electric = false", 'compressor_map = "electric.csv"'])
def test_in_scope_is_not_refused_by_name(make: Make, line: str) -> None:
    try:
        read_case(make(CAR + f"[turbo]\n{line}\n", files=["electric.csv"]))
    except UnsupportedCarError as error:
        pytest.fail(str(error))
    except InputError as error:
        assert "has no key" in error.says


# --- contradictions ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[limits]\ntarget = "20 psi"\nstop = "18 psi"', "The target 20 psi lies above the stop 18 psi"),
        ('[limits]\ntarget = "19..22 psi"\nstop = "18 psi"', "The target 19..22 psi lies above"),
        ('[limits]\ntarget = "2.6 bar abs"\nstop = "18 psi"', "The target 2.6 bar abs lies above"),
        ('[limits]\ntarget = [{ rpm = "3000 rpm", boost = "20 psi" }]\nstop = "18 psi"', "The target 20 psi lies above"),
        ('[actuator]\nopening_pressure = "10 psi"\nfull_travel_pressure = "8 psi"', "cannot be at its stop at 8 psi"),
    ],
)  # fmt: skip
def test_a_car_that_contradicts_itself(make: Make, text: str, says: str) -> None:
    error = refused(make(CAR + text + "\n"))
    assert error.kind == "contradiction"
    assert says in error.says
    assert error.where in {"car.toml, line 13", "car.toml, line 14"}


@pytest.mark.parametrize(
    "text",
    [
        '[limits]\ntarget = "17..20 psi"\nstop = "18 psi"',
        '[limits]\ntarget = "2.2 bar abs"\nstop = "18 psi"',
        '[limits]\ntarget = "as logged"\nstop = "18 psi"',
        '[actuator]\nopening_pressure = "7..10 psi"\nfull_travel_pressure = "8 psi"',
    ],
)
def test_what_only_may_contradict_is_let_through(read: ReadCase, text: str) -> None:
    assert read(text).findings == ()


@pytest.mark.parametrize(
    ("test", "set_up", "says"),
    [
        ("spring-only-pull", 'controller = "in"', "here controller is in"),
        ("floor-pull", 'gate = "controlled"', "here gate is controlled"),
        ("floor-pull", 'gate = "held shut"', "here gate is held shut"),
    ],
)
def test_readings_and_pulls_that_disagree(make: Make, test: str, set_up: str, says: str) -> None:
    readings = f'{HEAD}[[reading]]\ntest = "{test}"\nrecording = "recordings/a.csv"\n'
    pulls = f'{HEAD}[[recording]]\nfile = "recordings/a.csv"\nset_up = {{ {set_up} }}\n'
    error = refused(make(CAR, readings, pulls, ["recordings/a.csv"]))
    assert error.where == "pulls.toml, line 4"
    assert f"readings.toml calls recordings/a.csv a {test}, but {says}." in error.says


# --- anything at all -----------------------------------------------------------------------------

toml_values = st.recursive(
    st.one_of(
        st.integers(-10, 10).map(str), st.booleans().map(lambda b: str(b).lower()), st.just('"x"'), st.just("1979-05-27"),
        st.just("inf"), st.just("nan"), st.just('"22 psi"'), st.just('""'),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(st.sampled_from(["what", "rpm", "from", "a"]), inner, max_size=2).map(
            lambda table: "{" + ", ".join(f"{k} = {v}" for k, v in table.items()) + "}"
        ),
    ),
    max_leaves=4,
)  # fmt: skip
SECTIONS = {
    "turbo": ["count", "geometry", "compressor_map", "compressor_inducer", "as"],
    "limits": ["target", "stop", "lambda_leanest"],
    "history": ["changed", "tried", "last_right", "only_when", "stood", "ever_right"],
    "controller": ["kind", "turns_in", "bleed_hole", "closed_loop"],
}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from([(s, k) for s, keys in SECTIONS.items() for k in keys]), toml_values)
def test_any_value_is_read_or_refused_never_a_traceback(make: Make, place: tuple[str, str], value: str) -> None:
    section, key = place
    text = CAR.replace('[controller]\nkind = "none"\n', "") if section == "controller" else CAR
    try:
        read_case(make(f"{text}[{section}]\n{key} = {value}\n"))
    except InputError as error:
        assert error.where.startswith("car.toml, line")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(), st.binary()))
def test_any_file_is_read_or_refused(make: Make, content: str | bytes) -> None:
    raw = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    with pytest.raises(InputError):
        read_case(make(raw))
