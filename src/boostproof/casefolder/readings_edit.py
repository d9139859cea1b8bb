"""readings.toml written by a program: one reading added, changed or taken out, and all else left as it stands.

Comments, order, spelling of numbers and keys that a person wrote stay byte for byte, except inside of what is changed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from boostproof.casefolder.toml_file import toml_of
from boostproof.errors import InputError

Row = Mapping[str, Any]  # one [[reading]]: strings, numbers, flags, lists of strings, tables, lists of tables

_NEW = "format = 1\n"


def add_reading(text: str, row: Row) -> str:
    """The file with one more reading, which is the last taken.

    Parameters
    ----------
    text : of readings.toml, "" for none yet
    row : the reading, ``test`` first

    Raises
    ------
    InputError
        If the file lists its readings in a way to which nothing can be added.
    """
    old = text if text.strip() else _NEW
    end = "\r\n" if "\r\n" in old else "\n"
    kept = old if old.endswith("\n") else old + end
    new = kept + end + _as_text(row).replace("\n", end)
    try:
        count = len(toml_of(new)["reading"])
    except (tomllib.TOMLDecodeError, KeyError, TypeError):
        raise _unlike() from None
    if count != len(readings_in(text)) + 1:
        raise _unlike()
    return new


def change_reading(text: str, index: int, row: Row) -> str:
    """The file with one reading changed; what stands in it and not in ``row`` is taken out, but for its gauge.

    Raises
    ------
    InputError
        If there is no such reading, or it is written in a way that cannot be changed here.
    """
    document, listed = _listed(text, index)
    table = listed[index]
    for key in [k for k in table if k not in row and k != "gauge"]:
        del table[key]
    for key, value in row.items():
        _put(table, key, value)
    return _checked(str(document.as_string()))


def remove_reading(text: str, index: int) -> str:
    """The file without one reading.

    Raises
    ------
    InputError
        If there is no such reading.
    """
    document, listed = _listed(text, index)
    del listed[index]
    if not len(listed):
        del document["reading"]
    return _checked(str(document.as_string()))


def set_gauge(text: str, gauge: Row) -> str:
    """The file with the gauge described as given; keys that are not given are taken out."""
    import tomlkit

    document = tomlkit.parse(text if text.strip() else _NEW)
    if not gauge:
        document.pop("gauge", None)
        return _checked(str(document.as_string()))
    if "gauge" in document:
        table: Any = document["gauge"]
        for key in [k for k in table if k not in gauge]:
            del table[key]
        for key, value in gauge.items():
            _put(table, key, value)
        return _checked(str(document.as_string()))
    heading = "[gauge]\n" + "".join(f"{key} = {_value(value)}\n" for key, value in gauge.items())
    return _checked(_before_readings(text if text.strip() else _NEW, heading))


def readings_in(text: str) -> list[dict[str, Any]]:
    """The readings as they are written, in order.

    Raises
    ------
    InputError
        If the file is no TOML.
    """
    try:
        found = toml_of(text).get("reading", [])
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"readings.toml cannot be read: {error}.", kind="not-toml", where="readings.toml",
            do="Mend it on the page of the files of this job, or take a version from before.",
        ) from None  # fmt: skip
    rows = [found] if isinstance(found, dict) else found
    return [row for row in rows if isinstance(row, dict)]


def _before_readings(text: str, heading: str) -> str:
    lines = text.splitlines(keepends=True)
    at = next((i for i, line in enumerate(lines) if line.lstrip().startswith("[")), len(lines))
    while at and lines[at - 1].lstrip().startswith("#"):  # a remark above the first reading stays with it
        at -= 1
    before, after = "".join(lines[:at]), "".join(lines[at:])
    gap = "" if not before or before.endswith("\n\n") else "\n"
    return before + gap + heading + ("\n" + after if after else "")


def _listed(text: str, index: int) -> tuple[Any, Any]:
    import tomlkit
    from tomlkit.exceptions import ParseError

    try:
        document = tomlkit.parse(text)
    except ParseError as error:
        raise InputError(
            f"readings.toml cannot be read: {error}.", kind="not-toml", where="readings.toml",
            do="Mend the file first.",
        ) from None  # fmt: skip
    listed = document.get("reading")
    if not isinstance(listed, list):
        raise _unlike()
    if not 0 <= index < len(listed):
        raise InputError(
            f"There is no reading {index + 1}.", kind="no-reading", where="readings.toml",
            do="Load the page again: it may have been taken out elsewhere.",
        )  # fmt: skip
    return document, listed


def _put(table: Any, key: str, value: Any) -> None:
    import tomlkit

    old = table.get(key)
    if old is not None and _plain(old) == value:
        return
    if isinstance(value, Mapping):
        if old is None:
            new = tomlkit.table()
            for name, one in value.items():
                new.add(name, _item(one))
            table.add(key, new)
            return
        for name in [k for k in old if k not in value]:
            del old[name]
        for name, one in value.items():
            _put(old, name, one)
        return
    if old is None and any(isinstance(one, Mapping) for one in table.values()):
        _before_tables(table, key, value)
        return
    table[key] = _item(value)


def _before_tables(table: Any, key: str, value: Any) -> None:
    """A new key must stand above the tables of its reading, or it would belong to the last of them."""
    tables = {k: v for k, v in table.items() if isinstance(v, Mapping)}
    for name in tables:
        table.remove(name)
    table.add(key, _item(value))
    for name, kept in tables.items():
        table.add(name, kept)


def _item(value: Any) -> Any:
    import tomlkit

    if isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
        return tomlkit.parse(f"x = {_value(value)}\n")["x"]
    return tomlkit.item(value)


def _plain(item: Any) -> Any:
    return item.unwrap() if hasattr(item, "unwrap") else item


def _as_text(row: Row) -> str:
    """One ``[[reading]]`` as people write it: its own keys, then its tables."""
    lines = ["[[reading]]"]
    lines += [f"{key} = {_value(value)}" for key, value in row.items() if not isinstance(value, Mapping)]
    for key, value in row.items():
        if isinstance(value, Mapping):
            lines += ["", f"[reading.{key}]"] + [f"{name} = {_value(one)}" for name, one in value.items()]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    """A value as it stands in the file; the rows of a list of tables a line each."""
    from boostproof.casefolder.edit import written

    if isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
        return "[\n" + "".join(f"  {written(one)},\n" for one in value) + "]"
    return written(value)


def _checked(text: str) -> str:
    """What a library wrote must be TOML: this file is a person's work."""
    toml_of(text)
    return text


def _unlike() -> InputError:
    return InputError(
        "readings.toml does not list its readings under [[reading]], so that none can be added or changed here.",
        kind="unlike", where="readings.toml", do="Write each reading under a heading [[reading]], then try again.",
    )  # fmt: skip
