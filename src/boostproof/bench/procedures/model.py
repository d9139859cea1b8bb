"""What a procedure says, beside the model of its test: how it is done, safely, and what it shows."""

from __future__ import annotations

from dataclasses import dataclass

CAUTION_KINDS = ("air", "pinch", "thrown", "hot", "pull", "co", "gate", "electrical", "lift", "fuel", "law")


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    key : its name, by which tests and repairs ask for it
    kind : of `CAUTION_KINDS`
    says : the sentence, with pressures and the like as placeholders
    """

    key: str
    kind: str
    says: str


@dataclass(frozen=True)
class Fault:
    """What a faulty car shows in a test.

    Attributes
    ----------
    shows : what is seen
    causes : ids of the causes that usually show it
    """

    shows: str
    causes: tuple[str, ...]


@dataclass(frozen=True)
class Procedure:
    """How one test is done. All text may hold placeholders: see `boostproof.bench.procedures.fill`.

    Attributes
    ----------
    id, number, title : as in the catalogue
    purpose : one sentence
    minutes : usual time, from and to [min] (estimate)
    parts_off, tools : what comes off, what is used
    need : keys of ``[pull_place]`` that the shop must have
    cautions : in the order in which they are shown, before everything else
    connect : what is connected to what
    figure : name of the set-up drawing, empty where there is nothing to draw
    steps : in order
    write : how it is written down
    reading, pulls : an example of it in readings.toml, and in pulls.toml (empty where it is no pull)
    never : what is not done
    pointless : when it tells nothing
    sound, faults : what a sound car shows, and what usual faults show
    """

    id: str
    number: int
    title: str
    purpose: str
    minutes: tuple[float, float]
    parts_off: tuple[str, ...]
    tools: tuple[str, ...]
    need: tuple[str, ...]
    cautions: tuple[Caution, ...]
    connect: tuple[str, ...]
    figure: str
    steps: tuple[str, ...]
    write: str
    reading: str
    pulls: str
    never: tuple[str, ...]
    pointless: str
    sound: str
    faults: tuple[Fault, ...]
