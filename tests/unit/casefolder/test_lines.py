"""Lines of keys."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from boostproof.casefolder.lines import line_index

TEXT = '''\
a.b = 1
[x]
y = """
several # lines
"""  # remark
z = [ "a", # [ no list
 {q = 1, r = "}"},
 [1, 2]]
[[r]]
k = 1
[r.v]
h = 2
[[r]]
[r.v]
h = 3
[[r.w]]
p = 'x'
"q k" = 2024-01-01
'''


def test_lines_of_tables_lists_and_inline_tables() -> None:
    assert tomllib.loads(TEXT)["r"][1]["w"][0]["p"] == "x"
    index = line_index(TEXT)
    expected = {
        ("a", "b"): 1, ("x",): 2, ("x", "y"): 3, ("x", "z"): 6, ("x", "z", 1, "r"): 7, ("x", "z", 2, 1): 8,
        ("r", 0): 9, ("r", 0, "k"): 10, ("r", 0, "v", "h"): 12, ("r", 1): 13, ("r", 1, "v", "h"): 15,
        ("r", 1, "w", 0): 16, ("r", 1, "w", 0, "p"): 17, ("r", 1, "w", 0, "q k"): 18,
    }  # fmt: skip
    assert {path: index[path] for path in expected} == expected


def test_a_table_that_only_a_longer_heading_names_stands_there() -> None:
    index = line_index("[a]\nb = 1\n\n[x.y.z]\nk = 1\n[x]\nq = 1\n[x.y]\n")
    assert (index["x",], index["x", "y"], index["x", "y", "z"], index["x", "q"]) == (4, 4, 4, 7)


def test_lists_too_deep_to_follow_have_no_lines_and_no_crash() -> None:
    assert line_index("a = " + "[" * 5000 + "]" * 5000) == {}


keys = st.from_regex(r"[a-z][a-z0-9_-]{0,6}", fullmatch=True)
values = st.one_of(
    st.integers(-9, 9).map(str),
    st.booleans().map(lambda b: str(b).lower()),
    st.text(st.characters(codec="ascii", exclude_categories=["C"]), max_size=8).map(
        lambda t: '"' + t.replace("\\", "\\\\").replace('"', '\\"') + '"'
    ),
    st.just('["a", "]", { b = 1 }]'),
    st.just("'''\n# [x]\n'''"),
)


@given(st.lists(st.tuples(keys, values), max_size=8, unique_by=lambda pair: pair[0]), st.integers(0, 3))
def test_every_key_is_found_on_the_line_it_was_written(pairs: list[tuple[str, str]], blank: int) -> None:
    text = "\n" * blank
    expected: dict[tuple[str], int] = {}
    for key, value in pairs:
        expected[(key,)] = text.count("\n") + 1
        text += f"{key} = {value}  # {key} =\n"
    tomllib.loads(text)
    index = line_index(text)
    assert {path: line for path, line in index.items() if len(path) == 1} == expected
