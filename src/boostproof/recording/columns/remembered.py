"""Answers about columns, remembered for every log with the same headers.

Pure: where they are kept is for `workflows.column_memory`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, cast

from boostproof.findings import Finding
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.words import fold
from boostproof.recording.model import ColumnChoice, Reference, Table

FORMAT = 1
WHY = "as answered before for logs with these columns"
_MANIFOLD = ("boost", "manifold_pressure")


def header_key(headers: Iterable[tuple[str, str]]) -> str:
    """A short name for a set of headers, the same in any order of the columns.

    Parameters
    ----------
    headers : (header, text of the units row) of every column

    Returns
    -------
    str
        16 hexadecimal digits.

    Examples
    --------
    >>> header_key([("RPM", ""), ("Boost", "psi")]) == header_key([("boost ", "PSI"), ("rpm", "")])
    True
    """
    lines = sorted(f"{' '.join(fold(h).split())}\t{' '.join(fold(u).split())}" for h, u in headers)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]


def key_of(table: Table) -> str:
    """`header_key` of a table."""
    return header_key((column.header, column.unit) for column in table.columns)


@dataclass(frozen=True)
class Remembered:
    """What was answered for one set of headers.

    Attributes
    ----------
    answers : columns by our channel names
    headers : the headers as they stood in the log, for people who look into the file
    """

    answers: Mapping[str, ColumnChoice]
    headers: tuple[str, ...] = field(default=())

    def with_answers(
        self, more: Mapping[str, ColumnChoice], headers: Iterable[str], why: str | None = WHY
    ) -> Remembered:
        """The same with further answers; a later one for a channel or a column takes the earlier one's place.

        Parameters
        ----------
        more : by our channel names
        headers : of the log that they were given for
        why : reason that they carry from now on; None leaves them theirs
        """
        columns = {choice.column for choice in more.values()}
        manifold = any(name in _MANIFOLD for name in more)
        kept = {
            name: choice
            for name, choice in self.answers.items()
            if name not in more and choice.column not in columns and not (manifold and name in _MANIFOLD)
        }
        fresh = {n: c if why is None else replace(c, why=why) for n, c in more.items()}
        return Remembered({**kept, **fresh}, tuple(headers))

    def as_dict(self) -> dict[str, Any]:
        """Plain dicts, lists and strings, as written to a file."""
        return {
            "format": FORMAT,
            "headers": list(self.headers),
            "channels": {
                name: {"column": c.column, "unit": c.unit, "reference": c.reference}
                for name, c in sorted(self.answers.items())
            },
        }

    @classmethod
    def from_dict(cls, kept: object) -> Remembered:
        """What `as_dict` wrote.

        Raises
        ------
        ValueError
            For anything else.
        """
        if not isinstance(kept, dict) or kept.get("format") != FORMAT:
            raise ValueError("not answers of this format")
        channels, headers = kept.get("channels"), kept.get("headers", [])
        if not isinstance(channels, dict) or not isinstance(headers, list):
            raise ValueError("channels and headers are missing")
        answers = {name: _choice(name, value) for name, value in channels.items()}
        return cls(answers, tuple(str(header) for header in headers))


def _choice(name: object, kept: object) -> ColumnChoice:
    if name not in BY_NAME or name == MANIFOLD_SENSOR or not isinstance(kept, dict):
        raise ValueError(f"{name!r} is not an answer")
    column, unit, reference = kept.get("column"), kept.get("unit"), kept.get("reference")
    if not isinstance(column, str) or not (unit is None or isinstance(unit, str)):
        raise ValueError(f"the answer for {name} names no column")
    if reference not in (None, "gauge", "abs"):
        raise ValueError(f"{reference!r} is neither gauge nor abs")
    return ColumnChoice(column, unit, cast("Reference | None", reference), WHY)


def still_open(
    remembered: Mapping[str, ColumnChoice], told: Mapping[str, ColumnChoice], table: Table
) -> dict[str, ColumnChoice]:
    """Remembered answers that nothing said now contradicts, and whose columns are there."""
    headers = {column.header for column in table.columns}
    columns = {choice.column for choice in told.values()}
    manifold = any(name in _MANIFOLD for name in told)
    return {
        name: choice
        for name, choice in remembered.items()
        if name not in told
        and choice.column in headers
        and choice.column not in columns
        and not (manifold and name in _MANIFOLD)
    }


def about_remembered(recalled: Mapping[str, ColumnChoice], file: str) -> tuple[Finding, ...]:
    """What came from memory, so that an answer can be had again without it."""
    if not recalled:
        return ()
    named = ", ".join(f"{name} = {describe(choice)}" for name, choice in sorted(recalled.items()))
    return (
        Finding(
            "remembered-columns",
            file,
            f"Taken as answered before for logs with these columns: {named}.",
            "To have it in the case itself, write it into pulls.toml under [recording.channels]; "
            "'boostproof inspect FILE --forget' takes it back.",
        ),
    )


def describe(choice: ColumnChoice) -> str:
    """A named column as it is typed: header, unit, reference."""
    parts = [choice.column, choice.unit, choice.reference]
    return '"' + ", ".join(part for part in parts if part) + '"'
