"""Compare what the code reads with the formats as written out in formats.toml beside this file.

``python -m tools.check_formats`` answers whether

* the code has every key of the list, and the list every key of the code;
* every value of the list is accepted by the published schemas, and wrong ones are refused;
* pressures mean gauge, absolute or a difference where the list says so;
* the example files (tests/fixtures/formats and the practice cases) hold to the schemas, their quantities
  can be read, and the fixtures alone use every key, every word and every way to write a quantity.

The practice cases are looked for where BOOSTPROOF_PRACTICE says, else in ../shared/cases.
"""

from __future__ import annotations

import argparse
import re
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator
from practice.cases import practice_folder
from tools import format_sheets
from tools.format_sheets import ROOT, Entry, Node, Report, Sheet, make_sheets, schema

from boostproof.errors import InputError
from boostproof.keys import Key
from boostproof.quantity import parse_quantity
from boostproof.units import find_unit

FIXTURES = ROOT / "tests" / "fixtures" / "formats"
SAMPLES: dict[str, Any] = {"<flag>": True, "<text>": "some words", "<path>": "recordings/a.csv", "<pulls>": "2, 3-5, 7-"}
REFERENCES = ("gauge", "abs", "difference")


# -- code and schemas against the list ---------------------------------------------------------------


def check_keys(sheet: Sheet, report: Report) -> None:
    """Every key on all three sides."""
    for view, keys in (("code", sheet.coded.keys()), ("schema", sheet.published.keys())):
        for path in sorted(sheet.listed.keys() - keys):
            report.wrong(f"{sheet.name}: the {view} lacks {path}.")
        for path in sorted(keys - sheet.listed.keys()):
            report.wrong(f"{sheet.name}: {path} is in the {view} and not in the list.")


def check_values(sheet: Sheet, report: Report) -> None:
    """The schema takes every listed value and refuses what is not listed."""
    whole = Draft202012Validator(sheet.schema)
    for path, entry in sheet.listed.items():
        node = sheet.published.get(path)
        if node is None or path == "test":
            continue
        valid = whole.evolve(schema=node).is_valid
        where = f"{sheet.name}: {path}"
        for sample in _samples(entry, node):
            if not valid(sample):
                report.wrong(f"{where} refuses {sample!r}.")
            if "<list>" in entry.marks and not valid([sample]):
                report.wrong(f"{where} refuses a list with {sample!r}.")
        for wrong in _wrong_samples(entry):
            if valid(wrong):
                report.wrong(f"{where} takes {wrong!r}.")


def _samples(entry: Entry, node: Node) -> list[Any]:
    """One value for each form that a single value can show."""
    samples: list[Any] = [word for word in entry.words if "<table>" not in entry.sorts]
    units = [find_unit(unit) for unit in format_sheets.the_list()["quantities"]["units"]]
    samples += [f"1.5 {unit}" for unit in units if unit is not None and unit.dimension == entry.dimension]
    for sort in entry.sorts:
        if sort in ("<number>", "<whole number>"):
            limits = next((form for form in node.get("anyOf", [node]) if "minimum" in form), {"minimum": 1})
            samples.append(limits["minimum"])
            samples.append(limits.get("maximum", 1))
        elif sort in SAMPLES:
            samples.append(SAMPLES[sort])
    return samples


def _wrong_samples(entry: Entry) -> list[Any]:
    """Values of no listed form."""
    wrong: list[Any] = [*entry.refused, [["a"]], ""]
    if not {"<text>", "<path>"} & set(entry.sorts):
        wrong.append("no such word")
        if not {"<number>", "<pulls>"} & set(entry.sorts):
            wrong.append("12")
    if not {"<number>", "<whole number>"} & set(entry.sorts):
        wrong.append(1.25)
    if "<whole number>" in entry.sorts:
        wrong.append(1.25)
    if "<flag>" not in entry.sorts:
        wrong.append(True)
    if "<table>" not in entry.sorts:
        wrong.append({"no such key": 1})
    return wrong


