"""The text report: what it may claim, how it says it, and that it fits the terminal."""

from __future__ import annotations

import dataclasses
import re
from dataclasses import replace

import pytest
from tests.unit.report.made_up import PSI, cause, verdict

from boostproof.findings import Finding
from boostproof.report.text import verdict_text, would_change
from boostproof.report.words import severity_in_words
from boostproof.workflows.verdict import SeverityShare, Verdict, WouldChange

CASES = {
    "confirmed": verdict(cause("hose", 0.97, confirmed=True), cause("seal", 0.03)),
    "unconfirmed": verdict(cause("hose", 0.97), cause("seal", 0.03)),
    "open": verdict(cause("hose", 0.41), cause("seal", 0.39), healthy=0.2),
    "sound": verdict(cause("hose", 0.06), healthy=0.94),
    "none": verdict(cause("hose", 0.2), healthy=0.1, none_of_these=0.7),
    "order": verdict(cause("hose", 0.62), cause("seal", 0.38), trust="order only", misfit=0.001),
    "about": verdict(cause("hose", 0.62), cause("seal", 0.38), trust="about"),
}


def percents(text: str) -> list[int]:
    return [int(n) for n in re.findall(r"(\d+)\s+%", text)]


def headline(v: Verdict) -> str:
    return verdict_text(v, width=400).split("\n\n", 1)[0]


@pytest.mark.parametrize("units", ["psi", "bar", "kPa"])
@pytest.mark.parametrize("width", [60, 110])
@pytest.mark.parametrize("name", CASES)
def test_no_line_is_longer_than_the_terminal(name: str, width: int, units: str) -> None:
    lines = verdict_text(CASES[name], width=width, units=units).splitlines()
    assert [line for line in lines if len(line) > width] == []
    assert max(map(len, lines)) > 0.8 * width  # the width is used too


def test_confirmed_leader_shows_its_number_and_its_test() -> None:
    said = headline(CASES["confirmed"])
    assert "(97 %), confirmed by its own test (hose-test)" in said
    assert "not yet" not in said
    assert percents(verdict_text(CASES["confirmed"])) == [97, 97, 3]


def test_a_test_that_read_so_does_not_settle_it_while_something_else_may_be() -> None:
    v = verdict(cause("hose", 0.65, confirmed=True), cause("seal", 0.33), tests=False)
    said = headline(v)
    assert "probably torn hose" in said and "its own test (hose-test) read so, yet something else may be" in said
    assert "Repair it, then" not in verdict_text(v)
    settled = verdict(cause("hose", 0.97, confirmed=True), cause("seal", 0.03), tests=False)
    assert "Repair it, then" in verdict_text(settled)


def test_unconfirmed_leader_is_never_shown_above_80_percent() -> None:
    said = headline(CASES["unconfirmed"])
    assert "most likely torn hose" in said
    assert "not yet confirmed: confirm it by hose-test" in said
    assert percents(verdict_text(CASES["unconfirmed"])) == [80, 3]


def test_unconfirmed_leader_whose_test_is_not_open_sends_nobody_to_that_test() -> None:
    v = verdict(cause("hose", 0.97), tests=False)
    assert "no single reading proves it" in headline(v)
    assert "hose-test" not in verdict_text(v)


def test_unconfirmed_below_the_cap_is_shown_as_it_is() -> None:
    v = verdict(cause("hose", 0.62), cause("seal", 0.38))
    assert "probably torn hose" in headline(v)
    assert percents(verdict_text(v)) == [62, 62, 38]


def test_a_leader_below_one_half_is_not_decided() -> None:
    assert headline(CASES["open"]).startswith("Testwagen: not decided yet; torn hose")


def test_sound_car_is_told_so_and_no_cause_is_argued_for() -> None:
    text = verdict_text(CASES["sound"])
    assert headline(CASES["sound"]) == "Testwagen: nothing found wrong (94 %)."
    assert "WHY" not in text and "Usual repair" not in text


