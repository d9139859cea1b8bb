"""What an untold figure of the car would save, where the answer is known beforehand."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tests.unit.small_car import small_car

from boostproof.casefolder import read_case
from boostproof.diagnosis.choice.next_test import Known
from boostproof.diagnosis.choice.outcomes import Seen
from boostproof.diagnosis.choice.repair_order import repairs_for
from boostproof.diagnosis.choice.worth import Belief
from boostproof.physics.layout import INDEX, PARAMETERS
from boostproof.workflows.unknowns import FIGURES, unknowns

EACH = 300
ANSWERS = (("port-too-small",), ("spring-weak",), ())
OPENING = "actuator.opening_pressure"


@pytest.fixture
def car(tmp_path: Path) -> Any:
    (tmp_path / "car.toml").write_text(small_car(), encoding="utf-8")
    return read_case(tmp_path).car


def known(**apart: tuple[float, float]) -> Known:
    """As many cars of each of two causes, alike but for some parameters: (of the first, of the second)."""
    rng = np.random.default_rng(3)
    n = 2 * EACH
    sound = np.array([np.full(n, p.neutral) for p in PARAMETERS])
    for name in ("opening_pressure", "offset", "gate_travel", "compressor_area", "compressor_diameter", "turbine_diameter",
                 "bleed_area", "mixture"):  # fmt: skip
        sound[INDEX[name]] = np.exp(rng.normal(0.0, 0.3, n)) * (1.0 if name == "mixture" else 1e-2)
    sound[INDEX["offset"]] = 1e5 * np.exp(rng.normal(0.0, 1.0, n))  # hides what goes with it
    sound[INDEX["opening_pressure"]] = 8e4 * np.exp(rng.normal(0.0, 0.2, n))
    second = np.arange(n) >= EACH
    for name, (one, other) in apart.items():
        sound[INDEX[name]] = np.where(second, other, one)
    weight = np.append(np.full(n, 1.0 / n), 1e-12)
    share = np.zeros((len(ANSWERS) + 1, n + 1))
    share[0, :-1], share[1, :-1], share[-1, -1] = ~second, second, 1.0
    return Known(
        SimpleNamespace(sound=sound), Seen(weight, second.astype(np.intp), np.zeros(n, bool)), ANSWERS,  # type: ignore[arg-type]
        Belief(weight, share, repairs_for(ANSWERS)),
    )  # fmt: skip


def test_a_figure_that_tells_the_causes_apart_saves_what_knowing_the_cause_would(car: Any) -> None:
    case = known(opening_pressure=(60e3, 130e3))
    found = {u.name: u.minutes_saved for u in unknowns(car, case, seed=1)}
    repairs = case.belief.repairs
    sure = repairs.expected(np.array([[0.5, 0.0, 0.0, 0.0], [0.0, 0.5, 0.0, 0.0]])).sum()
    assert found[OPENING] == pytest.approx(case.belief.minutes - sure, rel=0.1)
    assert case.belief.minutes - sure > 20.0


def test_figures_that_are_the_same_by_chance_save_nothing(car: Any) -> None:
    assert unknowns(car, known(), seed=1) == ()


def test_a_difference_smaller_than_a_told_figure_is_sure_saves_nothing(car: Any) -> None:
    assert unknowns(car, known(opening_pressure=(80e3, 80.5e3)), seed=1) == ()


def test_what_is_told_and_what_the_car_does_not_have_is_not_asked_for(tmp_path: Path) -> None:
    case = known(opening_pressure=(60e3, 130e3), bleed_area=(1e-7, 9e-7))
    plain, hole = small_car(), "controller.bleed_hole"
    told = plain.replace("[controller]", '[actuator]\nopening_pressure = "12 psi"\n[controller]')

    def asked(text: str) -> set[str]:
        (tmp_path / "car.toml").write_text(text, encoding="utf-8")
        return {u.name for u in unknowns(read_case(tmp_path).car, case, seed=1)}

    assert {OPENING, hole} <= asked(plain)
    assert hole in asked(told) and OPENING not in asked(told)
    assert asked(plain.replace("ball and spring", "bleed valve")) == {OPENING}


def test_every_figure_is_an_answer_of_the_car_page() -> None:
    from boostproof.web.words import t
    from boostproof.workflows.car_answer import key_at

    for one in FIGURES:
        assert key_at(one.name) and t(f"car.worth_name.{one.name}")
