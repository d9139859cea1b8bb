"""Finding entries of a catalogue by words: pure text, no index."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches

_CLOSE = 0.82  # from which a misspelt word still counts
_WEIGHTS = (8.0, 6.0, 3.0, 2.0, 2.0, 1.0)  # of the fields, in their order
_WHOLE, _BEGINNING, _MISSPELT = 1.0, 0.7, 0.4
# Words of the trade for what the catalogue calls by another name.
_ALSO = {
    "wastegate": ("gate",), "flapper": ("gate",), "poppet": ("gate",), "hose": ("line",), "line": ("hose",),
    "can": ("actuator",), "intercooler": ("cooler",), "overboost": ("high", "runs", "climbs", "creep"),
    "underboost": ("low", "late"), "lag": ("late", "slow"), "cat": ("exhaust",), "downpipe": ("exhaust",),
    "blowoff": ("recirculation", "bypass"), "mbc": ("controller",),
}  # fmt: skip
_SMALL = {"a", "an", "and", "at", "by", "for", "in", "is", "it", "of", "on", "or", "the", "to", "with"}


@dataclass(frozen=True)
class Entry:
    """What is searched of one entry.

    Attributes
    ----------
    id, number : found exactly, before everything else
    fields : text, the weightiest first; the first is the id
    """

    id: str
    number: str
    fields: tuple[str, ...]


def search(entries: Sequence[Entry], words: str) -> tuple[list[str], list[str]]:
    """Ids of the entries that hold all words, best first; where none does, nothing and the nearest ids.

    An id or a number written out finds its entry alone. A word counts as a whole, as a beginning, or, less,
    misspelt; more in an id or title than further down. Ties keep the order of the catalogue.

    Parameters
    ----------
    entries : in catalogue order
    words : as a person writes them

    Returns
    -------
    tuple of two lists
        Found ids; and ids that look like the words, where nothing was found.

    Examples
    --------
    >>> shelf = [Entry("spring-weak", "F28", ("spring-weak", "Spring weak")),
    ...          Entry("port-too-small", "F1", ("port-too-small", "Gate port too small"))]
    >>> search(shelf, "F1"), search(shelf, "smal port"), search(shelf, "sprung")
    ((['port-too-small'], []), (['port-too-small'], []), (['spring-weak'], []))
    >>> search(shelf, "piston")
    ([], [])
    """
    plain = "-".join(_words(words))
    exact = [e.id for e in entries if plain in (e.id, e.number.casefold())]
    if exact:
        return exact, []
    wanted = [word for word in _words(words) if word not in _SMALL]
    scores = {e.id: _score([_words(text) for text in e.fields], wanted) for e in entries}
    found = sorted((i for i in scores if scores[i] > 0.0), key=lambda i: -scores[i])
    return found, [] if found else get_close_matches(plain, list(scores), 3, 0.5)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _score(fields: list[list[str]], wanted: list[str]) -> float:
    """Sum over the words of their best place; zero where one of them is nowhere."""
    best = [
        max(
            (
                weight * max(_likeness(meant, held) for meant in (word, *_ALSO.get(word, ())))
                for weight, field in zip(_WEIGHTS, fields, strict=False)
                for held in field
            ),
            default=0.0,
        )
        for word in wanted
    ]
    return sum(best) if wanted and min(best) > 0.0 else 0.0


def _likeness(word: str, held: str) -> float:
    if word == held:
        return _WHOLE
    if len(word) >= 3 and held.startswith(word):
        return _BEGINNING
    near = len(word) >= 4 and SequenceMatcher(None, word, held).ratio() >= _CLOSE
    return _MISSPELT if near else 0.0
