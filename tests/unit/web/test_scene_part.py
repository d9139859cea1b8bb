"""The moving picture as a part of a page: words, numbers in the shop's units, drawing and data that fit together."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from html import unescape
from types import SimpleNamespace
from typing import Any

import pytest
from markupsafe import Markup
from tests.unit.small_car import small_car
from tests.unit.web.made_scene import made_scene

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.report.system_layout import System
from boostproof.web.page import _environment
from boostproof.web.scene_part import SceneHeld, held_scene, scene_part
from boostproof.web.scene_words import sentence

BALL = System("ball and spring")
KINDS = [
    ("none", "internal flapper", System("none")),
    ("ball and spring", "internal flapper", BALL),
    ("bleed valve", "external poppet", System("bleed valve", external=True, own_dump=None)),
    ("solenoid 2-port", "internal flapper", System("solenoid 2-port")),
    ("solenoid 3-port", "twin gates", System("solenoid 3-port", gates=2)),
    ("solenoid 4-port", "external poppet", System("solenoid 4-port", external=True, dual=True, own_dump=False)),
]


def moment(**more: float) -> dict[str, float]:
    usual = {
        "line_chamber_kpa_gauge": 62.0, "line_leak_flow_g_per_s": 0.0, "controller_flow_g_per_s": 0.2, "ball_open": 0.1,
        "valve_share": 0.0, "gate_open": 0.34, "other_gate_open": 0.34, "boost_kpa_gauge": 100.0,
    }  # fmt: skip
    return usual | more


def said(
    controller: str = "ball and spring", target: float | None = 100.0, units: str = "imperial", rises: bool = False,
    **more: float,
) -> str:  # fmt: skip
    return sentence(moment(**more), 4200.0, units, controller, target, rises=rises).replace("\u202f", " ")


def test_a_moment_is_said_as_one_would_at_the_car() -> None:
    assert said() == (
        "4,200 rpm: the ball has lifted, 9.0 psi reaches the actuator, the gate is a third open; boost holds at 14.5 psi."
    )
    assert "62 kPa reaches the actuator" in said(units="metric")
    assert "the ball sits" in said(ball_open=0.0)
    assert "vents 40 % of the time" in said("solenoid 3-port", valve_share=0.4)
    assert "vents nothing" in said("solenoid 2-port")
    assert "the line loses air, only" in said(line_leak_flow_g_per_s=0.1)
    assert said("none").startswith("4,200 rpm: 9.0 psi reaches the actuator, ")
    assert "one gate is 10 % open, the other 34 %" in said(gate_open=0.1)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "shut"), (0.1, "begins to open"), (0.5, "half open"), (0.66, "two thirds"), (0.9, "nearly"), (1.0, "no more")],
)
def test_how_far_the_gate_is_open(share: float, words: str) -> None:
    assert words in said(gate_open=share, other_gate_open=share)


@pytest.mark.parametrize(
    ("boost", "words"),
    [(60.0, "5.8 psi below"), (98.0, "holds at"), (120.0, "2.9 psi above"), (91.0, "1.3 psi below")],
)
def test_how_boost_stands_to_what_is_wanted(boost: float, words: str) -> None:
    assert words in said(boost_kpa_gauge=boost)
    assert ("building" in said(boost_kpa_gauge=boost, rises=True)) == (boost < 80.0)
    assert said(boost_kpa_gauge=boost, target=None).endswith(" psi.")


@pytest.mark.parametrize(("controller", "gate", "system"), KINDS)
@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_drawing_rows_and_data_fit_together(controller: str, gate: str, system: System, units: str) -> None:
    part = scene_part(made_scene(controller, gate), system, units=units)
    data: dict[str, Any] = json.loads(part.data)
    root = ET.fromstring(part.svg)
    series = set(data["cars"]["suspected"]) | {"manifold"}  # the script takes boost for it
    for element in root.iter():
        for how in ("turn", "slide", "squeeze", "leak"):
            if name := element.get(f"data-{how}"):
                assert name.split(" ")[0] in series
        if flow := element.get("data-flow"):
            assert set(flow.split(" ")[0].split("+")) <= series
        if pressure := element.get("data-pressure"):
            assert pressure in series
        if value := element.get("data-value"):
            assert value in data["rows"], value
    assert {row.name for row in part.rows} == set(data["rows"])
    for car in data["cars"].values():
        assert {len(values) for values in car.values()} == {50}
    assert [len(data["says"][car]) for car in ("suspected", "sound")] == [50, 50]
    assert data["says"]["suspected"][part.begins] == part.now
    boost = next(row for row in part.rows if row.name == "boost")
    answer = made_scene(controller, gate)["suspected"]["boost_kpa_gauge"][part.begins]
    factor, rounding = (6.894757, 0.06) if units == "imperial" else (1.0, 0.6)  # kPa of a psi, NIST SP 811
    assert float(boost.now.split("\u202f")[0]) == pytest.approx(answer / factor, abs=rounding)


def test_it_stands_first_where_the_fault_shows_most() -> None:
    answer = made_scene()
    part = scene_part(answer, BALL, units="imperial")
    one, other = (answer[car]["boost_kpa_gauge"] for car in ("suspected", "sound"))
    apart = [abs(a - b) for a, b in zip(one, other, strict=True)]
    assert apart[part.begins] == max(apart) > 5.0
    assert {line.look for line in part.curve.lines} == {"measured", "suspected", "sound"}
    assert {level.look for level in part.curve.levels} == {"wanted", "stop"}


def test_a_sound_car_has_no_twin_and_lights_nothing() -> None:
    part = scene_part(made_scene(cause="", fault=(), measured=False), BALL, units="metric")
    assert not part.twin and "suspects" in part.svg and "data-part" not in part.svg
    assert "nothing wrong" in part.lead and "slow pull" in part.lead
    assert set(json.loads(part.data)["cars"]) == {"suspected"}
    assert [line.look for line in part.curve.lines] == ["sound"]


def shown(held: SceneHeld) -> str:
    page = SimpleNamespace(scene=held, job=SimpleNamespace(id=3))
    template = _environment().get_template("parts/verdict_scene.html")
    return template.render(page=page, units="imperial")


def test_the_part_of_the_page_carries_no_style_and_all_data() -> None:
    part = scene_part(made_scene(), BALL, units="imperial")
    html = shown(SceneHeld(part, False, None))
    assert " style=" not in html and "<script" not in html
    found = re.search(r'data-scene="([^"]*)"', html)
    assert found is not None and json.loads(unescape(found.group(1))) == json.loads(part.data)
    assert part.now in html and len(html.encode()) < 90_000
    assert "Make the moving picture" not in html


def test_before_there_is_one_it_can_be_asked_for_and_an_old_one_is_marked() -> None:
    empty = shown(SceneHeld(None, False, None))
    assert 'value="scene"' in empty and "Make the moving picture" in empty and "data-scene" not in empty
    stale = shown(SceneHeld(scene_part(made_scene(), BALL, units="imperial"), True, None))
    assert "has changed since" in stale and "Make it anew" in stale and "data-scene" in stale


def test_a_job_holds_its_picture_and_says_when_it_is_old(store: Store, work: Work) -> None:
    job = store.new_job(small_car("[limits]\ntarget = \"90 kPa\"\n"))
    assert held_scene(store, work, job.id, units="imperial") == SceneHeld(None, False, None)
    store.answers.keep(job.id, "scene", made_scene(), {}, store.content(job.id))
    held = held_scene(store, work, job.id, units="metric")
    assert held.part is not None and not held.stale and held.part.cause == "port-too-small"
    assert isinstance(held.part.svg, Markup)  # kept, and still a drawing and no text
    assert "Dashed is what is not known" in " ".join(held.part.says)  # the drawing is of the job's own car
    store.write(job.id, "car.toml", small_car("turns_in = 3\n"))
    held = held_scene(store, work, job.id, units="metric")
    assert held.part is not None and held.stale and held.task is None
