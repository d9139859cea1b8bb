"""The columns of a map's table, checked row by row and then left alone."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

from boostproof.errors import InputRangeError

#: Name, the limits between which every value lies, and what to do where one does not.
Column: TypeAlias = tuple[str, float, float, str]


def refused(table: str, says: str, do: str = "") -> InputRangeError:
    """The error of a table that cannot be."""
    return InputRangeError(says, kind="range", where=table, do=do)


def check_columns(holder: Any, columns: tuple[Column, ...], table: str) -> None:
    """Turn fields of a frozen dataclass into read-only columns of one length; a field that is None stays so.

    Parameters
    ----------
    holder : the dataclass, in its ``__post_init__``
    columns : the first is the one whose length counts
    table : what it is, for messages

    Raises
    ------
    InputRangeError
        Naming the first row (counted from 1) with a value missing or out of range, or the column whose length
        differs.
    """
    length = columns[0][0]
    for name, low, high, do in columns:
        given = getattr(holder, name)
        if given is None:
            continue
        column = np.array(given, float)
        column.setflags(write=False)
        object.__setattr__(holder, name, column)
        if column.ndim != 1 or column.shape != getattr(holder, length).shape:
            raise refused(
                table,
                f"{name} has shape {column.shape}, {length} {getattr(holder, length).shape}; "
                "all columns must have one value for each row.",
            )
        wrong = np.flatnonzero(~((column > low) & (column < high)))  # NaN as well
        if wrong.size:
            row = int(wrong[0])
            says = f"row {row + 1}: {name} must lie between {low:g} and {high:g}, got {column[row]:g}."
            raise refused(table, says, do)
