"""Edits in place: what is not edited stays byte for byte."""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from practice.cases import practice_folder

from boostproof.casefolder.edit import clear_value, edit, set_value, value_at, written
from boostproof.casefolder.template import car_template
from boostproof.errors import InputError, NotDoneError

CAR = """\
# the blue one
format = 1

[car]
name = "blue"   # as on the card
# said on the phone
complaint = ["climbs", # twice
  "worse when cold"]

# the engine
[engine]
displacement = "2.0 L"
colour = "grey" # a key that nobody knows

[history]
started = "grew"
#stood = "eight months"

[[history.changed]]
what = "exhaust"  # the customer
fault = "after"
# not sure

[[history.changed]]
what = "fuel"

# the shop
[pull_place]
lift = true
"""


def inserted(old: str, new: str) -> str:
    """What was put into a text in one place; fails where anything else differs."""
    for at in range(len(old) + 1):
        if new.startswith(old[:at]) and new.endswith(old[at:]) and len(new) >= len(old):
            return new[at : at + len(new) - len(old)]
    raise AssertionError(f"more than one place differs:\n{old}\n----\n{new}")


def test_a_value_is_replaced_where_it_stands() -> None:
    new = set_value(CAR, "engine.displacement", "1.8 L")
    assert new == CAR.replace('"2.0 L"', '"1.8 L"')
    new = set_value(CAR, "car.complaint", ["climbs"])
    assert new == CAR.replace('["climbs", # twice\n  "worse when cold"]', '["climbs"]')


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("engine.redline", "6800 rpm", 'redline = "6800 rpm"\n'),
        ("history.stood", "a year", 'stood = "a year"\n'),
        ("history.changed.1.fault", "before", 'fault = "before"\n'),
        ("weather.barometer", "99 kPa", '\n[weather]\nbarometer = "99 kPa"\n'),
        ("history.last_right.boost", "14 psi", '\n[history.last_right]\nboost = "14 psi"\n'),
        ("history.changed.2.what", "hoses", '\n[[history.changed]]\nwhat = "hoses"\n'),
        ("history.changed.2", {"what": "hoses", "to": "new"}, '\n[[history.changed]]\nwhat = "hoses"\nto = "new"\n'),
        ("history.tried.0.what", "spring", '\n[[history.tried]]\nwhat = "spring"\n'),
        ("limits.target", [{"rpm": "4000 rpm", "boost": "14 psi"}],
         '\n[limits]\ntarget = [{ rpm = "4000 rpm", boost = "14 psi" }]\n'),
        ("turbo.housing_area_over_radius", 0.63, "\n[turbo]\nhousing_area_over_radius = 0.63\n"),
    ],
)  # fmt: skip
def test_what_is_new_is_put_in_and_nothing_else_moves(key: str, value: Any, expected: str) -> None:
    new = set_value(CAR, key, value)
    assert sorted(inserted(CAR, new)) == sorted(expected)
    assert expected.strip() in new
    assert value_at(tomllib.loads(new), key) == value


def test_a_new_key_stands_by_the_remark_that_named_it_and_a_section_in_its_usual_place() -> None:
    assert '#stood = "eight months"\nstood = "a year"\n' in set_value(CAR, "history.stood", "a year")
    new = set_value(CAR, "turbo.count", 1, order=("car", "engine", "turbo", "history", "pull_place"))
    assert 'knows\n\n[turbo]\ncount = 1\n\n[history]' in new
    new = set_value(CAR.replace("format = 1\n", ""), "format", 1)
    assert new.startswith("# the blue one\n\nformat = 1\n\n[car]")


def test_a_cleared_value_leaves_its_remark() -> None:
    assert clear_value(CAR, "engine.displacement") == CAR.replace('displacement = "2.0 L"\n', "")
    assert clear_value(CAR, "car.name") == CAR.replace('name = "blue"   # as', "# as")
    new = clear_value(CAR, "history.changed.0")
    assert tomllib.loads(new)["history"]["changed"] == [{"what": "fuel"}]
    assert "# the customer\n# not sure\n" in new


def test_a_row_in_the_middle_and_a_whole_table_can_go() -> None:
    assert tomllib.loads(clear_value(CAR, "history.changed"))["history"] == {"started": "grew"}
    assert "history" not in tomllib.loads(clear_value(CAR, "history"))


