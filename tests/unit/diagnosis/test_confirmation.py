"""When a cause counts as confirmed: by its own part, against its rivals, and not by elimination."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import LinearCase

from boostproof.bench.response import Response
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import response_blocks
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.reasons.confirmation import confirmed, reads_abnormal
from boostproof.diagnosis.reasons.shares import split
from boostproof.observation import none_up_to, reading, word

WEAK, LEAK, LINE = BY_ID["spring-weak"], BY_ID["charge-leak"], BY_ID["line-blocked"]
SWEEP = WEAK.direct_test
N = 2000


def spread(mean: float, sd: float) -> np.ndarray:
    return np.random.default_rng(1).normal(mean, sd, N)


def answers(name: str, mean: float, sd: float) -> dict[str, np.ndarray]:
    return {name: spread(mean, sd)}


def read(*observed: object) -> Response:
    return Response(SWEEP, lambda cars: {}, tuple(observed))  # type: ignore[arg-type]


# Sound cars 70 +/- 4 kPa read with 3 kPa of noise: 95 of 100 within 1.96 * 5 = 9.8 kPa of 70
@pytest.mark.parametrize(
    ("value", "faulty", "abnormal"),
    [
        (55e3, 52e3, True),
        (55e3, 62e3, False),  # the cause's cars read as sound ones do
        (62e3, 52e3, False),  # read as a sound car reads
        (85e3, 52e3, False),  # as far off, on the other side
    ],
)
def test_a_reading(value: float, faulty: float, abnormal: bool) -> None:
    response = read(reading("opening", value, 3e3))
    assert reads_abnormal(response, answers("opening", 70e3, 4e3), answers("opening", faulty, 4e3)) == abnormal


def test_words_and_limits() -> None:
    lit = read(word("seat", -4.9, np.inf, 0.1))
    assert reads_abnormal(lit, answers("seat", -8.0, 0.5), answers("seat", -4.0, 0.5))
    assert not reads_abnormal(lit, answers("seat", -5.2, 0.5), answers("seat", -4.0, 0.5))  # a fourth of sound cars
    stuck = read(none_up_to("opening", 2e5, 3e3))
    assert reads_abnormal(stuck, answers("opening", 7e4, 4e3), answers("opening", 4e5, 4e3))
    assert not reads_abnormal(stuck, answers("opening", 7e4, 4e3), answers("opening", 1e5, 4e3))


class SpringCase(LinearCase):
    """One log row that all faults share, and the opening pressure that only a weak spring moves."""

    def __init__(self, log: float, opening: float, *, also: Sequence[str] = (), sweep: bool = True) -> None:
        hypotheses = hypotheses_for((WEAK, LEAK, LINE), "none")
        super().__init__(hypotheses, np.array([log, opening, *[0.0] * 6]))
        for key in self.a:
            own = np.zeros((8, 8))
            own[0, 0] = own[1, 1] = 0.3
            own[0, -1] = 0.3
            self.a[key] = own
        self.move = {h.key: np.array([0.0 if h.healthy else 3.0, *[0.0] * 7]) for h in hypotheses}
        for h in hypotheses:
            if any(c.id in ("spring-weak", *also) for c in h.causes):
                self.move[h.key][1] = -3.0
        self.response = Response(SWEEP, lambda cars: {"opening": cars.par[1]}, (reading("opening", opening, 0.3),))
        log_block = self._block("pulls", "log", [0])
        self.evidence = type(self.evidence)((log_block, *(response_blocks(self.response) if sweep else [])))

    def parameters(self, z: np.ndarray, hypotheses: list, index: np.ndarray) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg,override]
        sound, actual = super().parameters(z, hypotheses, index)
        moved = np.stack([self.move[hypotheses[i].key] for i in index], axis=1)
        return sound, actual + moved


def judged(case: SpringCase) -> tuple[frozenset[str], Posterior]:
    posterior = infer(case, (WEAK, LEAK, LINE), "none", seed=2, pairs=False)  # type: ignore[arg-type]
    read_ = {SWEEP: [case.response]} if len(case.evidence.blocks) > 1 else {}
    return confirmed(posterior, split(posterior), read_), posterior


def test_its_own_part_read_as_no_sound_part() -> None:
    found, posterior = judged(SpringCase(3.0, -3.0))
    assert posterior.cause_probability["spring-weak"] > 0.8
    assert found == {"spring-weak"}


def test_likely_without_its_own_test_is_not_confirmed() -> None:
    found, posterior = judged(SpringCase(3.0, -3.0, sweep=False))
    assert found == frozenset() and posterior.cause_probability["spring-weak"] > 0.05


def test_a_rival_that_reads_the_same_forbids_it() -> None:
    """A low opening pressure that a leak would show as well parts nothing."""
    found, posterior = judged(SpringCase(3.0, -3.0, also=("charge-leak",)))
    assert posterior.cause_probability["spring-weak"] > 0.05
    assert found == frozenset()


def test_a_part_that_reads_sound_is_not_confirmed() -> None:
    found, _ = judged(SpringCase(3.0, 0.0))
    assert "spring-weak" not in found