def test_none_of_the_known_causes() -> None:
    text = verdict_text(CASES["none"])
    assert "none of the known causes fits" in headline(CASES["none"])
    assert text.index("None of these") < text.index("Torn hose") < text.index("Sound")
    assert "WHY" not in text


@pytest.mark.parametrize("healthy", [0.0, 0.9])
def test_order_only_shows_places_and_no_number_of_any_probability(healthy: float) -> None:
    v = dataclasses.replace(CASES["order"], healthy=healthy)
    text = verdict_text(v)
    assert "%" not in text and "█" not in text
    assert "Only the order can be trusted" in text
    assert re.search(r" 1\.$", text, re.M) and re.search(r" 2\.$", text, re.M)


def test_about_rounds_to_five() -> None:
    text = verdict_text(CASES["about"])
    assert re.findall(r"about \d+ %", " ".join(text.split())) == ["about 60 %", "about 60 %", "about 40 %"]
    assert "read them as about" in text


def test_reasons_for_and_against_are_told_apart_and_empty_ones_left_out() -> None:
    text = verdict_text(CASES["unconfirmed"])
    assert "  + the log speaks strongly for it\n" in text
    assert "  - the leak test speaks slightly against it\n" in text
    assert "the shaft says nothing" not in text
    assert "how common" not in text  # every one of many causes is uncommon


def test_what_would_change_it_in_the_units_of_the_shop() -> None:
    # 62 kPa = 8.99 psi (NIST SP 811)
    said = "leak test: with pressure below 9.0 psi, torn seal that opens only when hot and loaded up would lead."
    assert said in verdict_text(CASES["open"], width=110)
    assert "pressure below 62 kPa" in verdict_text(CASES["open"], width=110, units="kPa")
    assert CASES["open"].as_json()["would_change"] == [
        {"test": "leak-test", "when": "pressure below 62 kPa", "leader": "seal", "probability": 0.2}
    ]
    assert "WHAT WOULD CHANGE IT" not in verdict_text(verdict(cause("hose", 0.97), tests=False))


def test_readings_of_one_test_that_would_change_it_stand_in_one_sentence() -> None:
    turns = (
        WouldChange("leak-test", "pressure below {62 kPa}", "seal", 0.2), WouldChange("other-test", "nothing", "seal", 0.1),
        WouldChange("leak-test", "pressure above {90 kPa}", "healthy", 0.1), WouldChange("leak-test", "a hiss", "seal", 0.1),
    )  # fmt: skip
    made = replace(verdict(cause("hose", 0.6), cause("seal", 0.4)), would_change=turns)
    seal = "torn seal that opens only when hot and loaded up would lead"
    assert would_change(made, "kPa") == [
        f"leak test: with pressure below 62 kPa or a hiss, {seal}; with pressure above 90 kPa, a sound car would lead.",
        f"other test: with nothing, {seal}.",
    ]


def test_what_the_leader_hangs_on() -> None:
    stays = verdict(cause("hose", 0.6), cause("seal", 0.4), assumed=(("all causes equally common", "hose"),))
    assert "The leader stays the same under every other assumption tried." in verdict_text(stays, width=110)
    turns = verdict(
        cause("hose", 0.6),
        cause("seal", 0.4),
        assumed=(("wide severities", "hose"), ("all causes equally common", "healthy"), ("no error", "none_of_these")),
    )
    said = " ".join(verdict_text(turns, width=110).split())
    assert "with all causes equally common, a sound car leads; with no error, none of these leads." in said
    assert "wide severities" not in said
    assumed = (("no error", "healthy"), ("all equally common", "healthy"))
    same = verdict(cause("hose", 0.6), cause("seal", 0.4), assumed=assumed)
    said = " ".join(verdict_text(same, width=110).split())
    assert "what is assumed: with no error, and with all equally common, a sound car leads." in said


