"""What was said as evidence: it moves what it should, never far, and never alone to a verdict."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import fields
from math import exp, log
from pathlib import Path
from typing import Any

import pytest
from tools import history_page

from boostproof.car.spec import Changed, History, LastRight, Tried
from boostproof.casefolder import read_case
from boostproof.diagnosis.causes import BY_ID, CATALOGUE, Cause, applicable
from boostproof.diagnosis.history import table as table
from boostproof.diagnosis.history.evidence import HistoryEvidence, history_evidence
from boostproof.keys import PARTS, RESULTS, keys_of

BALL = applicable("ball and spring", True)
SOLENOID = applicable("solenoid 4-port", True)
BARE = applicable("none", False)
CARS = (BALL, SOLENOID, BARE, applicable("bleed valve", False), applicable("solenoid 3-port", False, gates=2))


def _history(**told: Any) -> History:
    return History(**{**{f.name: None for f in fields(History)}, "changed": (), "tried": (), **told})


def _changed(what: str, fault: str | None = "after", told_by: str | None = "own job sheet", **more: Any) -> Changed:
    return Changed(**{"as_": None, "from_": None, "to": None, "what": what, "fault": fault, "told_by": told_by, **more})


def _tried(what: str, result: str, part: str | None = "new", *, recorded: bool = False) -> Tried:
    before, after = (("a.csv",), ("b.csv",)) if recorded else (None, None)
    return Tried(as_=None, what=what, part=part, result=result, before=before, after=after)


def _odds(causes: tuple[Cause, ...], pairs: bool = False, **told: Any) -> Mapping[str, float]:
    return history_evidence(_history(**told), causes, pairs=pairs).log_odds


def _probabilities(evidence: HistoryEvidence, causes: Iterable[Cause]) -> dict[str, float]:
    """Bayes on how common each cause is, with the history as all evidence."""
    prior = {c.id: 0.9 * c.base_rate for c in causes}
    scale = sum(prior.values()) / 0.9
    prior = {i: p / scale for i, p in prior.items()} | {"healthy": 0.05, "none-of-these": 0.05}
    mass = {i: p * exp(evidence.log_odds.get(i, 0.0)) for i, p in prior.items()}
    return {i: m / sum(mass.values()) for i, m in mass.items()}


# The table ---------------------------------------------------------------------------------------------------


def test_every_cause_and_every_word_of_the_file_is_in_the_table() -> None:
    assert set(table.SHARES) == set(BY_ID)
    keys = keys_of(History)
    assert set(table.ONLY_WHEN) == set(keys["only_when"][1].choices)
    assert all(list(p) == list(keys["started"][1].choices) for p in table.STARTED.values())
    assert set(table.STARTED) == set(table.EVER_RIGHT) == {*table.CLASSES, "healthy"}
    assert set(table.BROUGHT) == set(PARTS)
    assert set(PARTS) | {part for _, part in table.WORDS} == set(table.RENEWED)
    for results in (table.ELSEWHERE, table.MENDED, table.HALF_MENDED):
        assert list(results) == list(RESULTS)
    for by_cause in (*table.ONLY_WHEN.values(), table.STOOD, *table.BROUGHT.values(), *table.RENEWED.values()):
        assert set(by_cause) - {"usually"} <= set(BY_ID)
        assert all(0.0 < p <= 1.0 for p in by_cause.values())
    assert set(table.ALWAYS_THERE) | set(table.WITH_THE_TURBO_ONLY_IF_INTERNAL) <= set(BY_ID)


def test_chances_of_all_answers_to_one_question_sum_to_one() -> None:
    sums = [*table.SHARES.values(), *table.STARTED.values(), table.ELSEWHERE, table.MENDED, table.HALF_MENDED]
    assert [sum(p.values()) for p in sums] == pytest.approx([1.0] * len(sums))


def test_the_page_is_what_the_table_says(repository: Path) -> None:
    page = (repository / "docs" / "history.md").read_text(encoding="utf-8")
    assert page == history_page.page(), "run: python -m tools.history_page"


# What each statement lifts: the notes on causes in the trade's table (history, hot, frost, after work) -----------


@pytest.mark.parametrize(
    ("told", "lifted", "over"),
    [
        ({"changed": (_changed("exhaust"),)}, "exhaust-freed", ("port-too-small", "engine-outgrew-gate")),
        ({"changed": (_changed("catalyst", "same time"),)}, "exhaust-freed", ("port-too-small", "port-entry-poor")),
        ({"changed": (_changed("engine"),)}, "engine-outgrew-gate", ("port-too-small", "exhaust-freed")),
        ({"changed": (_changed("turbo"),)}, "port-too-small", ("exhaust-freed", "engine-outgrew-gate")),
        ({"changed": (_changed("gate"),)}, "gate-mounted-reversed", ("gate-blown-open", "spring-weak")),
        ({"only_when": ("later pulls",)}, "bleed-blocked", ("controller-set-high", "line-blocked")),
        ({"only_when": ("cold",)}, "port-too-small", ("cooler-restricted", "hot-binding")),
        ({"stood": "eight months"}, "gate-seized-shut", ("exhaust-freed", "port-too-small")),
        ({"started": "grew"}, "turbo-worn", ("rod-detached", "controller-reversed")),
        ({"started": "suddenly"}, "rod-detached", ("controller-set-high", "port-too-small")),
        ({"ever_right": False}, "port-too-small", ("diaphragm-leak", "turbo-worn")),
    ],
)
def test_a_statement_parts_causes(told: dict[str, Any], lifted: str, over: tuple[str, ...]) -> None:
    odds = _odds(BALL, **told)
    assert odds[lifted] > 0.0
    assert all(odds[lifted] - odds[other] > log(1.7) for other in over)


@pytest.mark.parametrize("causes", CARS)
def test_frost_heat_and_work(causes: tuple[Cause, ...]) -> None:
    ids = {c.id for c in causes}
    for told, lifted in (
        ({"only_when": ("frost",)}, {"vent-plugged", "line-blocked"}),
        ({"only_when": ("hot",)}, {"hot-binding", "diaphragm-leak", "upper-chamber-trapped"}),
        ({"started": "after work"},
         {"signal-line-open", "actuator-ports-swapped", "controller-reversed", "solenoid-reversed"}),
    ):  # fmt: skip
        odds = _odds(causes, **told)
        assert all(odds[i] > 0.0 for i in lifted & ids)
    assert max(odds["turbo-worn"], odds["diaphragm-leak"]) < 0.0
    assert max(_odds(SOLENOID, only_when=("frost",)).items(), key=lambda item: item[1])[0] == "vent-plugged"


def test_the_question_only_history_can_answer() -> None:
    """Port too small is two and a half times as common as a freed exhaust; the job sheet turns that round."""
    before = _probabilities(HistoryEvidence(), BALL)
    after = _probabilities(history_evidence(_history(changed=(_changed("exhaust"),)), BALL), BALL)
    assert before["port-too-small"] / before["exhaust-freed"] == pytest.approx(2.5)
    assert after["exhaust-freed"] > 2.0 * after["port-too-small"]


def test_one_statement_by_hand() -> None:
    """P(grew) = 0.46 of a seized gate, 0.03 of swapped ports, 0.07 of a freed exhaust, 0.52 of a worn turbo."""
    some = [BY_ID[i] for i in ("gate-seized-shut", "actuator-ports-swapped", "exhaust-freed", "turbo-worn")]
    mean = (3.5 * 0.46 + 0.8 * 0.03 + 2.0 * 0.07 + 4.5 * 0.52) / 10.8
    odds = _odds(tuple(some), started="grew")
    assert odds["gate-seized-shut"] == pytest.approx(log(0.6 * 0.46 / mean + 0.4), abs=1e-3)
    assert odds["exhaust-freed"] == pytest.approx(log(0.6 * 0.07 / mean + 0.4), abs=0.02)
    assert odds["none-of-these"] == pytest.approx(0.0)


# How much it may say -----------------------------------------------------------------------------------------


def test_a_customer_counts_less_than_a_job_sheet() -> None:
    size = [
        abs(_odds(BALL, changed=(_changed("exhaust", told_by=who),))["exhaust-freed"])
        for who in ("own job sheet", "other shop", "customer", None)
    ]
    assert size[0] > size[1] > size[2] == size[3] > 0.0


def _all_single() -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = [{"started": s} for s in table.STARTED["wear"]]
    out += [{"ever_right": right} for right in (True, False)]
    out += [{"only_when": (w,)} for w in table.ONLY_WHEN] + [{"stood": "two winters"}]
    out += [
        {"changed": (_changed(what, fault, who),)}
        for what in PARTS for fault in ("before", "after", "same time", None) for who in table.TRUST
    ]  # fmt: skip
    out += [
        {"tried": (_tried(what, result, part, recorded=True),)}
        for what in table.RENEWED for result in RESULTS for part in table.WRONG_AGAIN
    ]  # fmt: skip
    return out


def _together(chosen: Iterable[dict[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for told in chosen:
        for key, value in told.items():
            out[key] = out.get(key, ()) + value if isinstance(value, tuple) else value
    return out


@pytest.mark.parametrize("causes", CARS)
def test_no_statement_alone_lifts_any_cause_far(causes: tuple[Cause, ...]) -> None:
    for told in _all_single():
        evidence = history_evidence(_history(**told), causes, pairs=False)
        assert max(abs(v) for v in evidence.log_odds.values()) <= log(8.0), told
        found = _probabilities(evidence, causes)
        assert max(found.values()) < 0.45, told


@pytest.mark.parametrize("causes", CARS)
def test_no_set_of_statements_lifts_any_cause_above_four_fifths(causes: tuple[Cause, ...]) -> None:
    single, rng = _all_single(), random.Random(4)
    for _ in range(150):
        told = _together(rng.sample(single, rng.randint(2, 14)))
        evidence = history_evidence(_history(**told), causes, pairs=False)
        assert max(abs(v) for v in evidence.log_odds.values()) <= log(20.0), told
        assert max(_probabilities(evidence, causes).values()) < 0.8, told


def test_not_even_all_that_can_be_said_for_one_cause() -> None:
    """A leaking charge pipe: the statements that a greedy search found to lift it most."""
    cures = (
        "cooler", "pipes off for other work", "intake", "actuator", "hoses", "sensor", "catalyst",
        "recirculation valve", "spring",
    )  # fmt: skip
    told = {
        "started": "grew",
        "only_when": ("cold", "top gear"),
        "tried": tuple(_tried(part, "cured", "known good", recorded=True) for part in cures),
        "changed": tuple(
            _changed(part) for part in ("cooler", "intake", "hoses", "pipes off for other work", "engine", "turbo")
        ),
    }
    found = _probabilities(history_evidence(_history(**told), BARE), BARE)
    assert 0.7 < found["charge-leak"] < 0.8


def test_more_said_for_a_cause_keeps_the_order() -> None:
    some = _odds(BALL, changed=(_changed("exhaust"),))
    more = _odds(BALL, changed=(_changed("exhaust"), _changed("catalyst")))
    assert some["exhaust-freed"] < more["exhaust-freed"] < log(20.0)
    assert more["exhaust-freed"] < 2.0 * some["exhaust-freed"]


# What is one thing, and what is none -------------------------------------------------------------------------


def test_what_is_said_twice_counts_once() -> None:
    named = {"changed": (_changed("hoses"),)}
    assert _odds(BALL, started="after work", **named) == _odds(BALL, **named)
    assert _odds(BALL, started="from first start", ever_right=False) == _odds(BALL, started="from first start")
    hot, later = _odds(BALL, only_when=("hot",)), _odds(BALL, only_when=("later pulls",))
    both = _odds(BALL, only_when=("later pulls", "hot", "hot"))
    assert both["hot-binding"] < max(hot["hot-binding"], later["hot-binding"]) + 1e-9
    assert _odds(BALL, changed=named["changed"] * 3) == pytest.approx(_odds(BALL, **named))
    tried = (_tried("controller", "no change"),)
    assert _odds(BALL, tried=tried * 2) == pytest.approx(_odds(BALL, tried=tried))
    assert _odds(BALL, last_right=LastRight(as_=None, when="May", boost=None)) == _odds(BALL, ever_right=True)


@pytest.mark.parametrize(
    "told",
    [
        {"started": "from first start", "ever_right": True},
        {"started": "grew", "ever_right": False},
        {"ever_right": False, "last_right": LastRight(as_=None, when="May", boost=None)},
    ],
)
def test_what_contradicts_itself_is_left_out_and_said(told: dict[str, Any]) -> None:
    evidence = history_evidence(_history(**told), BALL)
    assert not evidence.log_odds and not evidence.lines
    assert [f.kind for f in evidence.findings] == ["contradicting-history"]


@pytest.mark.parametrize("stood", ["", "no", "not at all", "two days", "over night"])
def test_a_car_that_hardly_stood(stood: str) -> None:
    assert history_evidence(_history(stood=stood), BALL) == HistoryEvidence()


def test_nothing_said_is_no_evidence() -> None:
    assert history_evidence(None, BALL) == history_evidence(_history(), BALL) == HistoryEvidence()
    evidence = history_evidence(_history(tried=(_tried("boost gauge", "no change"),)), BALL)
    assert not evidence.log_odds
    assert "boost gauge" in evidence.findings[0].says


# Parts that were tried ---------------------------------------------------------------------------------------


def test_a_part_that_changed_nothing_clears_what_lives_in_it() -> None:
    odds = {part: _odds(BALL, tried=(_tried("controller", "no change", part),)) for part in table.WRONG_AGAIN}
    inside = ("controller-ball-stuck-shut", "controller-ball-sticky", "controller-passing", "bleed-blocked")
    for name in inside:
        assert odds["known good"][name] < odds["new"][name] < odds["used"][name] < 0.0
        assert odds["new"][name] - odds["new"]["charge-leak"] < -log(3.0)
    # fitted the same wrong way round again
    assert odds["new"]["controller-reversed"] > odds["new"]["controller-passing"] + log(2.0)
    cured = _odds(BALL, tried=(_tried("controller", "cured"),))
    assert min(cured[name] for name in inside) > log(2.0)
    assert cured["charge-leak"] < 0.0


@pytest.mark.parametrize("result", ["worse", "new fault"])
def test_worse_says_nothing(result: str) -> None:
    assert max(map(abs, _odds(BALL, tried=(_tried("gate", result),)).values())) < 1e-9


def test_better_speaks_for_two_faults_of_which_one_was_in_the_part() -> None:
    odds = _odds(BALL, True, tried=(_tried("hoses", "better"),))
    assert odds["signal-line-leak"] > odds["charge-leak"]
    assert odds["port-too-small + signal-line-leak"] > odds["signal-line-leak"] > odds["port-too-small"]


def test_a_new_turbo_leaves_an_external_gate_on_the_car() -> None:
    tried = (_tried("turbo", "no change"),)
    assert _odds(BARE, tried=tried)["gate-seized-shut"] < -log(1.8)
    assert _odds(BALL, tried=tried)["gate-seized-shut"] == _odds(BALL, tried=tried)["signal-line-open"]


def test_a_pair_is_told_by_either_of_its_faults() -> None:
    odds = _odds(BALL, True, changed=(_changed("exhaust"),))
    assert odds["exhaust-freed + spring-weak"] == odds["exhaust-freed"]
    mean = _odds(BALL, True, only_when=("hot",))
    assert mean["charge-leak"] < mean["charge-leak + hot-binding"] < mean["hot-binding"]
    clear = _odds(BALL, True, tried=(_tried("controller", "no change"),))
    assert clear["controller-passing"] < clear["port-too-small + controller-passing"] < clear["port-too-small"]


# As a whole --------------------------------------------------------------------------------------------------


def test_lines_add_up_and_do_not_depend_on_the_order() -> None:
    rows = (_changed("turbo", "before", "customer"), _changed("exhaust", "same time", from_="60 mm", to="76 mm"))
    evidence = history_evidence(_history(changed=rows, only_when=("cold", "top gear"), stood="a year"), BALL)
    turned = history_evidence(_history(changed=rows[::-1], only_when=("top gear", "cold"), stood="a year"), BALL)
    assert len(evidence.lines) == 5
    for answer, nats in evidence.log_odds.items():
        assert sum(line.log_odds[answer] for line in evidence.lines) == pytest.approx(nats, abs=1e-9)
        assert turned.log_odds[answer] == pytest.approx(nats, abs=1e-9)
    assert "The exhaust was changed (60 mm to 76 mm), and the fault came with it, says our job sheet." in [
        line.says for line in evidence.lines
    ]
    shares = evidence.against_average("exhaust-freed", _probabilities(evidence, BALL))
    assert max(shares, key=lambda item: item[1])[0].startswith("The exhaust was changed")
    found = _probabilities(evidence, BALL)
    assert evidence.weighs_most("exhaust-freed", found, 1.0) == "The exhaust was changed (60 mm to 76 mm), and the " \
        "fault came with it, says our job sheet."
    assert evidence.weighs_most("exhaust-freed", found, -1.0) == "The car stood unused: a year."
    assert HistoryEvidence().weighs_most("exhaust-freed", found, 1.0) == ""


def test_every_answer_of_every_car_is_weighed() -> None:
    for causes in CARS:
        odds = _odds(causes, True, started="grew")
        assert set(odds) >= {"healthy", "none-of-these", *(c.id for c in causes)}
        assert len(odds) == 2 + len(causes) + len(causes) * (len(causes) - 1) // 2
    assert len({c.id for causes in CARS for c in causes}) == len(CATALOGUE)


def test_the_whole_table_of_a_case_is_read(repository: Path, tmp_path: Path) -> None:
    """Every key of [history] reaches the evidence; words that only people read do not."""
    (tmp_path / "recordings").mkdir()
    (tmp_path / "recordings" / "log.csv").write_text("time,rpm\n0,1\n", encoding="utf-8")
    (tmp_path / "car.toml").write_text(
        """format = 1
[car]
name = "the green estate"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "6800 rpm"
[wastegate]
kind = "external poppet"
[controller]
kind = "ball and spring"
[history]
started = "after work"
ever_right = true
last_right = {when = "May", boost = "14 psi"}
only_when = ["hot", "top gear"]
stood = "two winters"
[[history.changed]]
what = "exhaust"
fault = "after"
from = "60 mm"
to = "76 mm"
told_by = "own job sheet"
[[history.tried]]
what = "controller"
part = "new"
result = "no change"
before = "recordings/log.csv"
after = "recordings/log.csv"
""",
        encoding="utf-8",
    )
    evidence = history_evidence(read_case(tmp_path).car.history, BALL)
    assert [line.says for line in evidence.lines] == [
        "Boost was right before, with the parts of today.",
        "It shows only when hot.",
        "It shows only in top gear.",
        "The car stood unused: two winters.",
        "The exhaust was changed (60 mm to 76 mm), and the fault came after it, says our job sheet.",
        "Tried: new controller, no change.",
    ]
