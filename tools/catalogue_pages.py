"""The pages docs/causes.md and docs/tests.md and the set-up drawings, made from the code.

``python -m tools.catalogue_pages`` writes them; with ``--check`` it only says what is not current.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from boostproof.report.setup_drawing import drawings
from boostproof.workflows.catalogue import list_causes, list_tests, write_setup

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
_MADE = "<!-- Made by tools/catalogue_pages.py; changes here are lost. -->"
# From which number a group of causes begins.
_CAUSE_GROUPS = {
    1: "Creep: the gate cannot pass enough",
    9: "Too high, or without limit: setting and signal",
    21: "Spikes and swings",
    28: "Too low, or late",
    38: "Falls with engine speed, or does not come back",
    45: "More on the signal side, the engine and heat",
}

_TESTS_INTRO = """# The tests

How each test is done, with its cautions first. The text comes from the files in
`src/boostproof/bench/procedures/en`; `boostproof tests ID` shows the same with pressures in the shop's unit
(100 kPa is 14.5 psi), and `boostproof tests ID --figure FILE` writes its drawing. Read
[Working safely](safety.md) first. Minutes are estimates. What is in colour on a drawing the shop brings; what is
dark is on the car.

{deference}
"""
_CAUSES_INTRO = """# The causes

Every cause that a verdict weighs, with what tells it apart. `boostproof causes WORDS` searches here,
`boostproof causes ID` shows one. How often a cause is met ({status}) is where the diagnosis starts, before it
knows anything of the car. The tests are described in [The tests](tests.md).
"""


def pages() -> dict[str, str]:
    """Text of both pages, by file name."""
    return {"causes.md": causes_page(list_causes()), "tests.md": tests_page(list_tests())}


def image(test_id: str) -> str:
    """Name of the picture of a test, below docs."""
    return f"images/set-up-{test_id}.svg"


def tests_page(rows: Sequence[Mapping[str, Any]]) -> str:
    """The page on the tests."""
    deference = rows[0]["cautions"][-1]  # the same for all: said once on this page
    lines = [_MADE, _TESTS_INTRO.format(deference=f"**{deference}**")]
    lines += ["| | test | minutes | what for |", "|---|---|---|---|"]
    lines += [
        f"| {row['number']} | [{row['id']}](#{row['id']}) | {_minutes(row)} | {row['purpose']} |" for row in rows
    ]
    for row in rows:
        lines += ["", *_test(row)]
    return "\n".join(lines) + "\n"


def causes_page(rows: Sequence[Mapping[str, Any]]) -> str:
    """The page on the causes."""
    lines = [_MADE, _CAUSES_INTRO.format(status=rows[0]["base_rate_status"])]
    grouped = {title: [row for row in rows if _group(row) == title] for title in _CAUSE_GROUPS.values()}
    lines += ["| | cause | |", "|---|---|---|"]
    lines += [f"| {row['number']} | [{row['id']}](#{row['id']}) | {row['title']} |" for row in rows]
    for title, members in grouped.items():
        if members:
            lines += ["", f"## {title}"]
        for row in members:
            lines += ["", *_cause(row)]
    return "\n".join(lines) + "\n"


def _group(row: Mapping[str, Any]) -> str:
    number = int(str(row["number"]).removeprefix("F"))
    return _CAUSE_GROUPS[max(first for first in _CAUSE_GROUPS if first <= number)]


def _test(row: Mapping[str, Any]) -> list[str]:
    lines = [f"## {row['id']}", "", f"**{row['number']} · {row['title']}** · {_minutes(row)} min", ""]
    lines += ["**Cautions**", "", *_list(row["cautions"][:-1])]
    lines += ["", row["purpose"]]
    if row["figure"]:
        lines += ["", f"![{' '.join(row['connect'])}]({image(row['figure'])})"]
    lines += ["", "**Set-up**", "", *_list(row["connect"])]
    for name, key in (("Comes off", "parts_off"), ("Takes", "tools")):
        if row[key]:
            lines.append(f"- {name}: {', '.join(row[key])}.")
    if row["need"]:
        lines.append(f"- The shop needs: {', '.join(n.replace('_', ' ') for n in row['need'])}.")
    lines += ["", "**Steps**", "", *(f"{i}. {step}" for i, step in enumerate(row["steps"], 1))]
    lines += ["", "**Never**", "", *_list(row["never"])]
    lines += ["", f"**Write down.** {row['write']}", "", *_code(row["reading"])]
    if row["pulls"]:
        lines += ["", "And in pulls.toml:", "", *_code(row["pulls"])]
    lines += ["", f"**A sound car.** {row['sound']}", "", "**Usual faults**", ""]
    lines += _list(f"{f['shows']}: {_causes(f['causes'])}" for f in row["faults"])
    return [*lines, "", f"**When it tells nothing.** {row['pointless']}"]


def _cause(row: Mapping[str, Any]) -> list[str]:
    lines = [f"### {row['id']}", "", f"**{row['number']} · {row['title']}**", ""]
    lines += _list([f"**Looks like:** {row['looks_like']}", f"**Told apart:** {row['told_apart']}"])
    tests = ", ".join(f"[{t['id']}](tests.md#{t['id']})" for t in row["decide_with"])
    lines += _list([f"**Decided by:** {tests}"])
    if row["look_alikes"]:
        lines += _list([f"**Look-alikes:** {_causes(row['look_alikes'])}"])
    repair = f"**Usual repair:** {row['repair']} About {row['minutes']:g} min."
    often = f"**How often:** {100.0 * row['base_rate_share']:.1f} % of complaints ({row['base_rate_status']})"
    lines += _list([repair, often])
    return [*lines, "- **Cautions:**", *(f"  - {text}" for text in row["cautions"])]


def _causes(named: Sequence[Mapping[str, str]]) -> str:
    known = {row["id"] for row in list_causes()}
    return ", ".join(
        f"[{c['id']}](causes.md#{c['id']})" if c["id"] in known else c["title"] for c in named
    )


def _list(texts: Any) -> list[str]:
    return [f"- {text}" for text in texts]


def _code(text: str) -> list[str]:
    return ["```toml", *text.strip().splitlines(), "```"]


def _minutes(row: Mapping[str, Any]) -> str:
    low, high = row["minutes_range"]
    return f"{low:g} to {high:g}"


def stale(docs: Path = DOCS) -> list[str]:
    """Names of files below docs that are missing or not what the code makes."""
    found = [name for name, text in pages().items() if _text(docs / name) != text]
    with tempfile.TemporaryDirectory() as folder:
        for name in drawings():
            made = write_setup(name, Path(folder) / "drawn.svg")
            if _picture(docs / image(name)) != _picture(made):
                found.append(image(name))
    return found


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.exists() else ""


def _picture(path: Path) -> str:
    """What is drawn, without the note of the version that drew it."""
    before, _, rest = _text(path).partition("<metadata>")
    return before + rest.partition("</metadata>")[2]


def write(docs: Path = DOCS) -> None:
    """Write both pages and every drawing."""
    for name, text in pages().items():
        (docs / name).write_text(text, encoding="utf-8", newline="\n")
    (docs / "images").mkdir(exist_ok=True)
    for name in drawings():
        write_setup(name, docs / image(name))


def main(arguments: Sequence[str] | None = None) -> int:
    """Write, or check; 1 where something is not current."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing, name what is not current")
    if not parser.parse_args(arguments).check:
        write()
        return 0
    names = stale()
    sys.stdout.write("".join(f"docs/{name} is not current.\n" for name in names))
    return 1 if names else 0


if __name__ == "__main__":
    sys.exit(main())
