"""Numbers for a plot as one block of bytes: a heading in JSON, then 32-bit floats as they are.

A browser takes such a block without reading text: the floats are laid over the bytes where they lie.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

_LITTLE = np.dtype("<f4")


@dataclass(frozen=True)
class Line:
    """One line of a plot.

    Attributes
    ----------
    key : what it is called among programs
    values : shape (n,), NaN where nothing is known
    about : more for the one who draws: its name for people, unit, digits, what it is part of
    """

    key: str
    values: NDArray[np.floating[Any]] = field(repr=False)
    about: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Block:
    """Lines that share one x.

    Attributes
    ----------
    x : shape (n,), rising
    lines : each of the length of x
    about : of x and of the whole
    """

    x: NDArray[np.floating[Any]] = field(repr=False)
    lines: tuple[Line, ...]
    about: Mapping[str, Any] = field(default_factory=dict)

    def pack(self) -> bytes:
        """Four bytes of length, the heading, zeros up to a multiple of four, then x and each line, little-endian.

        x is told from its first value on: far into a long recording a 32-bit float has no thousandths left.
        """
        start = float(self.x[0]) if len(self.x) else 0.0
        head = {
            **self.about,
            "count": len(self.x),
            "start": start,
            "lines": [{"key": line.key, **line.about} for line in self.lines],
        }
        text = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        rows = [np.asarray(self.x, float) - start, *(line.values for line in self.lines)]
        return b"".join([len(text).to_bytes(4, "little"), text, *(np.asarray(r, _LITTLE).tobytes() for r in rows)])

    def as_json(self) -> dict[str, Any]:
        """The same for programs that would rather read text; null where nothing is known."""
        return {
            **self.about,
            "x": _plain(self.x),
            "lines": [{"key": line.key, **line.about, "values": _plain(line.values)} for line in self.lines],
        }


def unpack(block: bytes) -> tuple[dict[str, Any], NDArray[np.float64], list[Floats]]:
    """Heading, x and the lines of a packed block."""
    length = int.from_bytes(block[:4], "little")
    head = json.loads(block[4 : 4 + length])
    count = int(head["count"])
    every = np.frombuffer(block, _LITTLE, offset=4 + length).reshape(-1, count) if count else np.zeros((1, 0))
    return head, head["start"] + every[0].astype(float), [np.asarray(row, np.float32) for row in every[1:]]


def _plain(values: NDArray[np.floating[Any]]) -> list[float | None]:
    return [float(v) if known else None for v, known in zip(values, np.isfinite(values), strict=True)]


def kept_rows(channels: Sequence[NDArray[np.floating[Any]]], count: int, points: int) -> NDArray[np.intp]:
    """Rows that show what any of the channels does, when all of them are drawn over one x.

    Each channel keeps its lowest and its highest sample in every even stretch, and all channels are drawn at the
    rows that one of them keeps: what stands under a cursor are samples of one moment, never a mean.

    Parameters
    ----------
    channels : each of shape (count,)
    count : rows
    points : about how many each channel keeps

    Returns
    -------
    shape (m,)
        Rows, rising, with the first and the last.
    """
    if count <= points:
        return np.arange(count)
    stretches = max(points // 2, 1)
    size = -(-count // stretches)
    kept = [np.array([0, count - 1])]
    for values in channels:
        padded = np.full(size * stretches, np.nan, np.float32)
        padded[:count] = values
        rows = padded.reshape(stretches, size)
        lost = np.isnan(rows)
        first = np.arange(stretches) * size
        for filler, extreme in ((np.inf, np.argmin), (-np.inf, np.argmax)):
            kept.append(first + extreme(np.where(lost, np.float32(filler), rows), axis=1))
    every = np.unique(np.concatenate(kept))
    return every[every < count]
