"""The drawing of a boost system: every kind, every cause, well-formed, with classes only, and honest about the unknown."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from tests.unit.small_car import small_car

from boostproof.car.spec import CarSpec
from boostproof.casefolder.files import read_car
from boostproof.casefolder.toml_file import read_toml
from boostproof.diagnosis.causes import CATALOGUE, Fitted
from boostproof.report.svg_pen import UNIT, moved
from boostproof.report.system_drawing import Drawing, draw_car, draw_system
from boostproof.report.system_layout import PARTS_OF, WIDTH, System, parts_of, places, system_of, words

CONTROLLERS = ("none", "ball and spring", "bleed valve", "solenoid 2-port", "solenoid 3-port", "solenoid 4-port")
KINDS = list(product(CONTROLLERS, (False, True), (1, 2)))
SVG = "{http://www.w3.org/2000/svg}"


def read(folder: Path, text: str) -> CarSpec:
    (folder / "car.toml").write_text(text, encoding="utf-8")
    return read_car(read_toml(folder / "car.toml", instead="")).car


def drawn(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing.svg)


def texts(root: ET.Element, kind: str) -> list[str]:
    return ["".join(e.itertext()) for e in root.iter(f"{SVG}text") if e.get("class") == kind]


@pytest.mark.parametrize(("controller", "external", "gates"), KINDS)
def test_every_kind_is_drawn_with_classes_only(controller: str, external: bool, gates: int) -> None:
    system = System(controller, external, gates, own_dump=None if external else False)
    drawing = draw_system(system, car="the grey estate", causes=["port-too-small"])
    root = drawn(drawing)
    for element in root.iter():
        assert "style" not in element.attrib
        for value in element.attrib.values():
            assert not re.search(r"#[0-9a-f]{3,6}\b|rgb\(|javascript:", value.replace("url(#", "")), value
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and title.text == "Boost system of the grey estate"
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"  # type: ignore[union-attr]
    said = "".join(desc.itertext())  # type: ignore[union-attr]
    label = words()["labels"][system.kind]
    assert label in texts(root, "name")
    assert label in said
    assert ("two gates" in said) == (gates > 1)
    moving = {e.get(f"data-{how}", "").split(" ")[0] for e in root.iter() for how in ("turn", "slide", "squeeze")}
    assert ("ball_open" in moving) == (controller == "ball and spring")
    assert ("valve_share" in moving) == controller.startswith("solenoid")
    assert ("other_gate_open" in moving) == (gates > 1)
    assert len(drawing.svg) < 45_000


@pytest.mark.parametrize(("controller", "external", "gates"), KINDS)
def test_every_cause_of_the_catalogue_lights_a_part_of_every_car_that_can_have_it(
    controller: str, external: bool, gates: int
) -> None:
    meant: dict[tuple[str, ...], str] = {}
    system = System(controller, external, gates, own_dump=False)
    for dual, loop in product((False, True), repeat=2):
        there = places(replace(system, dual=dual))
        fitted = Fitted(controller, external, gates, dual, loop)
        for cause in (c for c in CATALOGUE if c.applies(fitted)):
            parts = parts_of([cause.id], replace(system, dual=dual))
            assert parts and all(part in there for part in parts), cause.id
            meant[parts] = cause.id
    for parts, cause_id in meant.items():
        root = drawn(draw_system(system, causes=[cause_id]))
        assert {e.get("data-part") for e in root.iter() if e.get("data-part")} == set(parts)
        for part in parts:
            assert words()["parts"][part].replace(" ", "") in "".join(texts(root, "suspected")).replace(" ", "")


def test_the_table_of_parts_holds_the_catalogue_and_nothing_else() -> None:
    assert set(PARTS_OF) == {cause.id for cause in CATALOGUE}
    assert {part for parts in PARTS_OF.values() for part in parts} <= set(words()["parts"])


def test_nothing_lies_off_the_sheet() -> None:
    for controller, external, gates in KINDS:
        for take_off in ("compressor outlet", "cold pipe", "intake manifold"):
            system = System(controller, external, gates, take_off=take_off)
            root = drawn(draw_system(system))
            for element in root.iter(f"{SVG}text"):
                x, y = float(element.get("x", "0")), float(element.get("y", "0"))
                assert 0 <= x <= UNIT * WIDTH and 0 <= y <= UNIT * system.height
            for place in places(system).values():
                for x, y in place.points:
                    assert 0 <= x <= WIDTH and -system.height <= y <= 0


SHOWN = {
    "compressor_outlet": "22.3", "take_off": "22.1", "behind_controller": "14.6", "turbine_inlet": "38.4",
    "turbine_outlet": "12.2", "shaft": "148,000 rpm", "gate_open": "100 %",
}  # as they are shown: pressures without their unit


def test_names_and_numbers_lie_apart() -> None:
    """Where the writing is largest, 22.5 units high, a letter being half as wide as that; names have some air, too."""
    fitted = product(KINDS, (True, False), ("recirculates", "none"), ("compressor outlet", "cold pipe"))
    for (controller, external, gates), cooler, bypass, take_off in fitted:
        system = System(controller, external, gates, cooler=cooler, bypass=bypass, take_off=take_off, own_dump=False)
        boxes = []
        for element in drawn(draw_system(system, shown=SHOWN)).iter(f"{SVG}text"):
            kind = element.get("class")
            rows = [r.text or "" for r in element] or [element.text or ""]
            if kind not in ("name", "value") or not any(rows):
                continue
            wide, x, y = 11.3 * max(map(len, rows)), float(element.get("x", "0")), float(element.get("y", "0"))
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[element.get("text-anchor", "start")]
            air = 7.0 if kind == "name" else 0.0
            boxes.append((rows[0], left, left + wide, y - 16.0 - air, y + 22.0 * (len(rows) - 1) + air))
        for i, (one, left, right, top, low) in enumerate(boxes):
            for other, left_, right_, top_, low_ in boxes[i + 1 :]:
                assert right <= left_ or right_ <= left or low <= top_ or low_ <= top, (system, one, other)


def test_no_number_of_the_moment_covers_the_boost_controller() -> None:
    """Its ball moves, and is what many causes are about."""
    for controller, external, gates in KINDS[4:]:
        system = System(controller, external, gates)
        (x, y), (w, h) = places(system)["controller"].points[0], places(system)["controller"].size
        for element in drawn(draw_system(system, shown=SHOWN)).iter(f"{SVG}text"):
            if element.get("class") != "value" or not element.text:
                continue
            wide, at, low = 11.3 * len(element.text), float(element.get("x", "0")), float(element.get("y", "0"))
            left = {"start": at, "middle": at - wide / 2, "end": at - wide}[element.get("text-anchor", "start")]
            beside = left >= UNIT * (x + w / 2) or left + wide <= UNIT * (x - w / 2)
            assert beside or low - 16.0 >= -UNIT * (y - h / 2) or low <= -UNIT * (y + h / 2), (system, element.text)


def test_what_a_car_file_leaves_open_is_dashed_and_said(tmp_path: Path) -> None:
    bare = system_of(read(tmp_path, small_car()))
    assert set(bare.unknown) == {"cooler", "bypass", "take-off", "bleed"}
    drawing = draw_system(bare)
    said = next(s for s in drawing.says if "not known" in s)
    for key in bare.unknown:
        assert words()["unknown"][key] in said
    assert sum("unknown" in (e.get("class") or "").split() for e in drawn(drawing).iter()) >= len(bare.unknown)
    known = draw_system(System("ball and spring"))
    assert "unknown" not in known.svg and not any("not known" in s for s in known.says)


def test_a_car_file_is_drawn_as_it_says(tmp_path: Path) -> None:
    text = small_car(
        'bleed_hole = "none"\n[signal_line]\ntake_off = "intake manifold"\n[intake]\ncooler = "none"\n'
        'bypass_valve = "vents"\n[actuator]\nchambers = "dual"\noperated_by = "vacuum"\n[turbo]\ncount = 2\n',
        wastegate="count = 2",
    )  # fmt: skip
    car = read(tmp_path, text)
    system = system_of(car)
    assert system == System(
        "ball and spring", gates=2, turbos=2, dual=True, take_off="intake manifold", cooler=False, bypass="vents",
        bleed=False, operated_by="vacuum",
    )  # fmt: skip
    drawing = draw_car(car)
    names = texts(drawn(drawing), "name")
    assert "charge cooler" not in names and "recirculation valve" in names
    assert any("Two turbos" in s for s in drawing.says) and any("vacuum" in s for s in drawing.says)


def test_a_still_picture_stands_where_the_values_put_it() -> None:
    shut = draw_system(System("ball and spring"))
    open_ = draw_system(System("ball and spring"), values={"gate_open": 1.0, "ball_open": 0.25})
    assert "rotate(38" not in shut.svg and "rotate(38" in open_.svg
    ball = next(e for e in drawn(open_).iter() if e.get("class") == "ball")
    assert ball.get("transform") == "translate(-11 0)"  # half of 22: a ball's first lift is drawn larger
    assert moved({"data_squeeze": "gate_open 100 0.5 0"}, {"gate_open": 1.0}) == "translate(50 0) scale(0.5 1)"
    assert moved({"data_turn": "gate_open 38 1 2"}, {"gate_open": 7.0}) == "rotate(38 1 2)"  # never beyond its stop


def test_numbers_stand_for_the_names_where_it_is_narrow() -> None:
    drawing = draw_system(System("solenoid 3-port", external=True, own_dump=True))
    root = drawn(drawing)
    assert [int(n) for n in texts(root, "number")] == [n for n, _ in drawing.legend]
    assert [n.replace(" ", "") for n in texts(root, "name")] == [n.replace(" ", "") for _, n in drawing.legend]
