"""The answers of the Car page: how each is asked, what is told of it, how it is understood, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from boostproof.web import car_form
from boostproof.web.understood import Understood, answer_understood, said_of, wrong
from boostproof.web.words import keys, t
from boostproof.workflows.bench_form import NO, YES
from boostproof.workflows.car_answer import Said, key_at
from boostproof.workflows.car_changes import Conflict
from boostproof.workflows.car_sheet import Sheet, rows_in

_KEYS = keys()


@dataclass(frozen=True)
class Option:
    """One word to choose: as kept, as read, and the name of its drawing where it has one."""

    value: str
    text: str
    chosen: bool
    picture: str = ""


@dataclass(frozen=True)
class Answer:
    """One answer on the page.

    Attributes
    ----------
    name : dotted key in car.toml
    form : "line" (understood as it is typed), "text", "lines", "options", "several", "opens" or "file"
    label, help : as shown
    said : as kept or typed, "" for nothing
    options : words to choose from, where it is a choice
    words : words that may stand in place of a quantity
    steps : of its stepper, "" for none; ``start`` where it begins
    understood : how it is understood, or what is wrong with it
    theirs : what someone else saved meanwhile, None where nobody did
    needed : a verdict needs it, and it is not told
    worth : what knowing it would save
    """

    name: str
    form: str
    label: str
    help: str
    said: str
    options: tuple[Option, ...] = ()
    words: tuple[str, ...] = ()
    steps: str = ""
    start: str = ""
    understood: Understood | None = None
    theirs: str | None = None
    needed: bool = False
    worth: str = ""


@dataclass(frozen=True)
class AnswerRow:
    """One row of a list; ``new`` for the empty one that adds a row."""

    legend: str
    answers: tuple[Answer, ...]
    new: bool


@dataclass(frozen=True)
class AnswerRows:
    """A list of rows: what changed, what was tried, boost wanted over engine speed."""

    name: str
    label: str
    help: str
    add: str
    rows: tuple[AnswerRow, ...]
    form: str = "rows"


@dataclass(frozen=True)
class PartOfCar:
    """One part of the system: its answers, one line of what is told, and whether it stands open."""

    name: str
    title: str
    says: str
    open: bool
    answers: tuple[Answer | AnswerRows, ...]


@dataclass(frozen=True)
class Typed:
    """What was typed and not saved."""

    values: Mapping[str, Said] = field(default_factory=dict)
    wrong: Mapping[str, Understood] = field(default_factory=dict)
    conflicts: tuple[Conflict, ...] = ()
    file: str | None = None
    file_wrong: str = ""


def label_of(name: str) -> str:
    """What an answer is called on the page."""
    return t(f"car.label.{_words_of(name)}")


def _help_of(name: str) -> str:
    """What says more than the label, "" where nothing needs to."""
    key = f"car.help.{_words_of(name)}"
    return t(key) if key in _KEYS else ""


def _words_of(name: str) -> str:
    """The key of an answer's words: a list's rows have their own table, "as" means the same everywhere."""
    parts = name.split(".")
    if parts[-1] == "as":
        return "as"
    rows = [f"{one}_row" if after.isdecimal() else one for one, after in zip(parts, [*parts[1:], ""], strict=True)]
    return ".".join(part for part in rows if not part.isdecimal())


class Asker:
    """Makes the answers of one page, and remembers which were asked and what is wrong with them."""

    def __init__(self, sheet: Sheet, typed: Typed, units: str, worth: Mapping[str, str]) -> None:
        self.sheet = sheet
        self.values = {**sheet.values, **typed.values}
        self.typed = typed
        self.units = units
        self.worth = worth
        self.theirs = {one.name: one.theirs for one in typed.conflicts}
        self.asked: set[str] = set()
        self.wrong: dict[str, str] = {}

    def part(self, part: car_form.Part, *, open_too: bool = False) -> PartOfCar:
        """One part of the system; it stands open where something is wrong in it, or ``open_too``."""
        before = len(self.wrong)
        answers = tuple(
            self.rows(name, car_form.ROWS[name]) if name in car_form.ROWS else self.answer(name) for name in part.answers
        )
        theirs = any(one.theirs is not None for one in _flat(answers))
        is_open = open_too or theirs or len(self.wrong) > before
        return PartOfCar(part.name, t(f"car.part.{part.name}.title"), self._says(answers), is_open, answers)

    def _says(self, answers: tuple[Answer | AnswerRows, ...]) -> str:
        told = [one for one in _flat(answers) if one.said]
        if not told:
            return t("car.nothing_told")
        some = [f"{one.label}: {_read(one)}" for one in told[:2]]
        more = len(told) - len(some)
        return " · ".join(some) + (f" · {t('car.and_more', n=more)}" if more else "")

    def rows(self, name: str, table: str) -> AnswerRows:
        """A list of rows with an empty one after them."""
        kept = rows_in(self.values, table)
        words = table.replace(".", "_")
        rows = tuple(
            AnswerRow(
                t("car.row_legend", what=t(f"car.rows.{words}"), n=number + 1),
                tuple(self.answer(f"{table}.{number}.{inner}") for inner in car_form.answers_of(table)),
                number == kept,
            )
            for number in range(kept + 1)
        )
        label = label_of(f"{table}.0.title") if name != table else label_of(table)
        help_text = "" if name != table else _help_of(table)
        return AnswerRows(name, label, help_text, t(f"car.row_new_for.{words}"), rows)

    def answer(self, name: str) -> Answer:
        """One answer as it stands or was typed."""
        said = self.values.get(name, ())
        self.asked.add(name)
        understood = self._understood(name, said)
        if understood is not None and not understood.ok:
            self.wrong[name] = f"{label_of(name)}: {understood.says}"
        theirs = self.theirs.get(name)
        return _answer(
            name, tuple(said), understood, None if theirs is None else _shown(name, theirs),
            needed=name in self.sheet.missing, worth=self.worth.get(name, ""),
        )  # fmt: skip

    def _understood(self, name: str, said: Said) -> Understood | None:
        if name in self.typed.wrong:
            return self.typed.wrong[name]
        if name in self.sheet.problems and name not in self.typed.values:
            return wrong(name, self.sheet.problems[name])
        return answer_understood(name, said, self.units) if said and key_at(name).kind != "text" else None


@lru_cache(maxsize=4096)  # most answers of a car are not told yet, and look alike for every car
def _answer(
    name: str, said: Said, understood: Understood | None, theirs: str | None, *, needed: bool, worth: str
) -> Answer:
    key, form = key_at(name), _form_of(name)
    example = key.example.strip('[]"')
    return Answer(
        name=name,
        form=form,
        label=label_of(name),
        help=_help(name, example if form in ("line", "text") and not said else ""),
        said="\n".join(said) if form != "options" else (said[-1] if said else ""),
        options=_options(name, said) if form in ("options", "several", "opens") else (),
        words=key.words,
        steps=car_form.steps_of(name) if form == "line" else "",
        start=example,
        understood=understood,
        theirs=theirs,
        needed=needed,
        worth=worth,
    )


def _flat(answers: tuple[Answer | AnswerRows, ...]) -> list[Answer]:
    found: list[Answer] = []
    for one in answers:
        found += [one] if isinstance(one, Answer) else [inner for row in one.rows for inner in row.answers]
    return found


def _read(one: Answer) -> str:
    """An answer in a line of text."""
    chosen = ", ".join(option.text for option in one.options if option.chosen and option.value)
    return chosen or one.said.replace("\n", ", ")


def _shown(name: str, said: Said) -> str:
    return ", ".join(said_of(one) for one in said) or t("car.nothing")


def _form_of(name: str) -> str:
    if car_form.without_row(name) in car_form.OPENS:
        return "opens"
    if name in car_form.LONG:
        return "lines"
    return {
        "quantity": "line", "number": "line", "integer": "line", "turns": "line", "flag": "options", "choice": "options",
        "choices": "several", "texts": "lines", "path": "file", "paths": "file",
    }.get(key_at(name).kind, "text") if not key_at(name).open else "text"  # fmt: skip


def _options(name: str, said: Said) -> tuple[Option, ...]:
    key = key_at(name)
    words = (YES, NO) if key.kind == "flag" else key.choices
    drawn = car_form.without_row(name) in car_form.DRAWN
    options = tuple(
        Option(word, said_of(word), word in said, word.replace(" ", "-") if drawn else "") for word in words
    )
    if key.must or key.kind == "choices":
        return options
    nothing = t("car.not_said") if name.endswith(".as") else t("car.not_known")
    return (*options, Option("", nothing, not any(option.chosen for option in options)))


def _help(name: str, example: str) -> str:
    such = t("car.such_as", example=example) if example else ""
    return ", ".join(part for part in (_help_of(name), such) if part)
