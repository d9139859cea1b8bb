"""What is asked about the columns of a log: what is unsure and matters, and nothing else."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from tests.unit.recording.styles import drive, style_table
from tests.unit.recording.styles_open import OPEN

from boostproof.recording.model import Column, Question, Recording, Table
from boostproof.recording.recognise import recognise

D = drive()
Array = NDArray[np.float64]


def _table(**columns: Array) -> Table:
    every = tuple(Column(head, "", values) for head, values in columns.items())
    return Table("log.csv", "csv", len(D["rpm"]), every)


def _usual(**columns: Array) -> Table:
    return _table(**{"Time (s)": D["time_s"], "RPM": D["rpm"], "TPS (%)": D["throttle_pct"]}, **columns)


def _about(recording: Recording, about: str) -> Question:
    (question,) = [q for q in recording.questions if q.about == about]
    return question


def test_a_log_that_says_all_is_asked_nothing() -> None:
    for style in ("camel", "snake", "capitals", "german compounds", "russian"):
        assert recognise(style_table(OPEN[style], D)[0]).questions == ()


def test_every_option_answers_its_question_when_told() -> None:
    table = _usual(**{"Boost (kPa)": D["boost_kpa"] / 6.894757})
    recording = recognise(table)
    (question,) = recording.questions
    assert question.asks.endswith("?")
    for option in question.options:
        told = recognise(table, {option.channel: option.choice})
        channel = told.channels[option.channel]
        assert channel.column == "Boost (kPa)"
        assert (channel.unit, channel.reference) == (option.choice.unit, option.choice.reference)
        assert told.questions == () and channel.sure == 1.0
    assert question.guess is not None
    taken = question.options[question.guess]
    assert recording.channels[taken.channel].unit == taken.choice.unit


def test_a_pressure_without_a_name_is_asked_about() -> None:
    question = _about(recognise(_usual(**{"Pressure 2": D["map_kpa"]})), "manifold_pressure")
    assert "Pressure 2" in question.asks and question.guess == 0


def test_boost_that_is_missing_is_asked_for_among_the_pressures() -> None:
    """Two pressures that do not behave like the manifold's: nobody can tell, so a person may."""
    flat = np.linspace(101.0, 104.0, len(D["rpm"]))
    recording = recognise(_usual(**{"P1 (kPa)": flat, "P2 (kPa)": flat[::-1].copy()}))
    question = _about(recording, "boost")
    assert question.guess is None
    assert {option.choice.column for option in question.options} == {"P1 (kPa)", "P2 (kPa)"}


def test_a_throttle_that_is_missing_is_asked_for_among_the_unnamed() -> None:
    table = _table(
        **{"Time (s)": D["time_s"], "RPM": D["rpm"], "MAP (kPa)": D["map_kpa"], "Chan 7 (%)": D["throttle_pct"]}
    )
    question = _about(recognise(table), "throttle")
    assert [option.choice.column for option in question.options] == ["Chan 7 (%)"]
    assert question.guess is None


def test_plate_or_pedal_is_asked_where_the_header_says_both() -> None:
    table = _table(
        **{"Time (s)": D["time_s"], "RPM": D["rpm"], "MAP (kPa)": D["map_kpa"],
           "Throttle pedal (%)": D["throttle_pct"]}
    )  # fmt: skip
    (question,) = recognise(table).questions
    assert {option.channel for option in question.options} == {"throttle", "pedal"}


def test_two_columns_that_fit_alike_are_both_offered() -> None:
    table = _table(
        **{"Time (s)": D["time_s"], "RPM": D["rpm"], "MAP (kPa)": D["map_kpa"],
           "Throttle 1 (%)": D["throttle_pct"], "Throttle 2 (%)": np.roll(D["throttle_pct"], 15)}
    )  # fmt: skip
    question = _about(recognise(table), "throttle")
    assert [option.choice.column for option in question.options] == ["Throttle 1 (%)", "Throttle 2 (%)"]
    moves_with_it = _usual(**{"MAP (kPa)": D["map_kpa"], "TPS 2 (V)": D["throttle_pct"] * 0.04 + 0.5})
    assert recognise(moves_with_it).questions == ()
    repeated = _usual(**{"MAP (kPa)": D["map_kpa"], "TPS (%) (2)": D["throttle_pct"]})
    assert recognise(repeated).questions == ()


def test_the_unit_of_time_is_asked_where_the_numbers_allow_two() -> None:
    """A clock that counts in ones, between seconds and milliseconds."""
    count = np.arange(len(D["rpm"]), dtype=np.float64)
    table = _table(**{"Time": count, "RPM": D["rpm"], "TPS (%)": D["throttle_pct"], "MAP (kPa)": D["map_kpa"]})
    question = _about(recognise(table), "time")
    assert {option.choice.unit for option in question.options} == {"s", "ms"}
    clear = _table(**{"Time": D["time_s"], "RPM": D["rpm"], "TPS (%)": D["throttle_pct"], "MAP (kPa)": D["map_kpa"]})
    assert recognise(clear).questions == ()


def test_a_question_as_json_is_plain() -> None:
    recording = recognise(_usual(**{"Pressure 2": D["map_kpa"]}))
    answer = recording.questions[0].as_json()
    assert set(answer) == {"about", "asks", "options", "guess"}
    assert set(answer["options"][0]) == {"label", "channel", "column", "unit", "reference"}
