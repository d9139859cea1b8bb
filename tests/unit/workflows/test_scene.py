"""The moving picture's data: of the right cause and pull, with units, by its schema."""

from __future__ import annotations

import jsonschema
import numpy as np
import pytest
from tests.unit.workflows.made_open_case import LEADER, TO_TOP, made_open_case

from boostproof.errors import InputError
from boostproof.workflows.answers import schemas
from boostproof.workflows.open_case import OpenCase
from boostproof.workflows.scene import best_candidate, scene_of


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> OpenCase:
    """A case whose result is set by hand."""
    return made_open_case(tmp_path_factory.mktemp("scene") / "case")


def test_the_leader_is_shown_through_the_pull_that_was_driven(opened: OpenCase) -> None:
    found = scene_of(opened, points=60)
    assert found.cause == LEADER and found.titles == {LEADER: "Gate port too small for this engine and target"}
    assert found.driven == "pull" and found.stop == pytest.approx(140e3)
    rpm = found.engine_speed * 30.0 / np.pi
    assert len(rpm) == 60 and rpm[0] < 2200.0 and rpm[-1] > 6300.0 and (np.diff(rpm) > 0).all()
    assert found.seconds_in[-1] == pytest.approx(TO_TOP, abs=0.4)
    gaps = np.diff(found.seconds_in)
    assert gaps.max() < 1.6 * gaps.min()  # even in time, but for the steps
    speed, boost = found.measured
    assert speed.max() * 30.0 / np.pi > 6300.0 and boost.max() == pytest.approx(115e3, rel=0.03)
    # the port alone parts the two: more boost with a smaller one, at no greater area of the gate
    late = slice(-8, None)
    assert (found.suspected.output("boost")[late] > found.sound.output("boost")[late] + 2e3).all()
    assert (found.suspected.found["gate_area"][late] < found.sound.found["gate_area"][late]).all()


def test_the_candidate_is_the_one_that_fits_best(opened: OpenCase) -> None:
    leader = int(np.argmax(opened.posterior.log_evidence))
    assert best_candidate(opened.posterior, leader)[-1] == 1.0
    other = 1 if leader != 1 else 2
    assert best_candidate(opened.posterior, other)[-1] == 0.0  # only fitted, never drawn


def test_the_answer_is_of_its_schema_and_says_units_in_its_names(opened: OpenCase) -> None:
    answer = scene_of(opened, cause="gate-seized-shut", points=50).as_json()
    jsonschema.validate(answer, schemas()["scene-answer"])
    assert answer["parts"] == ["gate-seized-shut"] and answer["target_kpa_gauge"] == pytest.approx(95.0)
    for car in (answer["suspected"], answer["sound"]):
        assert {len(values) for values in car.values()} == {len(answer["rpm"])} == {50}  # type: ignore[call-overload]
    assert max(answer["suspected"]["gate_open"]) < 0.02 < max(answer["sound"]["gate_open"])
    assert 60.0 < max(answer["sound"]["boost_kpa_gauge"]) < 140.0
    assert 1e4 < max(answer["sound"]["shaft_rpm"]) < 4e5


def test_a_sound_car_is_its_own_twin_and_a_ramp_can_be_asked_for(opened: OpenCase) -> None:
    answer = scene_of(opened, cause="healthy", driven="ramp", points=50).as_json()
    assert answer["driven"] == "ramp" and answer["parts"] == [] and answer["measured"]["rpm"] == []
    assert answer["suspected"] == answer["sound"]
    assert answer["rpm"][-1] == pytest.approx(0.98 * 6800.0, rel=0.01)


def test_what_was_never_weighed_is_refused(opened: OpenCase) -> None:
    with pytest.raises(InputError, match="no cause that was weighed"):
        scene_of(opened, cause="solenoid-reversed")