def check_quantities(sheet: Sheet, report: Report) -> None:
    """Which keys must be there; dimension and reference of every quantity in the code."""
    for path, entry in sheet.listed.items():
        key = sheet.coded.get(path)
        if key is None:
            continue
        where = f"{sheet.name}: {path}"
        if key.must is not ("<must>" in entry.marks):
            report.wrong(f"{where}: code and list differ on whether it must be there.")
        if not entry.dimension:
            continue
        if key.dimension != entry.dimension:
            coded = key.dimension or key.kind
            report.wrong(f"{where} is {coded} in the code, {entry.dimension} in the list.")
        elif entry.dimension == "pressure":
            expected = next((ref for ref in REFERENCES if f"<{ref}>" in entry.marks), None)
            if _parse(key, "50 kPa").reference != expected:
                report.wrong(f"{where} is not {expected} when nothing is said.")
            other = "gauge" if expected == "abs" else "abs"
            fixed = "<always>" in entry.marks or expected == "difference"
            if _can_parse(key, f"50 kPa {other}") is fixed:
                report.wrong(f"{where} {'takes' if fixed else 'refuses'} {other}.")


def _parse(key: Key, value: str) -> Any:
    return parse_quantity(
        value, dimension=key.dimension, usual_sd=key.usual, gauge_default=key.reference,
        reference_fixed=key.reference_fixed,
    )  # fmt: skip


def _can_parse(key: Key, value: str) -> bool:
    try:
        _parse(key, value)
    except InputError:
        return False
    return True


def check_units(report: Report) -> None:
    """Every listed unit is known in any case."""
    for written in format_sheets.the_list()["quantities"]["units"]:
        unit = find_unit(written)
        if unit is None:
            report.wrong(f"The unit {written} is not known.")
            continue
        for spelling in (written.lower(), written.upper(), written.title()):
            if find_unit(spelling, unit.dimension) != unit:
                report.wrong(f"The unit {spelling} is not read as {unit}.")


# -- example files -----------------------------------------------------------------------------------


