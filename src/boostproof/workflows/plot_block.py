"""Numbers for a plot as one block of bytes: a heading in JSON, x as 32-bit floats, and each line in steps of 16 bits.

A browser takes such a block without reading text. A step of a line is its range by 65,534: no screen has as many
pixels, and a boost from -80 to 200 kPa is told to 0.002 kPa. A line in which few values lie far beyond all others, as
where a sensor fails for a moment, stays 32-bit floats, so that the others keep their figures.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

_LITTLE, _COUNTS = np.dtype("<f4"), np.dtype("<u2")
_HIGHEST, _UNKNOWN = 65_534, 65_535
_COARSE = 1e-3  # of the middle size of a line's values: steps larger than this would be seen


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
        """Four bytes of length, the heading, blanks up to a multiple of four, x, then each line, little-endian.

        x is told from its first value on: far into a long recording a 32-bit float has no thousandths left. Of each
        line the heading tells ``low`` and ``step``, and a count of steps follows for each x, 16 bits each; 65,535 is
        unknown. A line without a ``step`` follows as 32-bit floats.
        """
        start = float(self.x[0]) if len(self.x) else 0.0
        lines = [_packed(line.values) for line in self.lines]
        head = {
            **self.about,
            "count": len(self.x),
            "start": start,
            "lines": [
                {"key": line.key, **steps, **line.about} for line, (steps, _) in zip(self.lines, lines, strict=True)
            ],
        }
        text = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        x = np.asarray(np.asarray(self.x, float) - start, _LITTLE).tobytes()
        return b"".join([len(text).to_bytes(4, "little"), text, x, *(packed for _, packed in lines)])

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
    x = np.frombuffer(block, _LITTLE, count, 4 + length).astype(float)
    lines, at = [], 4 + length + 4 * count
    for line in head["lines"]:
        if "step" not in line:
            lines.append(np.frombuffer(block, _LITTLE, count, at).astype(np.float32))
            at += 4 * count
            continue
        counts = np.frombuffer(block, _COUNTS, count, at)
        values = line["low"] + line["step"] * counts.astype(float)
        lines.append(np.where(counts == _UNKNOWN, np.nan, values).astype(np.float32))
        at += 2 * count
    return head, head["start"] + x, lines


def _packed(values: NDArray[np.floating[Any]]) -> tuple[dict[str, float], bytes]:
    """``low`` and ``step`` of a line and its steps; nothing and its floats where few values lie far beyond the others."""
    every = np.asarray(values, float)
    known = np.isfinite(every)
    if not known.any():
        return {"low": 0.0, "step": 1.0}, np.full(every.shape, _UNKNOWN, _COUNTS).tobytes()
    low, high = float(every[known].min()), float(every[known].max())
    if (high - low) / _HIGHEST > _COARSE * float(np.median(np.abs(every[known]))):
        return {}, np.where(known, every, np.nan).astype(_LITTLE).tobytes()
    low, step = float(f"{low:.7g}"), float(f"{(high - low) / _HIGHEST:.7g}") or 1.0
    counts = np.clip(np.rint((np.where(known, every, low) - low) / step), 0, _HIGHEST)
    return {"low": low, "step": step}, np.where(known, counts, _UNKNOWN).astype(_COUNTS).tobytes()


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