@pytest.mark.parametrize("confirmed", [True, False])
def test_a_misfit_puts_no_cause_forward(confirmed: bool) -> None:
    v = verdict(cause("hose", 0.97, confirmed=confirmed), cause("seal", 0.03), misfit=0.0099)
    assert headline(v).startswith("Testwagen: none of the known causes explains all that was measured.")
    assert "torn hose" in headline(v) and "%" not in headline(v)
    assert "none of the known" not in headline(dataclasses.replace(v, fit=dataclasses.replace(v.fit, misfit=0.0101)))


def test_cautions_stand_before_the_steps_of_the_next_test() -> None:
    text = verdict_text(CASES["unconfirmed"])
    assert text.index("DO THIS NEXT") < text.index("! Caution: Shop air") < text.index("1. Close the intake")
    assert "Saves about 35 minutes" in text


def test_doubts_are_said() -> None:
    text = verdict_text(CASES["order"], width=110)
    assert "Even the leading cause does not explain all" in text
    assert "· log.csv, boost: Five cells are empty. Log it once more." in text
    assert "Not known or not done: shaft-check, car: gate port." in text
    assert "Even the leading cause" not in verdict_text(CASES["about"])


def test_what_is_left_out_stands_first_and_is_no_doubt_among_others() -> None:
    says = "It was recorded after something was tried."
    told = Finding("left-out-tried", "new.csv", says, "To count it again, do this.")
    doubts = [Finding("lost-cells", f"log{n}.csv", "Cells hold no number.") for n in range(7)]
    text = verdict_text(dataclasses.replace(CASES["about"], findings=(*doubts, told)), width=100)
    assert text.index(says) < text.index("WHAT IT MAY BE") and text.count(says) == 1
    assert "To count it again, do this." in text and "and 1 more findings" in text


# 10, 1 (two standard deviations of 0.5) and 12 psi; 1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)
@pytest.mark.parametrize(
    ("units", "said"),
    [
        ("psi", "about 10.0 psi ± 1.0 psi, sound 12.0 psi"),
        ("bar", "about 0.69 bar ± 0.07 bar, sound 0.83 bar"),
        ("kPa", "about 68.9 kPa ± 6.9 kPa, sound 82.7 kPa"),
    ],
)
def test_severity_in_the_units_of_the_shop(units: str, said: str) -> None:
    share = SeverityShare("opening_pressure", 10.0 * PSI, 0.5 * PSI, "Pa", 12.0 * PSI)
    assert severity_in_words(share, units) == f"opening pressure of the actuator {said}"
    assert said in verdict_text(CASES["unconfirmed"], width=110, units=units)


def test_other_severities() -> None:
    port = SeverityShare("port_diameter", 0.0225, 0.0015, "m", 0.0327)
    assert severity_in_words(port, "psi") == "gate port about 22.5 ± 3.0 mm, sound 32.7 mm"
    # a 3 mm sharp-edged hole passes 0.65 of its area: 0.65 * pi / 4 * 9 mm2 = 4.5946 mm2
    leak = SeverityShare("charge_leak", 4.5946e-6, 1e-7, "m2", 0.0)
    assert severity_in_words(leak, "psi") == "leak of the charge pipes about as a 3.0 mm hole"
    flow = SeverityShare("breathing", 0.6, 0.1, "1", 0.8)
    assert severity_in_words(flow, "psi") == "engine flow about 0.75 times the sound one"
    assert severity_in_words(SeverityShare("of no name", 1.0, 0.1, "1", 1.0), "psi") == ""


def test_cautions_and_steps_of_the_next_test_are_in_the_chosen_unit() -> None:
    v = CASES["open"]
    test = dataclasses.replace(
        v.next_tests[0], cautions=("At most {max 60 kPa}.",), steps=("Raise it by {5 kPa}.",)
    )
    v = dataclasses.replace(v, next_tests=(test,))
    # 60 kPa = 8.702 psi, 5 kPa = 0.725 psi (NIST SP 811, from memory); a limit is rounded down
    assert "At most 8.7 psi." in verdict_text(v) and "Raise it by 0.7 psi." in verdict_text(v)
    assert "At most 0.60 bar." in verdict_text(v, units="bar")
    assert v.as_json()["next_tests"][0]["cautions"] == ["At most 60 kPa."]