def check_file(path: Path, kind: str, sheets: dict[str, Sheet], report: Report) -> None:
    """One example file: holds to its schema, quantities can be read; what it uses is noted."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    where = f"{path.parent.name}/{path.name}"
    report.files += 1
    for error in Draft202012Validator(schema(kind)).iter_errors(data):
        report.wrong(f"{where}: {error.json_path}: {error.message[:200]}")
    if kind != "readings":
        _use(sheets[kind], data, "", where, report)
        return
    for reading in data.get("reading", []):
        test = reading["test"]
        again = reading.get("of", "") if test == "hot-repeat" else ""
        if test not in sheets or again not in ("", *sheets):
            report.wrong(f"{where}: no test {test} {again}")
            continue
        rest = {key: value for key, value in reading.items() if not again or key in sheets[test].listed}
        _use(sheets[test], rest, "", where, report)
        if again:
            other = {key: value for key, value in reading.items() if key not in ("of", "test")}
            _use(sheets[again], other, "", where, report)
    top = {key: value for key, value in data.items() if key != "reading"}
    _use(sheets["readings"], top, "", where, report)


def _use(sheet: Sheet, table: dict[str, Any], prefix: str, where: str, report: Report) -> None:
    for name, value in table.items():
        if name == "as" and sheet.name == "car":
            report.used.add(("car_any_table", "as", value))
            continue
        path = prefix + name
        entry = sheet.listed.get(path)
        if entry is None:
            report.wrong(f"{where}: {path} is not in the list.")
            continue
        if isinstance(value, list) and "<list>" in entry.marks:
            report.used.add((sheet.name, path, "<list>"))
            for item in value:
                _use_one(sheet, path, entry, item, where, report)
        else:
            _use_one(sheet, path, entry, value, where, report)


def _use_one(sheet: Sheet, path: str, entry: Entry, value: Any, where: str, report: Report) -> None:
    form = ""
    if isinstance(value, dict):
        form = "<table>"
        if entry.words:  # names of a mapping
            for name, item in value.items():
                report.used.add((sheet.name, path, name))
                _use(sheet, item, f"{path}.*.", where, report)
        else:
            _use(sheet, value, f"{path}.", where, report)
    elif isinstance(value, list):
        form = "<rows>"
        for row in value:
            _use(sheet, row, f"{path}[].", where, report)
    elif isinstance(value, bool):
        form = "<flag>"
    elif isinstance(value, int | float):
        form = "<whole number>" if "<whole number>" in entry.sorts else "<number>"
    elif value in entry.words:
        form = value
    elif entry.dimension:
        form = f"<{entry.dimension}>"
        report.texts.append(value)
        if value != "none" and not _can_parse(sheet.coded[path], value):
            report.wrong(f"{where}: {path} = {value!r} cannot be read.")
    else:
        form = next((sort for sort in ("<path>", "<pulls>") if sort in entry.sorts), "<text>")
    if form not in entry.sorts and form not in entry.words and path != "test":
        report.wrong(f"{where}: {path} = {value!r} is not of a listed form.")
    report.used.add((sheet.name, path, form))


def check_use(sheets: dict[str, Sheet], report: Report) -> None:
    """Every key, word and way of writing is used by the files seen so far."""
    groups: dict[str, list[str]] = {t: group["ids"] for group in format_sheets.the_list()["test"] for t in group["ids"]}
    for sheet in sheets.values():
        common = format_sheets.the_list()["reading"] if sheet.name in groups else {}
        for path, entry in sheet.listed.items():
            # What several tests share need not be written once for each of them.
            users = list(sheets) if path in common else groups.get(sheet.name, [sheet.name])
            for form in [*entry.sorts, *entry.words, *(["<list>"] if "<list>" in entry.marks else [])]:
                if not any((user, path, form) in report.used for user in users) and path != "reading":
                    report.wrong(f"{sheet.name}: no example of {path} = {form}.")
        if sheet.name in groups and (sheet.name, "test", "<text>") not in report.used:
            report.wrong(f"{sheet.name}: no example of this test.")
    for word in format_sheets.the_list()["car_any_table"]["as"]:
        if ("car_any_table", "as", word) not in report.used:
            report.wrong(f"car: no example of as = {word}.")
    for form, pattern in format_sheets.the_list()["quantities"]["forms"].items():
        if not any(re.search(pattern, text) for text in report.texts):
            report.wrong(f"no example of a quantity written as {form}.")


def check_all(practice: Path | None) -> Report:
    """All checks; practice cases only where a folder is given."""
    report = Report()
    sheets = make_sheets(report)
    for sheet in sheets.values():
        check_keys(sheet, report)
        check_values(sheet, report)
        check_quantities(sheet, report)
    check_units(report)
    for path in sorted(FIXTURES.glob("*.toml")):
        check_file(path, path.name.split("-")[0], sheets, report)
    check_use(sheets, report)
    if practice is not None:
        for kind in ("car", "readings", "pulls"):
            for path in sorted(practice.glob(f"*/{kind}.toml")):
                check_file(path, kind, sheets, report)
    return report


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the checks; 0 when nothing is wrong, 1 otherwise."""
    parser = argparse.ArgumentParser(description="Compare the code with the list of the formats.")
    parser.add_argument("--practice", type=Path, default=practice_folder(), help="folder of practice cases")
    practice: Path = parser.parse_args(arguments).practice
    report = check_all(practice if practice.is_dir() else None)
    if not practice.is_dir():
        sys.stdout.write(f"No practice cases in {practice}: the fixtures alone were looked at.\n")
    for problem in report.problems:
        sys.stdout.write(f"{problem}\n")
    sys.stdout.write(f"{len(report.problems)} problems; {report.files} files, {len(report.used)} uses.\n")
    return 1 if report.problems else 0


if __name__ == "__main__":
    sys.exit(main())
