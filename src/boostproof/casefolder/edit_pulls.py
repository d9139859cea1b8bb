"""pulls.toml with one thing changed: everything else, remarks and order too, stays as somebody wrote it.

Pure: text in, text out. What comes out was read back and holds no mistake.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from boostproof.case_names import PULLS
from boostproof.casefolder.checks import check_pulls
from boostproof.casefolder.files import read_pulls
from boostproof.casefolder.lines import line_index
from boostproof.casefolder.toml_file import TomlFile, toml_of
from boostproof.errors import InputError
from boostproof.keys import Key, keys_of
from boostproof.recording.setup import RecordingSetup, SetUp

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import Table

    from boostproof.recording.model import ColumnChoice

_MANIFOLD = frozenset({"boost", "manifold_pressure"})


def with_columns(text: str, file: str, choices: Mapping[str, ColumnChoice]) -> str:
    """Columns of a recording named by a person.

    Parameters
    ----------
    text : of pulls.toml, empty where there is none
    file : of the recording, relative to the case folder
    choices : by our channel names; each takes the place of what stood for its channel and for its column

    Raises
    ------
    InputError
        If the text cannot be read, or would not be a right pulls.toml afterwards.
    """

    def change(entry: Table) -> None:
        channels = _table(entry, "channels")
        for name, choice in choices.items():
            rivals = _MANIFOLD - {name} if name in _MANIFOLD else frozenset()
            for other in list(channels):
                same = other != name and str(channels[other].get("column")) == choice.column
                if other in rivals or same:
                    del channels[other]
            channels[name] = _inline(
                {"column": choice.column, "unit": choice.unit or None, "reference": choice.reference}
            )

    return _changed(text, file, change)


def without_column(text: str, file: str, channel: str) -> str:
    """What was said about a channel taken back (errors as `with_columns`)."""

    def change(entry: Table) -> None:
        channels = entry.get("channels")
        if channels is not None and channel in channels:
            del channels[channel]
            if not channels:
                del entry["channels"]

    return _changed(text, file, change)


def with_set_up(text: str, file: str, said: Mapping[str, str]) -> str:
    """How the car stood during a recording.

    Parameters
    ----------
    text, file : as in `with_columns`
    said : keys of ``[[recording]]`` (gear, source, note, smoothing, …) and of its set_up (controller, gate,
        turns_in, duty, …) as people write their values; an empty text takes the key away

    Raises
    ------
    InputError
        As `with_columns`; a value that is not one is named by its key.
    """
    own = {name: key for name, (_, key) in keys_of(RecordingSetup).items() if key.of is None}
    inner = {name: key for name, (_, key) in keys_of(SetUp).items()}

    def change(entry: Table) -> None:
        for name, value in said.items():
            if name in inner:
                _put(_table(entry, "set_up"), name, inner[name], value)
            elif name in own and name != "file":
                _put(entry, name, own[name], value)
        if "set_up" in entry and not entry["set_up"]:
            del entry["set_up"]

    return _changed(text, file, change)


def with_excluded(text: str, file: str, from_s: float, to_s: float, why: str = "") -> str:
    """A stretch of a recording left out (errors as `with_columns`)."""

    def change(entry: Table) -> None:
        import tomlkit

        stretch = _inline({"from": round(from_s, 3), "to": round(to_s, 3), "why": why.strip() or None})
        if "excluded" not in entry:
            entry["excluded"] = tomlkit.array()
        entry["excluded"].append(stretch)

    return _changed(text, file, change)


def without_excluded(text: str, file: str, number: int) -> str:
    """A stretch taken in again, by its place from 0 (errors as `with_columns`)."""

    def change(entry: Table) -> None:
        stretches = entry.get("excluded")
        if stretches is not None and 0 <= number < len(stretches):
            del stretches[number]
            if not stretches:
                del entry["excluded"]

    return _changed(text, file, change)


def without_recording(text: str, file: str) -> str:
    """Everything said about a recording taken away, as its file is (errors as `with_columns`)."""
    document = _parsed(text)
    entries = document.get("recording")
    if entries is None:
        return text
    for place in reversed(range(len(entries))):
        entry = entries[place]
        if entry.get("file") == file:
            del entries[place]
        elif "joined_with" in entry:
            _unjoin(entry, file)
    if not len(entries):
        del document["recording"]
    return _checked(document.as_string())


def _unjoin(entry: Table, file: str) -> None:
    beside = entry["joined_with"]
    others = [name for name in ([beside] if isinstance(beside, str) else beside) if name != file]
    if others:
        entry["joined_with"] = others
    else:
        del entry["joined_with"]


def _changed(text: str, file: str, change: Callable[[Table], None]) -> str:
    document = _parsed(text)
    change(_entry(document, file))
    return _checked(document.as_string())


def _parsed(text: str) -> TOMLDocument:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text if text.strip() else "format = 1\n")
    except TOMLKitError as error:
        raise InputError(
            f"{PULLS} is not written as it should be: {error}.", kind="not-toml", where=PULLS,
            do="Mend that line, or remove the file; older versions are kept.",
        ) from None  # fmt: skip


def _checked(text: str) -> str:
    """The text, if it is a right pulls.toml."""
    pulls, reader = read_pulls(TomlFile(PULLS, toml_of(text), line_index(text), text.encode()))
    if not reader.problems:
        check_pulls(pulls, reader)
    reader.finish()
    return text


def _entry(document: TOMLDocument, file: str) -> Table:
    """What stands about a recording; made at the end where nothing does."""
    import tomlkit

    if "recording" not in document:
        document["recording"] = tomlkit.aot()
    entries: Any = document["recording"]
    for entry in entries:
        if entry.get("file") == file:
            found: Table = entry
            return found
    made = tomlkit.table()
    made["file"] = file
    entries.append(made)
    last: Table = entries[-1]
    return last


def _table(entry: Table, name: str) -> Any:
    import tomlkit

    if name not in entry:
        entry[name] = tomlkit.table()
    return entry[name]


def _inline(values: Mapping[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    table.update({name: value for name, value in values.items() if value is not None})
    return table


def _put(table: Any, name: str, key: Key, value: str) -> None:
    """One key as a person wrote it: plain numbers without quotes, everything else as text."""
    value = value.strip()
    if not value:
        table.pop(name, None)
    elif key.kind == "flag":
        table[name] = value in ("true", "yes")
    elif key.kind in ("integer", "number", "turns") and _number(value) is not None:
        table[name] = _number(value)
    else:
        table[name] = value


def _number(value: str) -> float | int | None:
    for kind in (int, float):
        try:
            return kind(value)
        except ValueError:
            continue
    return None
