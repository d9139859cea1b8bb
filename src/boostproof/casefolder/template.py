"""The commented car.toml and readings.toml that a new case starts with, made from the keys themselves."""

from __future__ import annotations

import textwrap
from collections.abc import Collection
from pathlib import Path
from typing import Any

from boostproof.bench.readings import READING_TYPES, Gauge, Reading
from boostproof.car.spec import CarSpec
from boostproof.case_names import CAR, READINGS, RECORDINGS
from boostproof.errors import InputError
from boostproof.keys import Key, keys_of
from boostproof.units import accepted_units

_HEAD = """\
# What is known of one car. Fill in the lines that end in "must"; of the others take the # away where you
# know the value, and leave the rest as it is: what is left out counts as unknown.
#
# A quantity stands in quotes with its unit:
#   "22 psi"   "0.80 bar +/- 0.05 bar"   "11..14 psi"   "11 or 12 psi"   "about 14 psi"   "101.3 kPa abs"
# Pressures are gauge, against the air around, unless they say abs. Plain numbers, true and false stand
# without quotes. Values are as specified or as last known good unless the line says "as found"; any
# section may say otherwise for all its values with as = "found" or as = "specified".
"""

_READINGS_HEAD = """\
# What was read on the bench, in the order it was done. Nothing must be here: take the # away where you have
# a reading, write what you saw, and copy a [[reading]] for each further test. "none" means looked for and
# not seen. A test that could not be done is worth writing down too, with not_done.
#
# Before air is put on anything: engine off and cold, a regulator with a relief valve, begin at zero, eye
# protection on, hands clear of rod and lever. Full workshop pressure destroys a diaphragm. Where you are not
# sure of a step, leave it and write not_done = "unsafe".
"""
_SHOWN_TESTS = ("actuator-sweep", "free-travel", "intake-pressurise")


def car_template() -> str:
    """The text of a new car.toml: every key with its meaning and what it accepts."""
    parts = [_HEAD, "# version of this kind of file\nformat = 1\n"]
    for section, (_, key) in keys_of(CarSpec).items():
        if key.of is not None:
            parts.append(f"# {key.doc}\n[{section}]\n" + "".join(_lines(key.of)))
    return "\n".join(parts)


def readings_template() -> str:
    """The text of a new readings.toml: the gauge, a few tests with all their keys, and the ids of all."""
    parts = [_READINGS_HEAD, "# version of this kind of file\nformat = 1\n"]
    parts.append(f"# {_summary(Gauge)}\n#[gauge]\n" + "".join(_lines(Gauge)))
    parts += [_reading_block(test, with_common=test == _SHOWN_TESTS[0]) for test in _SHOWN_TESTS]
    others = ", ".join(test for test in READING_TYPES if test not in _SHOWN_TESTS)
    parts.append("".join(_remark("# ", f"Further tests (boostproof tests says what they are): {others}")))
    return "\n".join(parts)


def _reading_block(test: str, *, with_common: bool) -> str:
    """One [[reading]] to take over: its own keys, the common ones where wanted, then its tables."""
    spec = READING_TYPES[test]
    common = set(keys_of(Reading))
    tables = {name: key.of for name, (_, key) in keys_of(spec).items() if key.kind == "table" and key.of}
    lines = [*_remark("# ", _summary(spec)), f'#[[reading]]\n#test = "{test}"\n']
    lines += _lines(spec, common | set(tables))
    if with_common:
        lines += _lines(Reading, {"test", "gauge"})
    for name, table in tables.items():
        if name not in common:
            lines += [f"# {keys_of(spec)[name][1].doc}\n#[reading.{name}]\n", *_lines(table)]
    return "".join(lines)


def new_case(path: str | Path) -> Path:
    """Make a case folder with a commented car.toml and readings.toml and an empty folder for recordings.

    A readings.toml that is there already stays as it is.

    Parameters
    ----------
    path : the folder; made if it is not there

    Returns
    -------
    Path
        The car.toml that was written.

    Raises
    ------
    InputError
        If there is a car.toml already, the path is a file, or it cannot be written. Nothing is overwritten.
    """
    folder = Path(path)
    if folder.exists() and not folder.is_dir():
        raise InputError(
            f"{folder.name} is a file; a case is a folder.", kind="not-a-case", where=str(folder),
            do="Give the name of a folder.",
        )  # fmt: skip
    target = folder / CAR
    try:
        (folder / RECORDINGS).mkdir(parents=True, exist_ok=True)
        with target.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(car_template())
        if not (folder / READINGS).exists():
            with (folder / READINGS).open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(readings_template())
    except FileExistsError:
        raise InputError(
            "There is a car.toml in this folder already; it is left as it is.", kind="already-there",
            where=str(target), do="Give another folder, or move the old file away.",
        ) from None  # fmt: skip
    except OSError as error:
        raise InputError(
            f"The folder cannot be written ({error.strerror or 'no access'}).", kind="cannot-write",
            where=str(folder), do="Give a folder that you may write to.",
        ) from None  # fmt: skip
    return target


def _summary(spec: type[Any]) -> str:
    return (spec.__doc__ or "").split("\n")[0].replace("``", "").rstrip(".")


def _lines(spec: type[Any], skipped: Collection[str] = ("as",)) -> list[str]:
    lines: list[str] = []
    for name, (_, key) in keys_of(spec).items():
        if name in skipped:
            continue
        lines += _remark("# ", _meaning(key))
        if key.must:
            lines.append(f'{name} = ""  # must\n')
        elif key.of is not None:
            if key.kind == "quantity":
                lines.append(f"#{name} = {key.example}\n")
            lines += _inner(name, key)
        else:
            lines.append(f"#{name} = {key.example}\n")
    return lines


def _inner(name: str, key: Key) -> list[str]:
    """A table or list of tables on one line that can be taken over, and what its keys mean."""
    assert key.of is not None
    keys = [(inner, row) for inner, (_, row) in keys_of(key.of).items() if inner != "as"]
    # Clip files out of the example: a file that is named must be there.
    shown = ", ".join(f"{inner} = {row.example}" for inner, row in keys if row.kind not in {"path", "paths"})
    row_text = f"{{ {shown} }}"
    value = row_text if key.kind == "table" else f"[{row_text}]"
    lines = [line for inner, row in keys for line in _remark("#   ", f"{inner}: {_meaning(row)}")]
    return [*lines, f"#{name} = {value}\n"]


def _remark(mark: str, text: str) -> list[str]:
    """A remark, wrapped: a blank stands after its #, none after that of a key to take over."""
    wrapped = textwrap.wrap(
        text, 100, initial_indent=mark, subsequent_indent=mark + "  ", break_on_hyphens=False
    )
    return [line + "\n" for line in wrapped]


def _meaning(key: Key) -> str:
    accepted = _accepts(key)
    return f"{key.doc} ({accepted})" if accepted else key.doc


def _accepts(key: Key) -> str:
    """What may be written, in the words of the file."""
    words = ", ".join(f'"{word}"' for word in key.words)
    match key.kind:
        case "quantity":
            return ", ".join(accepted_units(key.dimension)) + (f"; or {words}" if words else "")
        case "choice":
            return ", ".join(key.choices)
        case "choices":
            return f"one or a list: {', '.join(key.choices)}"
        case "flag":
            return "true or false"
        case "number" | "integer":
            return "plain number"
        case "turns":
            return "plain number, or text"
        case _:
            return ""
