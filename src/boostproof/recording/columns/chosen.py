"""Columns that a person named in pulls.toml, found in the file."""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from boostproof.errors import InputError
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.words import fold
from boostproof.recording.model import ColumnChoice, Table


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
                where="pulls.toml: [recording.channels]",
                do=f"Did you mean {' or '.join(near)}?"
                if near
                else "See the channel names in the documentation.",
            )
        found[name] = (_find(table, choice.column), choice)
    return found


def _find(table: Table, header: str) -> int:
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
        where=f"{table.file}: [recording.channels] in pulls.toml",
        do=f"{hint}Columns seen: {seen}.",
    )
