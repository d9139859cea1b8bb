"""Edits of a TOML text that leave everything else as it stands: remarks, order, blanks, unknown keys.

An edit sets or clears one value by its dotted key (``"engine.redline"``, ``"history.changed.0.what"``).
The text around it is carried over byte for byte; no remark is ever lost. What was written is read again
and compared with what was meant, so that an edit is either right or refused.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import tomlkit

from boostproof.casefolder.lines import Heading, KeyPath, Places, places
from boostproof.errors import InputError, NotDoneError

__all__ = ["clear_value", "edit", "set_value", "value_at", "written"]


def key_path(key: str) -> KeyPath:
    """The path of a dotted key; whole numbers count the rows of a list from 0.

    >>> key_path("history.changed.0.what")
    ('history', 'changed', 0, 'what')
    """
    return tuple(int(part) if part.isdecimal() else part for part in key.split("."))


def edit(text: str, changes: Mapping[str, Any], order: Sequence[str] = ()) -> str:
    """Set and clear values.

    Parameters
    ----------
    text : the file as it stands; line ends and a byte order mark are kept
    changes : dotted key -> value as TOML has them, None to clear it. A key whose number is that of the
        next row of a list begins that row
    order : names of the tables in their usual order, for placing one that is not there yet

    Returns
    -------
    str
        The text with the values changed; the same text where nothing is new.

    Raises
    ------
    InputError
        If the text is no TOML.
    NotDoneError
        If a value cannot be put there (a table stands where a value is meant).

    Examples
    --------
    >>> print(edit('[engine]\\nredline = "6800 rpm"  # from the dash\\n', {"engine.redline": "7000 rpm"}))
    [engine]
    redline = "7000 rpm"  # from the dash
    <BLANKLINE>
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text[len(mark) :]
    for key, value in changes.items():
        body = _Edit(body, key_path(key), value, order).done()
    return mark + body


def set_value(text: str, key: str, value: Any, order: Sequence[str] = ()) -> str:
    """Set one value, see :func:`edit`."""
    return edit(text, {key: value}, order)


def clear_value(text: str, key: str) -> str:
    """Clear one value or table, see :func:`edit`; what is not there is cleared already."""
    return edit(text, {key: None})


def value_at(data: Any, key: str) -> Any:
    """The value under a dotted key of a file as read, None where there is none."""
    return _at(data, key_path(key))


def written(value: Any) -> str:
    """A value as it stands in a file, on one line.

    >>> written(["hot", "top gear"]), written({"rpm": "4000 rpm"})
    ('["hot", "top gear"]', '{ rpm = "4000 rpm" }')
    """
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(name)} = {written(item)}" for name, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(written(item) for item in value)}]"
    return str(tomlkit.item(value).as_string())


def _key(name: str) -> str:
    return str(tomlkit.key(name).as_string())


def _at(data: Any, path: KeyPath) -> Any:
    for part in path:
        if isinstance(part, int):
            if not isinstance(data, list) or part >= len(data):
                return None
            data = data[part]
        elif isinstance(data, dict):
            data = data.get(part)
        else:
            return None
    return data


