"""Every cause has its text, and text, tests and cautions name each other rightly."""

from __future__ import annotations

import pytest

from boostproof.bench.procedures import caution, procedures
from boostproof.diagnosis.catalogue.text import TEXTS, CauseText
from boostproof.diagnosis.causes import BY_ID, CATALOGUE

# The list of causes, F1 to F56, as agreed: written out here so that none can be lost.
IDS = [
    "port-too-small", "gate-travel-limited", "port-entry-poor", "exhaust-freed", "engine-outgrew-gate",
    "dump-pipe-poor", "spring-droop", "twin-gates-unequal", "spring-too-strong", "controller-set-high",
    "signal-line-open", "diaphragm-leak", "signal-line-leak", "reference-after-cooler", "solenoid-reversed",
    "upper-chamber-trapped", "gate-seized-shut", "rod-detached", "target-table-wrong", "sensor-scale-wrong",
    "signal-line-restricted", "actuator-stiction", "controller-ball-sticky", "duty-feedforward-high",
    "loop-gain-high", "compressor-surge", "gate-flutter", "spring-weak", "gate-not-seating", "charge-leak",
    "recirculation-valve-leak", "exhaust-leak-upstream", "inlet-restricted", "exhaust-restricted",
    "turbo-worn", "controller-passing", "exhaust-energy-low", "gate-blown-open", "compressor-choked",
    "cooler-restricted", "bleed-blocked", "vent-plugged", "gate-stuck-open", "return-weak",
    "solenoid-stuck", "bleed-oversize", "controller-ball-stuck-shut", "line-blocked",
    "actuator-ports-swapped", "controller-reversed", "ecu-protection", "misfire-under-boost",
    "engine-breathes-badly", "gate-mounted-reversed", "gate-debris", "hot-binding",
]  # fmt: skip
PROCEDURES = {one.id: one for one in procedures()}


def test_every_cause_of_the_list_and_of_the_catalogue_has_its_text() -> None:
    assert list(TEXTS) == IDS and len(IDS) == 56
    assert {cause.id for cause in CATALOGUE} <= set(TEXTS)
    assert {cause.id: cause.number for cause in CATALOGUE}.items() <= {
        name: number for number, name in enumerate(IDS, 1)
    }.items()


@pytest.mark.parametrize("cause_id", IDS)
def test_it_is_whole_and_names_what_there_is(cause_id: str) -> None:
    text: CauseText = TEXTS[cause_id]
    assert text.told_apart.endswith(".") and text.told_apart[0].isupper()
    assert text.decide and set(text.decide) <= set(PROCEDURES)
    assert set(text.look_alikes) <= set(TEXTS) - {cause_id}
    assert text.cautions
    for key in text.cautions:
        assert caution(key).says
    for names in (text.decide, text.look_alikes, text.cautions):
        assert len(set(names)) == len(names)


@pytest.mark.parametrize("cause_id", sorted(BY_ID))
def test_the_test_that_measures_its_own_part_is_among_those_that_decide(cause_id: str) -> None:
    direct = BY_ID[cause_id].direct_test
    assert not direct or direct in TEXTS[cause_id].decide


def test_every_cause_is_a_usual_fault_of_a_test_that_decides_it_and_all_named_there_exist() -> None:
    shows = {one.id: {cause for fault in one.faults for cause in fault.causes} for one in PROCEDURES.values()}
    assert set().union(*shows.values()) == set(TEXTS)
    for cause_id, text in TEXTS.items():
        assert [test for test in text.decide if cause_id in shows[test]], cause_id


def test_where_gate_or_exhaust_is_changed_the_law_is_named() -> None:
    for cause_id in ("port-too-small", "exhaust-freed", "exhaust-restricted", "target-table-wrong", "dump-pipe-poor"):
        assert "law" in TEXTS[cause_id].cautions


def test_where_boost_has_no_limit_it_is_said() -> None:
    for cause_id in (
        "signal-line-open", "gate-seized-shut", "line-blocked", "controller-ball-stuck-shut",
        "actuator-ports-swapped", "solenoid-stuck",
    ):  # fmt: skip
        assert "runaway" in TEXTS[cause_id].cautions


def test_what_changes_air_or_a_sensor_carries_recheck_fuelling() -> None:
    for cause_id in ("charge-leak", "recirculation-valve-leak", "sensor-scale-wrong", "inlet-restricted"):
        assert "recheck-fuel" in TEXTS[cause_id].cautions
