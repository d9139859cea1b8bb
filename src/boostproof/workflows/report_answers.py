"""The report of a job as one plain document: what the PDF, the page and the JSON all are made of.

All text is as it is read; nothing in it is markup. Figures are SVG with letters as paths.
"""

from __future__ import annotations

from typing import Literal, TypedDict


class TextAnswer(TypedDict):
    """One paragraph; lead marks the sentence that a section comes down to."""

    kind: Literal["text"]
    says: str
    lead: bool


class ListAnswer(TypedDict):
    """Sentences under a head, which may be empty; cautions are to be read first."""

    kind: Literal["list"]
    head: str
    mark: Literal["dot", "caution"]
    says: list[str]


class PairAnswer(TypedDict):
    """What something is called, and what it is."""

    name: str
    says: str


class PairsAnswer(TypedDict):
    """Names with what belongs to them."""

    kind: Literal["pairs"]
    rows: list[PairAnswer]


class TableAnswer(TypedDict):
    """A table; every row has as many cells as there are heads, and note says how to read it."""

    kind: Literal["table"]
    title: str
    heads: list[str]
    rows: list[list[str]]
    note: str


class ShareAnswer(TypedDict):
    """One answer of a ranking; share (0 to 1) is as it may be shown, null where only the order can be trusted."""

    name: str
    says: str
    share: float | None


class RankingAnswer(TypedDict):
    """What it may be, most probable first."""

    kind: Literal["ranking"]
    title: str
    rows: list[ShareAnswer]


class FigureAnswer(TypedDict):
    """A drawing with its caption, and what it shows for those who do not see it."""

    kind: Literal["figure"]
    title: str
    alt: str
    svg: str
    width: int
    height: int


class SignAnswer(TypedDict):
    """Places for name, date and signature; filled says what is already known."""

    kind: Literal["sign"]
    rows: list[PairAnswer]


BlockAnswer = (
    TextAnswer | ListAnswer | PairsAnswer | TableAnswer | RankingAnswer | FigureAnswer | SignAnswer
)


class SectionAnswer(TypedDict):
    """One part of the report; done is false where it was not done, and then its text says so."""

    id: Literal[
        "short", "car", "pulls", "bench", "verdict", "done", "forecast", "proof", "cautions", "not-tested", "sign-off"
    ]
    title: str
    done: bool
    blocks: list[BlockAnswer]


class ReportAnswer(TypedDict):
    """The report of a job, also the answer of ``boostproof report CASE --json``. dated: as it was given, else empty;
    case: hash of all that was read."""

    format: Literal[1]
    language: Literal["en"]
    title: str
    car: str
    shop: str
    made_for: Literal["customer", "shop"]
    dated: str
    units: str
    seed: int
    version: str
    case: str
    sections: list[SectionAnswer]
    written: list[str]