@pytest.mark.parametrize(
    ("text", "key", "value", "expected"),
    [
        ('weather = { barometer = "99 kPa" }\n', "weather.temperature", "20 C",
         'weather = { barometer = "99 kPa", temperature = "20 C" }\n'),
        ("weather = {}\n", "weather.temperature", "20 C", 'weather = { temperature = "20 C" }\n'),
        ("history = {}\n", "history.last_right.boost", "1 bar", 'history = { last_right = { boost = "1 bar" } }\n'),
        ('weather.barometer = "99 kPa"\n[car]\n', "weather.temperature", "20 C",
         'weather.barometer = "99 kPa"\nweather.temperature = "20 C"\n[car]\n'),
        ('[history]\nchanged = [{ what = "gate" }]\n', "history.changed.1.what", "fuel",
         '[history]\nchanged = [{ what = "gate" }, { what = "fuel" }]\n'),
        ('[a]\nb = [1, 2, 3]\n', "a.b.1", None, "[a]\nb = [1, 3]\n"),
        ('[a]\nb = [1, 2, 3]\n', "a.b.2", None, "[a]\nb = [1, 2]\n"),
        ('[a]\nb = [1, # one\n 2, # two\n]\n', "a.b.0", None, "[a]\nb = [# one\n 2, # two\n]\n"),
        ('[a]\nb = [1, # one\n 2 # two\n]\n', "a.b.1", None, "[a]\nb = [1 # one\n  # two\n]\n"),
        ('[a]\nb = { c = 1, d = 2 }\n', "a.b.c", None, "[a]\nb = { d = 2 }\n"),
        ('[a]\nb = { c = 1, d = 2 }\n', "a.b.d", None, "[a]\nb = { c = 1 }\n"),
        ('[a]\n  b = 1\n', "a.c", 2, "[a]\n  b = 1\n  c = 2\n"),
        ("[a]\nb = 1", "a.c", 2, "[a]\nb = 1\nc = 2\n"),
        ("[a]\r\nb = 1\r\n", "a.c", 2, "[a]\r\nb = 1\r\nc = 2\r\n"),
        ("[a]\r\nb = 1\r\n", "a.b", "x", '[a]\r\nb = "x"\r\n'),
        ("\ufeff[a]\nb = 1\n", "a.b", 2, "\ufeff[a]\nb = 2\n"),
        ("[a.b]\nc = 1\n", "a.d", 2, "[a]\nd = 2\n\n[a.b]\nc = 1\n"),
        ("", "a.b", True, "\n[a]\nb = true\n".lstrip("\n")),
        ('[a]\nb = """\n#c = 1\n"""\n', "a.c", 2, '[a]\nb = """\n#c = 1\n"""\nc = 2\n'),
        ('[limits]\n[[limits.target]]\nboost = "1 bar"\n', "limits.target", "15 psi",
         '[limits]\ntarget = "15 psi"\n'),
    ],
)  # fmt: skip
def test_every_way_to_write_a_table_is_edited_in_that_way(
    text: str, key: str, value: Any, expected: str
) -> None:
    assert edit(text, {key: value}) == expected


def test_the_same_value_again_changes_nothing() -> None:
    assert set_value(CAR, "car.complaint", ["climbs", "worse when cold"]) == CAR
    assert clear_value(CAR, "weather.barometer") == CAR


def test_what_cannot_be_done_is_refused() -> None:
    with pytest.raises(NotDoneError, match=r"engine\.displacement\.x"):
        set_value(CAR, "engine.displacement.x", 1)
    with pytest.raises(NotDoneError, match=r"history\.changed\.7"):
        set_value(CAR, "history.changed.7.what", "fuel")
    with pytest.raises(InputError, match="cannot be read"):
        set_value("a = \n", "b", 1)


def test_a_new_car_file_takes_every_answer_beside_its_remark() -> None:
    text = car_template()
    new = edit(text, {"engine.redline": "6800 rpm", "wastegate.port": "26 mm", "sensors.manifold_position": "after throttle"})
    assert '#port = "26 mm"\nport = "26 mm"\n' in new
    assert 'redline = "6800 rpm"  # must\n' in new
    assert [line for line in new.splitlines() if line not in text.splitlines()] == [
        'redline = "6800 rpm"  # must', 'port = "26 mm"', 'manifold_position = "after throttle"',
    ]  # fmt: skip


