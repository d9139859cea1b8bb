"""What people write after ``--repair``, read as repairs with their sizes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches

from boostproof.diagnosis.causes.model import Fitted
from boostproof.errors import InputError
from boostproof.quantity import parse_quantity
from boostproof.repair.catalogue import CATALOGUE
from boostproof.repair.model import Chosen, Repair, Size

_ASIDE = {"a", "an", "the", "new", "bigger", "larger", "another", "with", "of", "to", "at", "set", "=", "for", "fit"}
_NUMBER = re.compile(r"(?:^|\s)(about\s+)?[+-]?(?:\d|[.,]\d|half\b)", re.IGNORECASE)
_TURNS = re.compile(
    r"^(?P<at>at\s+)?(?P<number>half|\d+(?:[.,]\d+)?|\d+/\d+)\s*(?:a\s+)?turns?\s*(?P<way>in|out)?$", re.IGNORECASE
)
_WHERE = "--repair"


def parse_repairs(written: Sequence[str], car: Fitted | None = None) -> tuple[Chosen, ...]:
    """Several repairs, done together.

    Parameters
    ----------
    written : such as "port 30 mm", "spring 12 psi", "controller 2 turns out", "line"
    car : what is fitted, so that a repair it cannot have is refused; None for any car

    Raises
    ------
    InputError
        If one cannot be read, cannot be done on this car, or is there twice.
    """
    chosen = tuple(parse_repair(text, car) for text in written)
    if not chosen:
        raise InputError(
            "No repair was named.", kind="no-repair", where=_WHERE, do=f"Such as {_examples(car)}."
        )
    for i, one in enumerate(chosen):
        if any(other.repair is one.repair for other in chosen[:i]):
            raise InputError(
                f'"{one.repair.id}" is there twice.', kind="repair-twice", where=_WHERE, do="Name each repair once."
            )
    return chosen


def parse_repair(written: str, car: Fitted | None = None) -> Chosen:
    """One repair.

    >>> one = parse_repair("controller 2 turns out")
    >>> one.repair.id, one.size, one.absolute
    ('controller', -2.0, False)
    >>> round(parse_repair("bigger port 30 mm").size, 4), parse_repair("hose").repair.id
    (0.03, 'line')
    """
    text = " ".join(written.split())
    words, amount = _split(text)
    repair = _named(words, text, car)
    if car is not None and not repair.applies(car):
        raise InputError(
            f'"{repair.title}" is nothing that this car can have done: it has no such part.',
            kind="repair-not-here", where=_WHERE, do=f"This car can have {_examples(car)}.",
        )  # fmt: skip
    if not amount:
        if repair.id == "external gate":  # a gate has a size, and none was there before
            raise _needs_size(repair)
        return Chosen(repair, written=text)
    if repair.size is None:
        raise InputError(
            f'"{repair.id}" comes in no sizes, "{amount}" means nothing to it.',
            kind="repair-size", where=_WHERE, do=f'Write --repair "{repair.id}".',
        )  # fmt: skip
    if repair.size.dimension == "turns":
        size, absolute = _turns(amount, repair)
        return _within(Chosen(repair, size, repair.size.tolerance, absolute, text))
    quantity = parse_quantity(amount, dimension=repair.size.dimension, where=_WHERE)
    if quantity.reference == "abs":
        raise InputError(
            f'"{amount}" is absolute; a spring works against the air around it.',
            kind="repair-size", where=_WHERE, do=f'Write it gauge, such as "{repair.id} {repair.size.example}".',
        )  # fmt: skip
    doubt = repair.size.tolerance if quantity.form == "exact" else max(quantity.sd, repair.size.tolerance)
    return _within(Chosen(repair, quantity.value, doubt, False, text))


def _split(text: str) -> tuple[str, str]:
    """Words, and the amount behind them; both may be empty."""
    found = _NUMBER.search(text)
    if found is None:
        return text, ""
    head, amount = text[: found.start()].strip(), text[found.start() :].strip()
    if head.casefold().endswith(" at"):
        return head[:-3].strip(), f"at {amount}"
    return head, amount


def _fold(text: str) -> str:
    return re.sub(r"[-_ ]+", " ", text.casefold()).strip()


def _names(car: Fitted | None = None) -> dict[str, Repair]:
    """Every word for every repair; where two share one, that of a car that can have it."""
    names: dict[str, Repair] = {}
    for repair in sorted(CATALOGUE, key=lambda r: car is not None and r.applies(car)):
        names |= {_fold(word): repair for word in repair.words}
    return names | {_fold(r.id): r for r in CATALOGUE}


def _named(words: str, text: str, car: Fitted | None) -> Repair:
    names = _names(car)
    asked = _fold(words)
    bare = " ".join(w for w in asked.split() if w not in _ASIDE)
    for name in (asked, bare):
        if name in names:
            return names[name]
    near = get_close_matches(bare or asked, names, 6, 0.5)
    ids = list(dict.fromkeys(names[n].id for n in near if car is None or names[n].applies(car)))[:3]
    nearest = f"Nearest: {', '.join(ids)}." if ids else f"Such as {_examples(car)}."
    raise InputError(
        f'No repair is called "{words or text}".', kind="unknown-repair", where=_WHERE,
        do=f"{nearest} All of them: {', '.join(r.id for r in CATALOGUE if car is None or r.applies(car))}.",
    )  # fmt: skip


def _turns(amount: str, repair: Repair) -> tuple[float, bool]:
    """Turns, and whether they count from slack; out counts down."""
    assert repair.size is not None
    match = _TURNS.match(amount)
    way = match["way"] if match else None
    if match is None or (bool(match["at"]) == bool(way)):
        raise InputError(
            f'"{amount}" is no setting of an adjuster.', kind="repair-size", where=_WHERE,
            do=f'Write "{repair.id} {repair.size.example}", "{repair.id} half a turn in", or from slack '
            f'"{repair.id} at 3 turns".',
        )  # fmt: skip
    number = match["number"].casefold().replace(",", ".")
    if number == "half":
        value = 0.5
    elif "/" in number:
        above, below = number.split("/")
        value = float(above) / max(float(below), 1.0)
    else:
        value = float(number)
    return (-value if way and way.casefold() == "out" else value), bool(match["at"])


def _within(chosen: Chosen) -> Chosen:
    """The same, where its size is one that can be."""
    size = chosen.repair.size
    assert size is not None and chosen.size is not None
    if not size.low <= chosen.size <= size.high:
        raise InputError(
            f'"{chosen.written}": {size.of} lies between {shown(size.low, size)} and {shown(size.high, size)}.',
            kind="repair-size", where=_WHERE, do=f'Such as "{chosen.repair.id} {size.example}".',
        )  # fmt: skip
    return chosen


def _needs_size(repair: Repair) -> InputError:
    assert repair.size is not None
    return InputError(
        f'"{repair.id}" needs its size.', kind="repair-size", where=_WHERE,
        do=f'Such as "{repair.id} {repair.size.example}".',
    )  # fmt: skip


def shown(value: float, size: Size) -> str:
    """A size as a person reads it, pressures in kPa.

    >>> from boostproof.repair.catalogue import PORT, TURNS
    >>> shown(0.030, PORT), shown(-2.0, TURNS)
    ('30 mm', '2 turns out')
    """
    if size.dimension == "length":
        return f"{1e3 * value:.4g} mm"
    if size.dimension == "pressure":
        return f"{value / 1e3:.3g} kPa"
    return turns(value)


def turns(value: float) -> str:
    """A change of an adjuster as a person says it.

    >>> turns(0.0), turns(1.0), turns(-2.5)
    ('as found', '1 turn in', '2.5 turns out')
    """
    many = "turn" if abs(value) == 1.0 else "turns"
    return "as found" if value == 0.0 else f"{abs(value):g} {many} {'in' if value > 0.0 else 'out'}"


def _examples(car: Fitted | None) -> str:
    able = [r for r in CATALOGUE if car is None or r.applies(car)]
    return ", ".join(f'"{r.id} {r.size.example}"' if r.size else f'"{r.id}"' for r in able[:4] + able[-8:-6])
