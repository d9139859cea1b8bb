"""What would change the answer, on two causes whose readings are normal: the border is known."""

from __future__ import annotations

import re

import numpy as np
import pytest

from boostproof.bench.response import Response
from boostproof.diagnosis.choice.what_if import States, turns
from boostproof.observation import none_up_to, reading, word

N = 400
IDS = ("spring-weak", "charge-leak", "healthy", "none_of_these")


def states(first: float, second: float, healthy: float = 0.0, other: float = 0.0) -> States:
    """So many candidates of each, all alike."""
    share = np.zeros((4, 3 * N + 1))
    share[0, :N] = share[1, N : 2 * N] = share[2, 2 * N : 3 * N] = 1.0
    share[3, -1] = 1.0
    weight = np.concatenate([np.repeat([first / N, second / N, healthy / N], N), [other]])
    return States(IDS, weight, share)


def answers(one: float, two: float, three: float = 0.0) -> np.ndarray:
    return np.repeat([one, two, three], N)


def response(*observed: object, flat: dict[str, float] | None = None) -> Response:
    return Response("actuator-sweep", lambda cars: {}, tuple(observed), flat or {})  # type: ignore[arg-type]


def test_border_between_two_normal_readings() -> None:
    """0.3 N(y; 50, 5) > 0.7 N(y; 80, 5) below y = 65 - 25/30 ln(7/3) = 64.29 kPa."""
    found = turns(
        response(reading("opening", 70e3, 5e3)), {"opening": answers(50e3, 80e3, 80e3)}, states(0.3, 0.7)
    )
    assert len(found) == 1
    assert found[0].leader == "spring-weak"
    limit = re.fullmatch(r"first movement below \{(\d+) kPa\}", found[0].when)
    assert limit is not None and float(limit[1]) == pytest.approx(64.29, abs=1.0)
    # the chance: nearly all of the spring's own, and what of the leak's falls there (3.1 sd below)
    assert found[0].chance == pytest.approx(0.3 * 0.998 + 0.7 * 0.001, abs=0.01)


def test_a_leader_between_two_others_has_both_sides() -> None:
    features = {"opening": answers(50e3, 80e3, 110e3)}
    found = turns(response(reading("opening", 70e3, 4e3)), features, states(0.3, 0.4, 0.3))
    said = {t.leader: t.when for t in found}
    assert set(said) == {"spring-weak", "healthy"}
    assert said["spring-weak"].startswith("first movement below") and said["healthy"].startswith("first movement above")


def test_a_reading_that_nobody_expects_speaks_for_none_of_these() -> None:
    features = {"opening": answers(50e3, 52e3, 51e3)}
    wide = response(reading("opening", 50e3, 2e3), flat={"opening": 2e5})
    found = turns(wide, features, states(0.05, 0.55, 0.05, other=0.35))
    assert {t.leader for t in found} == {"none_of_these"}
    assert {t.when.split(" {")[0] for t in found} == {"first movement below", "first movement above"}
    # 0.28 N(51, 2) as a sound part, against the leak's 0.55 N(52, 2), leads below 51.5 - 4 ln(55/28) = 48.8 kPa:
    # 0.33 Phi(-1.1) + 0.55 Phi(-1.6) + 0.05 Phi(-0.6) = 0.089, and a fifth of 0.35 answers anywhere in 200 kPa
    assert sum(t.chance for t in found) == pytest.approx(0.089 + 0.07 - 0.004, abs=0.006)


def test_a_test_that_reads_the_same_for_all_changes_nothing() -> None:
    same = {"opening": answers(60e3, 60e3, 60e3)}
    assert turns(response(reading("opening", 60e3, 5e3)), same, states(0.3, 0.7)) == []


def test_words() -> None:
    """Light at the seat: 0.925 against 0.025 turns 0.2 : 0.8 over; no light leaves it."""
    lit = word("seat", -4.9, np.inf, 0.1, wrong=0.05)
    found = turns(response(lit), {"seat": answers(-3.0, -8.0, -8.0)}, states(0.2, 0.8))
    assert [(t.when, t.leader) for t in found] == [("light at the seat", "spring-weak")]
    assert found[0].chance == pytest.approx(0.2 * 0.95 + 0.8 * 0.025, abs=0.01)


def test_words_that_would_be_the_same_are_not_said() -> None:
    """Both sides of -7 are "no light": the word would not tell which of them was meant."""
    lit = word("seat", -7.0, np.inf, 0.1, wrong=0.05)
    assert turns(response(lit), {"seat": answers(-6.0, -8.0, -8.0)}, states(0.2, 0.8)) == []


def test_none_up_to_a_limit() -> None:
    found = turns(
        response(none_up_to("opening", 60e3, 2e3)), {"opening": answers(90e3, 40e3, 40e3)}, states(0.3, 0.7)
    )
    assert [(t.when, t.leader) for t in found] == [("first movement above {60 kPa}", "spring-weak")]


def test_the_most_telling_of_several_readings_is_said() -> None:
    features = {"opening": answers(60e3, 60e3, 60e3), "travel": answers(5e-3, 12e-3, 12e-3)}
    both = response(reading("opening", 60e3, 5e3), reading("travel", 10e-3, 1e-3))
    assert [t.when for t in turns(both, features, states(0.3, 0.7))] == ["travel below {8 mm}"]