names = st.from_regex(r"[a-z]{1,3}", fullmatch=True)
scalars = st.one_of(
    st.integers(-999, 999),
    st.booleans(),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.text(max_size=12),
)
plain_values = st.one_of(scalars, st.lists(st.text(max_size=5), max_size=3))
inline = st.one_of(plain_values, st.dictionaries(names, scalars, max_size=3))
remark = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), max_size=10)


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A file as people leave it: remarks everywhere, blanks, indents, rows, braces."""
    end = draw(st.sampled_from(["\n", "\r\n"]))
    lines: list[str] = []

    def clutter() -> None:
        for _ in range(draw(st.integers(0, 2))):
            lines.append(draw(st.sampled_from(["", "  ", "# " + draw(remark), '#b = "1"', "\t# x"])))

    def pairs() -> None:
        for name, value in draw(st.dictionaries(names, inline, max_size=4)).items():
            clutter()
            behind = draw(st.sampled_from(["", "  ", " # " + draw(remark)]))
            indent = draw(st.sampled_from(["", "  "]))
            lines.append(f"{indent}{name}{draw(st.sampled_from([' = ', '=']))}{written(value)}{behind}")
        clutter()

    pairs()
    tops = draw(st.lists(st.from_regex(r"[A-Z]{1,2}", fullmatch=True), unique=True, max_size=3))
    for top in tops:
        clutter()
        if draw(st.booleans()):
            lines.append(f"[{top}]" + draw(st.sampled_from(["", " # " + draw(remark)])))
            pairs()
            if draw(st.booleans()):
                lines.append(f"[{top}.Sub]")
                pairs()
        else:
            for _ in range(draw(st.integers(1, 3))):
                lines.append(f"[[{top}]]")
                pairs()
    return end.join(lines) + draw(st.sampled_from(["", end]))


def leaves(data: Any, path: str = "") -> list[str]:
    """Dotted keys of everything in a file."""
    found = []
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for name, value in items:
        here = f"{path}.{name}".lstrip(".")
        found.append(here)
        if isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
            found += leaves(value, here)
    return found


def remarks(text: str) -> list[str]:
    """Lines that are nothing but a remark."""
    return [line.strip() for line in text.splitlines() if line.strip().startswith("#")]


@settings(max_examples=100, deadline=None)
@given(documents(), st.data())
def test_setting_what_is_there_replaces_it_and_nothing_else(text: str, data: st.DataObject) -> None:
    before = tomllib.loads(text)
    keys = [key for key in leaves(before) if not isinstance(value_at(before, key), dict | list)]
    if not keys:
        return
    key, value = data.draw(st.sampled_from(keys)), data.draw(plain_values)
    new = edit(text, {key: value})
    expected = copy.deepcopy(before)
    table = expected
    *above, last = key.split(".")
    for part in above:
        table = table[int(part) if part.isdigit() else part]  # type: ignore[index]
    table[last] = value
    assert tomllib.loads(new) == expected
    if new == text:
        return
    new_value = written(value)
    assert any(
        new[at : at + len(new_value)] == new_value
        and text[:at] == new[:at]
        and (rest := new[at + len(new_value) :]) == text[len(text) - len(rest) :]
        for at in range(len(new))
    )


@settings(max_examples=100, deadline=None)
@given(documents(), st.data())
def test_a_new_value_is_one_insertion_and_clearing_it_takes_it_back(text: str, data: st.DataObject) -> None:
    before = tomllib.loads(text)
    tables = [key for key in leaves(before) if isinstance(value_at(before, key), dict)]
    table = data.draw(st.sampled_from(["", "New", *tables]))
    key, value = f"{table}.new".lstrip("."), data.draw(plain_values)
    new = edit(text, {key: value})
    assert value_at(tomllib.loads(new), key) == value
    inserted(text, new)
    again = clear_value(new, key)
    assert value_at(tomllib.loads(again), key) is None
    if table != "New" and f"{table} = {{}}" not in text and text.endswith("\n"):
        left = again.replace("{  }", "{}").replace("{ }", "{}").replace("\r\n", "\n").strip()
        before_it = text.replace("\r\n", "\n").strip()
        if not table:  # a first line of the file is set off by a blank line, which stays
            left, before_it = (re.sub(r"\n+", "\n", one) for one in (left, before_it))
        assert left == before_it


@settings(max_examples=100, deadline=None)
@given(documents(), st.data())
def test_clearing_loses_no_remark_and_no_other_key(text: str, data: st.DataObject) -> None:
    before = tomllib.loads(text)
    keys = leaves(before)
    if not keys:
        return
    key = data.draw(st.sampled_from(keys))
    new = clear_value(text, key)
    assert set(remarks(text)) <= set(remarks(new))
    part = key.split(".")
    expected = copy.deepcopy(before)
    table: Any = expected
    for name in part[:-1]:
        table = table[int(name) if name.isdigit() else name]
    del table[int(part[-1]) if part[-1].isdigit() else part[-1]]
    left = tomllib.loads(new)
    if isinstance(table, list) and not table:  # the last row takes its list along
        assert value_at(left, ".".join(part[:-1])) is None
    else:
        assert left == expected


PRACTICE = sorted(practice_folder().glob("*/car.toml"))


@pytest.mark.skipif(not PRACTICE, reason="no practice cases")
def test_the_practice_cases_take_a_new_value_and_nothing_else_moves() -> None:
    for path in PRACTICE:
        text = path.read_bytes().decode("utf-8")
        new = edit(text, {"turbo.turbine_exducer": "47.3 mm"})
        inserted(text, new)
        assert tomllib.loads(new)["turbo"]["turbine_exducer"] == "47.3 mm"