def _same(one: Any, other: Any) -> bool:
    """Equal in value and kind; not a number equals itself here."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[name], other[name]) for name in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(_same(a, b) for a, b in zip(one, other, strict=True))
    return type(one) is type(other) and repr(one) == repr(other)


def _plainly(value: Any) -> Any:
    """A value as it is read again: mappings as dicts, sequences as lists."""
    if isinstance(value, Mapping):
        return {name: _plainly(item) for name, item in value.items()}
    return [_plainly(item) for item in value] if isinstance(value, list | tuple) else value


def _parse(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        raise InputError(
            f"The file cannot be read: {error}.", kind="not-toml", do="Mend it before it is edited here."
        ) from None


class _Edit:
    """One edit of one text."""

    def __init__(self, text: str, path: KeyPath, value: Any, order: Sequence[str]) -> None:
        self.text = text
        self.path = path
        self.value = _plainly(value)
        self.order = order
        self.data = _parse(text)
        self.newline = "\r\n" if re.search(r"\r\n", text) else "\n"

    def done(self) -> str:
        now = _at(self.data, self.path)
        if (now is None and self.value is None) or (now is not None and _same(now, self.value)):
            return self.text
        expected = self._expected()
        self.places: Places = places(self.text)
        new = self._cleared() if self.value is None else self._set(now)
        try:
            found = tomllib.loads(new)
        except ValueError:
            raise self._refusal() from None
        if not _same(found, expected):
            rows = _at(expected, self.path[:-1])
            if rows != [] or not _same(found, self._without_list(expected)):
                raise self._refusal()
        return new

    def _without_list(self, data: dict[str, Any]) -> dict[str, Any]:
        """The same without a list that an edit has emptied: with its last [[row]] it is gone."""
        above = _at(data, self.path[:-2])
        if isinstance(above, dict):
            above.pop(str(self.path[-2]), None)
        return data

    def _refusal(self) -> NotDoneError:
        name = ".".join(str(part) for part in self.path)
        return NotDoneError(
            f"{name} cannot be edited in this file without changing what stands around it.",
            kind="cannot-edit",
            do="Write it into the file by hand.",
        )

    def _expected(self) -> dict[str, Any]:
        data = copy.deepcopy(self.data)
        table: Any = data
        for part, following in zip(self.path[:-1], self.path[1:], strict=True):
            if isinstance(part, int):
                if not isinstance(table, list) or part > len(table):
                    raise self._refusal()
                if part == len(table):
                    table.append({})
                table = table[part]
            elif isinstance(table, dict):
                table = table.setdefault(part, [] if isinstance(following, int) else {})
            else:
                raise self._refusal()
        last = self.path[-1]
        if isinstance(last, int) and isinstance(table, list) and last <= len(table):
            table[last : last + 1] = [] if self.value is None else [self.value]
        elif isinstance(last, str) and isinstance(table, dict):
            table.pop(last, None)
            if self.value is not None:
                table[last] = self.value
        else:
            raise self._refusal()
        return data

    # -- setting ---------------------------------------------------------------------------------

    def _set(self, now: Any) -> str:
        if self.path in self.places.values:
            start, end = self.places.values[self.path]
            return self.text[:start] + written(self.value) + self.text[end:]
        if now is not None:  # a table under headings or dots gives way to one value
            self.text = self._cleared()
            self.places = places(self.text)
            self.data = _parse(self.text)
        depth = len(self.path) - 1
        while depth and _at(self.data, self.path[:depth]) is None:
            depth -= 1
        return self._inserted(self.path[:depth], self.path[depth:])

    def _inserted(self, above: KeyPath, below: KeyPath) -> str:
        """Put the value below a table or list that is there."""
        if above in self.places.values:
            return self._inserted_inline(above, below)
        heading = self._heading(above)
        rows = isinstance(_at(self.data, above), list)
        if not rows and (len(below) == 1 or (heading is None and self._dotted(above))):
            return self._inserted_pair(above, below, heading)
        return self._inserted_heading(above, below)

    def _inserted_inline(self, above: KeyPath, below: KeyPath) -> str:
        start, end = self.places.values[above]
        new = written(_nested(below[1:], self.value))
        if isinstance(below[0], str):
            new = f"{_key(below[0])} = {new}"
        ends = [span[1] for path, span in self.places.values.items() if path[: len(above)] == above != path]
        if ends:
            last = max(ends)
            return f"{self.text[:last]}, {new}{self.text[last:]}"
        inner = new if self.text[start] == "[" else f" {new} "
        return f"{self.text[: start + 1]}{inner}{self.text[end - 1 :]}"

    def _inserted_pair(self, above: KeyPath, below: KeyPath, heading: Heading | None) -> str:
        direct = [pair for pair in self.places.pairs if pair.table == above]
        dotted = [p for p in self.places.pairs if p.path[: len(above)] == above and len(p.table) < len(above)]
        if heading is None and dotted:
            # the table stands in dotted keys: so does the new one, beside them
            last = dotted[-1]
            names = (*last.path[len(last.table) : len(above)], *_before_row(below))
            new = f"{_dots(names)} = {written(_nested(below[len(_before_row(below)) :], self.value))}"
            return self._line_after(last.end, self._indent(last.start) + new)
        new = f"{_key(str(below[0]))} = {written(self.value)}"
        if heading is None and above:  # only longer headings name it
            first = next(h for h in self.places.headings if h.path[: len(above)] == above)
            return self._block_before(first.start, f"[{_dots(above)}]{self.newline}{new}")
        remark = self._remarked(str(below[0]), heading)
        if remark is not None:
            return self._line_after(remark, new)
        if direct:
            return self._line_after(direct[-1].end, self._indent(direct[-1].start) + new)
        if heading is not None:
            return self._line_after(heading.end, new)
        if self.places.headings:
            return self._block_before(self.places.headings[0].start, new)
        return self._line_after(len(self.text), new)

    def _remarked(self, name: str, heading: Heading | None) -> int | None:
        """Where a line ends in which the key is written as a remark (``#bore = "4 mm"``), if there is one."""
        start = heading.end if heading else 0
        after = [h.start for h in self.places.headings if h.start > start]
        stop = min(after, default=len(self.text))
        found = re.search(rf"^[ \t]*#[ \t]?{re.escape(name)}[ \t]*=[^\r\n]*", self.text[start:stop], re.M)
        if found is None:
            return None
        at = start + found.start()
        inside = any(a < at < b for a, b in self.places.values.values())
        return None if inside else start + found.end()

    def _inserted_heading(self, above: KeyPath, below: KeyPath) -> str:
        """A new ``[table]`` or ``[[row]]`` for a value whose table is not there."""
        table, last = (*above, *below[:-1]), below[-1]
        if isinstance(last, int):  # a whole row
            table, inside = (*table, last), self.value
            if not isinstance(inside, dict):
                raise self._refusal()
        else:
            inside = {last: self.value}
        rows = [i for i, part in enumerate(table) if isinstance(part, int) and i >= len(above)]
        if len(rows) > 1 or (rows and rows[0] != len(table) - 1):
            raise self._refusal()
        names = _dots(part for part in table if isinstance(part, str))
        head = f"[[{names}]]" if rows else f"[{names}]"
        lines = [head, *(f"{_key(name)} = {written(item)}" for name, item in inside.items())]
        return self._section(above, str(table[0]), self.newline.join(lines))

    def _section(self, above: KeyPath, top: str, block: str) -> str:
        """Put a section at the end of the table it belongs to, or in its usual place in the file."""
        if above:
            inside = [h for h in self.places.headings if h.path[: len(above)] == above]
            if not inside:
                raise self._refusal()
            return self._block_after(self._end_of(inside[-1]), block)
        before = self.order[: self.order.index(top)] if top in self.order else self.order
        there = [h for h in self.places.headings if not self.order or h.path[0] in before]
        if there:
            return self._block_after(self._end_of(there[-1]), block)
        if self.places.headings and top in self.order:
            return self._block_before(self.places.headings[0].start, block)
        return self._block_after(len(self.text.rstrip()), block)

    # -- clearing --------------------------------------------------------------------------------

    def _cleared(self) -> str:
        pairs = [pair for pair in self.places.pairs if pair.path[: len(self.path)] == self.path]
        if not pairs and self.path in self.places.values:
            return self._cleared_inside()
        headings = [h for h in self.places.headings if h.path[: len(self.path)] == self.path]
        under = [pair for pair in self.places.pairs if any(pair.table == h.path for h in headings)]
        text = self.text
        gone: set[tuple[int, int, bool]] = {(pair.start, pair.end, False) for pair in (*pairs, *under)}
        gone |= {(h.start, h.end, True) for h in headings}
        inline = not gone and [path for path in self.places.starts if path[: len(self.path)] == self.path]
        if inline:  # dotted keys inside braces
            raise self._refusal()
        for start, end, is_heading in sorted(gone, reverse=True):
            text = _without_line(text, start, end, blank_too=is_heading)
        return text

    def _cleared_inside(self) -> str:
        """Take a value out of its list or braces, with one comma; remarks between stay."""
        text = self.text
        start = self.places.starts.get(self.path, self.places.values[self.path][0])
        end = self.places.values[self.path][1]
        comma = _comma_after(text, end)
        if comma is not None:
            close = text[end:comma].strip(" \t") == ""
            rest = text[comma + 1 :]
            if close:
                return text[:start] + rest.lstrip(" \t")
            return text[:start] + text[end:comma] + rest
        before = [
            span[1]
            for path, span in self.places.values.items()
            if span[1] <= start and path[: len(self.path) - 1] == self.path[:-1]
        ]
        comma = _comma_after(text, max(before)) if before else None
        if comma is None:
            return text[:start].rstrip(" \t") + text[end:].lstrip(" \t")
        kept = text[comma + 1 : start]
        return text[:comma] + (kept if kept.strip() else "") + text[end:]

    # -- where things go -------------------------------------------------------------------------

    def _heading(self, path: KeyPath) -> Heading | None:
        return next((h for h in self.places.headings if h.path == path), None)

    def _dotted(self, path: KeyPath) -> bool:
        """Whether a table stands only in the dots of keys."""
        return bool(path) and not any(h.path[: len(path)] == path for h in self.places.headings)

    def _end_of(self, heading: Heading) -> int:
        """Where the last pair under a heading ends, or the heading itself."""
        following = [h.start for h in self.places.headings if h.start > heading.start]
        stop = min(following, default=len(self.text))
        return max([heading.end, *(p.end for p in self.places.pairs if heading.end <= p.start < stop)])

    def _indent(self, at: int) -> str:
        line = self.text[self.text.rfind("\n", 0, at) + 1 : at]
        return line if not line.strip() else ""

    def _line_after(self, at: int, line: str) -> str:
        """Put a line below the one that holds a place."""
        end = self.text.find("\n", at)
        if end >= 0:
            return f"{self.text[: end + 1]}{line}{self.newline}{self.text[end + 1 :]}"
        gap = self.newline if self.text and not self.text.endswith("\n") else ""
        return f"{self.text}{gap}{line}{self.newline}"

    def _block_after(self, at: int, block: str) -> str:
        gap = self.newline if self.text.strip() else ""
        return self._line_after(at, gap + block)

    def _block_before(self, at: int, block: str) -> str:
        """Put lines above a heading and the remarks that stand on it."""
        start = self.text.rfind("\n", 0, at) + 1
        while start:
            above = self.text.rfind("\n", 0, start - 1) + 1
            if not self.text[above:start].lstrip().startswith("#"):
                break
            if any(a < above < b for a, b in self.places.values.values()):
                break
            start = above
        return f"{self.text[:start]}{block}{self.newline}{self.newline}{self.text[start:]}"


def _dots(names: Iterable[str | int]) -> str:
    return ".".join(_key(name) for name in names if isinstance(name, str))


def _before_row(path: KeyPath) -> KeyPath:
    for i, part in enumerate(path):
        if isinstance(part, int):
            return path[:i]
    return path


def _nested(path: KeyPath, value: Any) -> Any:
    """The value inside the tables and rows that a path names."""
    for part in reversed(path):
        value = [value] if isinstance(part, int) else {part: value}
    return value


def _comma_after(text: str, at: int) -> int | None:
    match = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*").match(text, at)
    end = match.end() if match else at
    return end if text.startswith(",", end) else None


def _without_line(text: str, start: int, end: int, *, blank_too: bool) -> str:
    """Take out the lines of a pair or heading; a remark behind it stays as a line of its own."""
    stop = text.find("\n", end)
    stop = len(text) if stop < 0 else stop + 1
    rest = text[end:stop].lstrip(" \t")
    if rest.strip():
        return text[:start] + rest + text[stop:]
    first = text.rfind("\n", 0, start) + 1
    if blank_too:
        above = text.rfind("\n", 0, first - 1) + 1 if first else 0
        if first and not text[above:first].strip():
            first = above
    return text[:first] + text[stop:]
