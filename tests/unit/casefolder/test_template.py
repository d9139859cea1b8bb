"""The car.toml of a new case: complete, readable, and right once the must keys are filled in."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from boostproof.bench.readings import READING_TYPES
from boostproof.car.spec import CarSpec
from boostproof.casefolder import new_case, read_case
from boostproof.casefolder.template import car_template, readings_template
from boostproof.errors import InputError
from boostproof.keys import keys_of, walk

from .conftest import Make

FILLED = {
    "name": '"the red coupe"',
    "displacement": '"2.0 L"',
    "cylinders": "4",
    "redline": '"7000 rpm"',
    "kind": None,
}


def filled(text: str) -> str:
    """A template with its must keys filled in."""
    kinds = iter(['"internal flapper"', '"ball and spring"'])

    def fill(match: re.Match[str]) -> str:
        return f"{match[1]} = {FILLED[match[1]] or next(kinds)}"

    return re.sub(r'^(\w+) = ""  # must$', fill, text, flags=re.MULTILINE)


def test_a_new_case_asks_for_what_must_be_known_and_then_reads(tmp_path: Path) -> None:
    path = new_case(tmp_path / "new" / "case")
    assert path == tmp_path / "new" / "case" / "car.toml"
    assert (path.parent / "recordings").is_dir()
    with pytest.raises(InputError) as caught:
        read_case(path.parent)
    assert caught.value.says == "[car] name is not filled in."
    assert len(re.findall("# must$", path.read_text(encoding="utf-8"), re.MULTILINE)) == 6
    path.write_text(filled(path.read_text(encoding="utf-8")), encoding="utf-8")
    case = read_case(path.parent)
    assert case.findings == ()
    assert case.car.turbo.count is None
    assert case.car.controller.kind == "ball and spring"


def test_every_key_stands_in_the_template_with_its_meaning_and_choices() -> None:
    text = car_template()
    words = " ".join(text.replace("#", " ").split())
    for path, key in walk(CarSpec):
        if path[-1] == "as":
            continue
        assert re.search(rf"^\[?#?(?:   )?\s*{path[-1]}\b", text.replace("#   ", ""), re.MULTILINE), path
        assert " ".join(key.doc.split()) in words, path
        for choice in key.choices:
            assert choice in words, (path, choice)


def test_each_line_can_be_taken_over_by_taking_its_mark_away(tmp_path: Path) -> None:
    lines = filled(car_template()).splitlines()
    folder = tmp_path / "case"
    folder.mkdir()
    for file in ("maps/compressor.csv", "maps/turbine.csv"):
        (folder / file).parent.mkdir(exist_ok=True)
        (folder / file).write_text("x\n", encoding="utf-8")
    marked = [number for number, line in enumerate(lines) if re.match(r"#\w+ = ", line)]
    assert len(marked) > 70
    taken: set[tuple[str, str]] = set()
    section = ""
    together = list(lines)
    for number, line in enumerate(lines):
        section = line if line.startswith("[") else section
        if number in marked:
            alone = [*lines[:number], line[1:], *lines[number + 1 :]]
            (folder / "car.toml").write_text("\n".join(alone), encoding="utf-8")
            assert read_case(folder).findings == (), line
            name = line[1:].split(" =")[0]
            if (section, name) not in taken:
                together[number] = line[1:]
            taken.add((section, name))
    (folder / "car.toml").write_text("\n".join(together), encoding="utf-8")
    assert read_case(folder).findings == ()


def test_the_template_is_toml_within_the_width_of_a_screen() -> None:
    text = car_template()
    assert tomllib.loads(text)["format"] == 1
    assert max(len(line) for line in text.splitlines()) <= 120


def test_new_readings_are_empty_until_a_mark_is_taken_away(make: Make) -> None:
    text = readings_template()
    assert read_case(make(readings=text)).readings.reading == ()
    taken = re.sub(r"^#(?=\w+ = |\[)", "", text, flags=re.MULTILINE)
    case = read_case(make(readings=taken))
    assert case.findings == ()
    assert [reading.test for reading in case.readings.reading] == ["actuator-sweep", "free-travel", "intake-pressurise"]
    sweep, free, _ = case.readings.reading
    assert None not in [getattr(sweep, name) for name in keys_of(type(sweep)) if name != "gauge"]
    assert str(getattr(free, "swing", None)) == "15 mm"


def test_new_readings_name_every_test_whole_and_fit_a_screen() -> None:
    text = readings_template()
    assert [test for test in READING_TYPES if not re.search(rf'[ "]{test}[",\n]', text)] == []
    assert max(len(line) for line in text.splitlines()) <= 120


def test_new_leaves_readings_that_are_there(tmp_path: Path) -> None:
    (tmp_path / "readings.toml").write_text("mine", encoding="utf-8")
    new_case(tmp_path)
    assert (tmp_path / "readings.toml").read_text(encoding="utf-8") == "mine"


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    path = new_case(tmp_path)
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="left as it is"):
        new_case(tmp_path)
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_file_is_no_place_for_a_case(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="a case is a folder"):
        new_case(tmp_path / "x")
    with pytest.raises(InputError, match="cannot be written"):
        new_case(tmp_path / "x" / "y")
