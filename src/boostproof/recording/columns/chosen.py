"""Columns that a person named, in pulls.toml or on the command line, found in the file."""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from boostproof.errors import InputError
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.two_units import names_both
from boostproof.recording.columns.words import fold
from boostproof.recording.model import ColumnChoice, Reference, Table
from boostproof.units import find_unit

_REFERENCES: dict[str, Reference] = {"gauge": "gauge", "abs": "abs", "absolute": "abs"}


def choose_columns(table: Table, columns: Mapping[str, ColumnChoice]) -> dict[str, tuple[int, ColumnChoice]]:
    """Column number for every named channel.

    Raises
    ------
    InputError
        For a channel or a header that does not exist, with the nearest right name.
    """
    found: dict[str, tuple[int, ColumnChoice]] = {}
    for name, choice in columns.items():
        if name not in BY_NAME or name == MANIFOLD_SENSOR:
            near = difflib.get_close_matches(
                name, [n for n in BY_NAME if n != MANIFOLD_SENSOR], n=2, cutoff=0.5
            )
            raise InputError(
                f'"{name}" is not a channel.',
                kind="unknown-channel",
                where="pulls.toml: [recording.channels]" if "pulls.toml" in choice.why else table.file,
                do=f"Did you mean {' or '.join(near)}?"
                if near
                else "See the channel names in the documentation.",
            )
        found[name] = (_find(table, choice.column, choice.why), choice)
    return found


def parse_choice(text: str) -> tuple[str, ColumnChoice]:
    """A column as typed: ``boost=Pressure 2, psi, gauge``.

    Parameters
    ----------
    text : our channel name, "=", the header, and perhaps its unit and "gauge" or "abs"

    Raises
    ------
    InputError
        If there is no channel name or no header.

    Examples
    --------
    >>> name, choice = parse_choice("boost=Pressure 2, psi, gauge")
    >>> name, choice.column, choice.unit, choice.reference
    ('boost', 'Pressure 2', 'psi', 'gauge')
    """
    name, equals, rest = text.partition("=")
    parts = [part.strip() for part in rest.split(",")]
    reference: Reference | None = None
    unit: str | None = None
    if len(parts) > 1 and parts[-1].casefold() in _REFERENCES:
        reference = _REFERENCES[parts.pop().casefold()]
    if len(parts) > 1 and (find_unit(parts[-1]) is not None or names_both(parts[-1])):
        unit = parts.pop()
    column = ", ".join(parts).strip(" ,")
    if not equals or not name.strip() or not column:
        raise InputError(
            f'"{text}" does not name a column.',
            kind="bad-column",
            where="--column",
            do='Write the channel, "=" and the header, then the unit and gauge or abs where the file does '
            'not say them, such as "boost=Pressure 2, psi, gauge".',
        )
    return name.strip(), ColumnChoice(column, unit, reference, "as named with --column")


def _find(table: Table, header: str, why: str) -> int:
    """The column with that header: as written, else ignoring case and blanks, else its first words."""
    headers = [column.header for column in table.columns]
    if header in headers:
        return headers.index(header)
    folded = ["".join(fold(h).split()) for h in headers]
    wanted = "".join(fold(header).split())
    if folded.count(wanted) == 1:
        return folded.index(wanted)
    starts = [index for index, h in enumerate(folded) if wanted and h.startswith(wanted)]
    if len(starts) == 1:
        return starts[0]
    near = difflib.get_close_matches(header, headers, n=2, cutoff=0.4)
    seen = ", ".join(f'"{h}"' for h in headers)
    hint = f"Did you mean {' or '.join(repr(h) for h in near)}? " if near else ""
    raise InputError(
        f'The file has no column "{header}".',
        kind="no-column",
        where=f"{table.file}: [recording.channels] in pulls.toml" if "pulls.toml" in why else table.file,
        do=f"{hint}Columns seen: {seen}.",
    )
