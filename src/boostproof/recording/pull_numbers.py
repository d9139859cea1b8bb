"""Some of the pulls of a recording, by their numbers: as ``3``, ``3-5``, ``3-`` (from the third on) or several of these."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

_SPAN = re.compile(r"(\d+)(?:\s*(-)\s*(\d+)?)?")


@dataclass(frozen=True)
class PullNumbers:
    """Numbers of pulls, counted from 1 as ``inspect`` counts.

    Attributes
    ----------
    spans : first and last of each run, in order and apart; the last of an open one is infinite
    """

    spans: tuple[tuple[int, float], ...] = ()

    def __contains__(self, number: int) -> bool:
        return any(first <= number <= last for first, last in self.spans)

    def __bool__(self) -> bool:
        return bool(self.spans)

    def __str__(self) -> str:
        return ", ".join(_written(first, last) for first, last in self.spans)

    def in_words(self) -> str:
        """As in a sentence: "pull 3", "pulls 2, 4 to 5, 7 on"."""
        many = len(self.spans) > 1 or any(first != last for first, last in self.spans)
        return f"pull{'s' if many else ''} " + ", ".join(
            f"{first} on" if last == inf else f"{first}" if first == last else f"{first} to {last:.0f}"
            for first, last in self.spans
        )

    def __or__(self, other: PullNumbers) -> PullNumbers:
        return _merged((*self.spans, *other.spans))

    def __sub__(self, other: PullNumbers) -> PullNumbers:
        left = list(self.spans)
        for first, last in other.spans:
            cut = []
            for a, b in left:
                if a < first:
                    cut.append((a, min(b, first - 1)))
                if b > last:
                    cut.append((max(a, int(last) + 1), b))
            left = cut
        return _merged(left)

    @property
    def every(self) -> bool:
        """Whether these are all pulls that there can be."""
        return self == ALL

    def first_beyond(self, count: int) -> int | None:
        """The first number that so many pulls do not reach; None where each run of them holds one. What is said of those
        that may follow the last is no mistake."""
        return next((first for first, last in self.spans if first > count + (last == inf)), None)

    def onward(self) -> PullNumbers:
        """From the first of them on."""
        return PullNumbers(((self.spans[0][0], inf),)) if self.spans else self


NONE = PullNumbers()
ALL = PullNumbers(((1, inf),))


def pull_numbers(written: int | str) -> PullNumbers | None:
    """What a person means by it; None where it means nothing.

    Examples
    --------
    >>> numbers = pull_numbers("2, 4-5,7-")
    >>> 3 in numbers, 5 in numbers, 99 in numbers, str(numbers)
    (False, True, True, '2, 4-5, 7-')
    """
    spans = []
    for part in str(written).split(","):
        match = _SPAN.fullmatch(part.strip())
        if match is None:
            return None
        first = int(match[1])
        last = inf if match[2] and not match[3] else float(match[3] or first)
        if not 1 <= first <= last:
            return None
        spans.append((first, last))
    return _merged(spans)


def _merged(spans: Iterable[tuple[int, float]]) -> PullNumbers:
    out: list[tuple[int, float]] = []
    for first, last in sorted(spans):
        if out and first <= out[-1][1] + 1:
            out[-1] = (out[-1][0], max(out[-1][1], last))
        else:
            out.append((first, last))
    return PullNumbers(tuple(out))


def _written(first: int, last: float) -> str:
    if last == inf:
        return f"{first}-"
    return str(first) if first == last else f"{first}-{last:.0f}"
