"""What is read off a true car comes as often as the errors and words of the test say."""

from __future__ import annotations

import numpy as np
import pytest
from evaluation.session import read_off, with_blocks
from tests.unit.evaluation import toy_cars

from boostproof.bench.response import Candidates, Response
from boostproof.observation import Observation, none_up_to, reading, word
from boostproof.physics import layout

TIMES = 4000
WITHIN = 0.025  # three standard errors of a share of 4000


def true_car(**changed: float) -> Candidates:
    par = np.array([[p.neutral] for p in layout.PARAMETERS])
    for name, value in changed.items():
        par[layout.INDEX[name]] = value
    return Candidates(par, np.zeros(1), np.zeros((1, 1, 1)))


def probe(*observations: Observation) -> Response:
    def features(candidates: Candidates) -> dict[str, np.ndarray]:
        rows = {"port": "port_diameter", "opening": "opening_pressure"}
        return {feature: candidates.par[layout.INDEX[name]] for feature, name in rows.items()}

    return Response("port-measure", features, observations)


def often(test: Response, car: Candidates) -> dict[float, float]:
    """Share of the times that each word was said, by where its interval begins."""
    rng = np.random.default_rng(5)
    said = [o.low for _ in range(TIMES) for o in read_off(test, car, rng).observations]
    return {low: said.count(low) / TIMES for low in set(said)}


@pytest.mark.parametrize(("port", "share"), [(0.030, 0.90), (0.020, 0.05)])
def test_one_word_is_said_or_nothing_is(port: float, share: float) -> None:
    """Wrong one time in ten: 0.90 where it applies; half of 0.1 where it does not."""
    found = often(probe(word("port", 0.025, 1.0, 1e-4, wrong=0.1)), true_car(port_diameter=port))
    assert found == {0.025: pytest.approx(share, abs=WITHIN)}


def test_of_words_that_exclude_each_other_exactly_one_is_said() -> None:
    """Just on the edge each is as likely; well beside it 0.90 against 0.05, made to sum to one."""
    both = probe(word("port", -1.0, 0.025, 1e-4, wrong=0.1), word("port", 0.025, 1.0, 1e-4, wrong=0.1))
    on_edge, beside = often(both, true_car(port_diameter=0.025)), often(both, true_car(port_diameter=0.030))
    assert sum(on_edge.values()) == sum(beside.values()) == 1.0
    assert on_edge[0.025] == pytest.approx(0.5, abs=WITHIN)
    assert beside[0.025] == pytest.approx(0.90 / 0.95, abs=WITHIN)


@pytest.mark.parametrize(("opening", "share"), [(2.0e5, 0.96), (8.0e4, 0.5), (5.0e4, 0.02)])
def test_none_up_to_a_limit_is_said_where_it_opens_beyond(opening: float, share: float) -> None:
    test = probe(none_up_to("opening", 8.0e4, 4.0e3, wrong=0.04))
    assert often(test, true_car(opening_pressure=opening))[8.0e4] == pytest.approx(share, abs=WITHIN)


def test_readings_err_by_their_own_error_and_by_that_of_the_gauge() -> None:
    test = probe(reading("port", 0.0, 3e-4, shared=4e-4), reading("opening", 0.0, 2.0e3))
    car, rng = true_car(port_diameter=0.03, opening_pressure=8.0e4), np.random.default_rng(6)
    read = np.array([[o.value for o in read_off(test, car, rng).observations] for _ in range(TIMES)])
    assert read.mean(axis=0) == pytest.approx([0.03, 8.0e4], rel=2e-3)
    assert read.std(axis=0) == pytest.approx([5e-4, 2.0e3], rel=0.04)  # the root of 3^2 + 4^2


def test_a_word_beside_a_reading_is_one_more_block_and_one_that_is_not_said_is_none() -> None:
    rng = np.random.default_rng(7)
    test = probe(reading("opening", 0.0, 2.0e3), word("port", 0.025, 1.0, 1e-4, wrong=1e-6))
    case = toy_cars.simulator(toy_cars.known())
    sizes = []
    for port in (0.030, 0.020):
        response = read_off(test, true_car(port_diameter=port), rng)
        sizes.append(len(with_blocks(case, response).evidence.blocks) - len(case.evidence.blocks))
    assert sizes == [2, 1]
