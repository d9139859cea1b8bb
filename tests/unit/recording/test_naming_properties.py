"""What must hold for any log: the order of columns does not count, a worse name is never surer, units scale."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.recording.styles import drive, style_table
from tests.unit.recording.styles_held_out import HELD_OUT
from tests.unit.recording.styles_open import OPEN

from boostproof.errors import InputError
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise
from boostproof.units import get_unit

D = drive(10.0)
TABLES = {name: style_table(lines, D)[0] for name, lines in (OPEN | HELD_OUT).items()}
STYLES = st.sampled_from(sorted(TABLES))
JUNK = st.sampled_from(["Xqzv 7", "Ch 12", "zzz", "Kanal_3_q", "###", "var04"])


def _named(table: Table) -> dict[str, tuple[str, str, str | None, float]]:
    return {
        c.column: (c.name, c.unit, c.reference, round(c.sure, 9)) for c in recognise(table).channels.values()
    }


def _with(table: Table, columns: list[Column]) -> Table:
    return Table(table.file, table.kind, table.rows, tuple(columns))


@settings(max_examples=60)
@given(STYLES, st.integers(0, 10_000))
def test_the_order_of_the_columns_changes_nothing(style: str, seed: int) -> None:
    columns = list(TABLES[style].columns)
    random.Random(seed).shuffle(columns)
    assert _named(_with(TABLES[style], columns)) == _named(TABLES[style])


@settings(max_examples=60)
@given(STYLES, st.integers(0, 30), JUNK)
def test_a_header_without_meaning_is_never_surer(style: str, which: int, junk: str) -> None:
    table = TABLES[style]
    columns = list(table.columns)
    which %= len(columns)
    before = _named(table).get(columns[which].header)
    columns[which] = Column(junk, "", columns[which].values)
    try:
        after = _named(_with(table, columns)).get(junk)
    except InputError as error:
        assert error.kind == "no-engine-speed"
        return
    if before is not None and after is not None:
        assert after[3] < before[3]


@pytest.mark.parametrize("key", ["boost_kpa", "map_kpa"])
@settings(max_examples=40)
@given(
    st.sampled_from(["kPa", "psi", "bar", "mbar", "hPa", "inHg", "mmHg"]),
    st.sampled_from(["{} ({})", "{} [{}]", "{}, {}", "{}_{}", "{} {}", "{} / {}"]),
    st.booleans(),
)
def test_a_pressure_is_the_same_in_whatever_unit_it_is_written(
    key: str, unit: str, form: str, upper: bool
) -> None:
    name = "Boost" if key == "boost_kpa" else "Manifold pressure"
    header = form.format(name, unit.upper() if upper else unit)
    written = D[key] * 1e3 / get_unit(unit, "pressure").factor
    columns = [Column("Time (s)", "", D["time_s"]), Column("RPM", "", D["rpm"]), Column(header, "", written)]
    channels = recognise(Table("log.csv", "csv", len(written), tuple(columns))).channels
    (channel,) = [c for c in channels.values() if c.column == header]
    assert channel.reference == ("gauge" if key == "boost_kpa" else "abs")
    np.testing.assert_allclose(channel.values, D[key] * 1e3, rtol=1e-9, atol=1e-6)


def test_a_long_log_is_recognised_like_a_short_one() -> None:
    """Judging by some of the rows: thirty times the rate, the same columns and nearly the same certainty."""
    long = drive(3000.0)
    for style in ("camel", "russian", "letters first", "dyno capitals"):
        one, truth = style_table((OPEN | HELD_OUT)[style], long)
        found = {c.column: (c.name, c.unit, c.reference) for c in recognise(one).channels.values()}
        assert {header: found.get(header) for header in truth} == truth
