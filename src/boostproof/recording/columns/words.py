"""A header taken apart into words, and the concepts that they stand for.

A header becomes words, the words *concepts* (BOOST, PRESSURE, TARGET, ...), so that a new language costs one
word per concept instead of one row per channel and spelling. Compounds ("Ladedrucksollwert", "laddtryck") are
cut into the stems that `vocabulary` and `languages` know.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from boostproof.recording.columns.languages import entries
from boostproof.recording.columns.vocabulary import PHRASES, SAYS_NOTHING, SHORT, WORDS

# Letters that have no accent to take off.
_LETTERS = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "æ": "ae", "Æ": "Ae", "œ": "oe", "ı": "i", "đ": "d", "ð": "d"}
)
_HUMP = re.compile(r"(?<=[a-zäöüéèàñåæø])(?=[A-ZÄÖÜÅÆØ])|(?<=[A-Z][A-Z])(?=[A-Z][a-z])")
_DOTTED = re.compile(r"(?<![^\W_])(?:[^\W\d_]\.){2,}[^\W\d_]?(?![^\W_])")
_LONE_LAMBDA = re.compile(r"(?<![\u0370-\u03ff\u1f00-\u1fff])[λΛ](?![\u0370-\u03ff\u1f00-\u1fff])")
# A letter before a name says the quantity: nEng, pIntk, tExh, wThr; a habit of test benches, common practice.
_QUANTITY = re.compile(r"(dm|phi|[nptrwvumT])(?=[A-Z][A-Za-z])")
_LETTER = {
    "n": "rotation", "p": "pressure", "t": "temperature", "r": "position", "w": "position", "v": "speed",
    "u": "voltage", "m": "mass", "dm": "massflow", "phi": "position",
}  # fmt: skip


def fold(text: str) -> str:
    """Lower case, without accents: the form in which words are compared."""
    text = _LONE_LAMBDA.sub("lambda", text)
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_LETTERS))
    return "".join(sign for sign in plain if not unicodedata.combining(sign)).casefold()


def _tables() -> tuple[dict[str, frozenset[str]], dict[str, tuple[str, ...]]]:
    words: dict[str, set[str]] = {}
    stems: set[str] = set()
    for concept, text in WORDS.items():
        for word in text.split():
            words.setdefault(word.lstrip("="), set()).add(concept)
            if not word.startswith("=") and _is_stem(word):
                stems.add(word)
    for word, concepts in SHORT.items():
        words[word] = set(concepts.split())
        if len(word) >= 5:
            stems.add(word)
    ours = frozenset(words)
    for said, written, inside in entries():
        word = fold(written)
        if word not in ours:  # the table above knows a word of several meanings better
            before = words.get(word)
            words[word] = set(said if before is None else before & said or before | said)
        if inside and _is_stem(word):
            stems.add(word)
    by_first: dict[str, list[str]] = {}
    for stem in sorted(stems, key=lambda stem: (-len(stem), stem)):
        by_first.setdefault(stem[0], []).append(stem)
    return (
        {word: frozenset(concepts) for word, concepts in words.items()},
        {first: tuple(found) for first, found in by_first.items()},
    )


def _is_stem(word: str) -> bool:
    """Long enough to be told inside a compound; a sign of Chinese, Japanese or Korean says as much as a word."""
    return len(word) >= 4 or (bool(word) and _without_blanks(word[0]))


def _without_blanks(sign: str) -> bool:
    """A script written without blanks between words (Korean syllables come folded into their letters)."""
    return sign >= "\u2e80" or "\u1100" <= sign <= "\u11ff"


_WORD_CONCEPTS, _STEMS = _tables()
CONCEPTS = frozenset(WORDS)


def split_words(text: str) -> list[str]:
    """Words of a header: cut at signs, between lower and upper case, and between letters and digits."""
    text = re.sub(r"(?i)\ba\s*/\s*f\b", " afr ", text).replace("’", "'")
    text = _DOTTED.sub(lambda match: match[0].replace(".", "") + " ", text)  # I.A.T.
    text = re.sub(r"(?i)\bkąt\b", "angle", text)  # folded it would be a catalyst
    folded = fold(text)
    if any(re.search(phrase, folded) for phrase, _ in PHRASES):
        for phrase, plain in PHRASES:
            folded = re.sub(phrase, plain, folded)
        text = folded
    words: list[str] = []
    for token in re.split(r"[\s_'\-./|()\[\]{}<>,;:%°#*^]+", text):
        words += _token_words(token)
    if len(words) > 1 and words[0] == "t":
        words[0] = "temperature"  # a lone t is the time, before another word it is a temperature
    if len(words) > 1 and words[-1] == "in":
        words[-1] = "inlet"
    return words


def _token_words(token: str) -> list[str]:
    pieces = [piece for humps in _HUMP.split(token) for piece in _plain_words(fold(humps))]
    letter = _QUANTITY.match(token)
    if letter is not None and "".join(pieces) not in _WORD_CONCEPTS:
        named = _token_words(token[letter.end() :])
        if any(word_concepts(word) for word in named):
            return [_LETTER[letter[1].lower()], *named]
    words: list[str] = []
    while pieces:
        # A short name in camel case ("pLad") is looked up whole before it is taken apart.
        count = next((n for n in range(len(pieces), 1, -1) if "".join(pieces[:n]) in _WORD_CONCEPTS), 1)
        words.append("".join(pieces[:count]))
        pieces = pieces[count:]
    return words


def _plain_words(folded: str) -> list[str]:
    return re.findall(r"[^\W\d_]\d\b|[^\W\d_]+|\d+", folded)


@lru_cache(maxsize=4096)
def word_concepts(word: str) -> frozenset[str] | None:
    """Concepts of one folded word, None for an unknown word.

    A compound is cut from the left into the longest known stems; up to three letters between stems
    (the joints of compounds) do not count, more make the word unknown.
    """
    known = _WORD_CONCEPTS.get(word)
    if known is not None:
        return known
    found: set[str] = set()
    rest, covered = word, 0
    while rest:
        stem = next((stem for stem in _STEMS.get(rest[0], ()) if rest.startswith(stem)), None)
        if stem is None and found and len(rest) >= 4 and rest in _WORD_CONCEPTS:
            stem = rest  # a short name at the end: "kylvattentemp"
        if stem is None:
            rest = rest[1:]
            continue
        found |= _WORD_CONCEPTS[stem]
        covered += len(stem)
        rest = rest[len(stem) :]
    # Cyrillic and Greek words are listed without their endings.
    spare = max(3, len(word) // 4) if word.isascii() else max(5, (len(word) + 1) // 2)
    return frozenset(found) if found and len(word) - covered <= spare else None


@lru_cache(maxsize=4096)
def concepts_of(text: str) -> tuple[frozenset[str], int]:
    """(concepts, number of unknown words) of a header without its unit."""
    found: set[str] = set()
    unknown = 0
    for word in split_words(text):
        concepts = word_concepts(word)
        if concepts is not None:
            found |= concepts
        elif not word.isdigit() and len(word) > 2 and word not in SAYS_NOTHING:
            unknown += 1
    if "BOOST" in found and found & {"COOLER", "COMPRESSOR"} and not found & {"TEMPERATURE", "DUTY"}:
        found.add("PRESSURE")  # boost is itself a pressure, wherever along the pipe it is taken
    return frozenset(found), unknown
