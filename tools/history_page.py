"""The page docs/history.md, made from the table: ``python -m tools.history_page`` writes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from boostproof.diagnosis.causes import CATALOGUE
from boostproof.diagnosis.history import table as table
from boostproof.diagnosis.history.evidence import HIGHEST_ALONE

PAGE = Path(__file__).resolve().parent.parent / "docs" / "history.md"

_INTRO = """<!-- Made by tools/history_page.py; changes here are lost. -->
# What was said

`[history]` of car.toml holds what the customer and the job sheets say: how the fault began, when it shows, what
was changed and what was tried. Logs and readings cannot part a gate that was always too small from one that a
freer exhaust or a stronger engine made too small; what was said can.

**Status of every number on this page: {status}.** They are judgements of the trade, put where
anyone can see and change them (`boostproof.diagnosis.history.table`). No car was counted.

## How it counts

- A statement has a chance under every cause, P(said | cause). It moves a cause's odds by how that chance
  compares with the average over the causes that the car can have.
- Whoever says it may be wrong. It is taken to be so with the chance
  {trust}; otherwise it tells nothing.
  What stands in `[history]` without `told_by` is the customer's. What was tried is so with {tried}, with
  recordings from before and after it {recorded}.
- One statement counts at most 8 times, for or against. All together count at most 20 times: of the sum L of the
  logs, log 20 · tanh(L / log 20) counts, so that more hearsay adds less and less.
- What was said alone never gives a cause more than {highest:.0%}: beyond it, all of it is drawn towards nothing.
- What says the same twice counts once: work that is named stands for "after work"; "from first start" holds
  "never right"; {together} told together share one weight,
  and so do rows of one part with one result.
- What contradicts itself is left out, and the verdict says so.
- Of two faults at once, how it began and when it shows goes by the average of both; standing and changed parts by the
  likelier; a part that was tried may have mended one of them.
- "None of these" goes by the average of the causes, and is in no part that was tried.
"""


def page() -> str:
    """Text of the page."""
    trust = ", ".join(f"{p:g} ({who})" for who, p in table.TRUST.items())
    together = " and ".join(", ".join(f'"{w}"' for w in group) for group in table.SAID_TOGETHER)
    intro = _INTRO.format(
        status=table.STATUS, trust=trust, tried=table.TRUST_TRIED, recorded=table.TRUST_TRIED_RECORDED,
        highest=HIGHEST_ALONE, together=together,
    )  # fmt: skip
    return "\n".join([intro, *_beginning(), *_conditions(), *_parts()]) + "\n"


def _beginning() -> Iterable[str]:
    yield "## How it began\n\nBy how such a fault comes about:\n"
    names = {**table.CLASSES, table.HEALTHY: "sound car, owner complains"}
    started = list(next(iter(table.STARTED.values())))
    yield from _table(
        ["", *started, "was right before"],
        [[names[n], *(f"{p[s]:g}" for s in started), f"{table.EVER_RIGHT[n]:g}"] for n, p in table.STARTED.items()],
    )
    yield "\nHow the faults of each cause come about, as shares:\n"
    yield from _table(
        ["cause", *table.CLASSES.values()],
        [[c.id, *(f"{table.SHARES[c.id].get(n, 0.0) or '':}" for n in table.CLASSES)] for c in CATALOGUE],
    )


def _conditions() -> Iterable[str]:
    yield "\n## When it shows, and standing\n"
    yield 'Chance that a customer says "only then". Causes not named have the usual chance; half of it have those that'
    yield f"act in the same way at all times: {', '.join(table.ALWAYS_THERE)}.\n"
    rows = [*table.ONLY_WHEN.items(), ("the car stood unused", table.STOOD)]
    yield from _table(
        ["only when", "usual", "others"],
        [[name, f"{p[table.USUALLY]:g}", _listed(p, without=table.USUALLY)] for name, p in rows],
    )


def _parts() -> Iterable[str]:
    yield "\n## What was changed\n"
    yield "Chance that the part was changed and the fault came with it or after it. Causes not named:"
    yield f"{table.BY_CHANCE:g}, by chance alone; a sound car: {table.HEALTHY_AFTER_WORK:g}, owners listen after work."
    yield f"Where the fault was there before, the chance is {table.BY_CHANCE:g} times {table.BY_CHANCE:g} over the"
    yield f"number here (at least {table.BEFORE_LEAST:g}), less half the share that the next table makes right. Where that is"
    yield "not known, it is the average of both.\n"
    yield from _table(["part", "causes that its change brings"], [[n, _listed(p)] for n, p in table.BROUGHT.items()])
    yield "\n## What was tried\n"
    results = list(table.ELSEWHERE)
    yield from _table(
        ["the fault", *results],
        [
            ["is elsewhere", *(f"{table.ELSEWHERE[r]:g}" for r in results)],
            ["was in the part", *(f"{table.MENDED[r]:g}" for r in results)],
            ["is two, one in the part", *(f"{table.HALF_MENDED[r]:g}" for r in results)],
        ],
    )
    again = ", ".join(f"{kind} {p:g}" for kind, p in table.WRONG_AGAIN.items())
    yield f"\nThe part put in has the same fault again with the chance: {again} (also where it is not said)."
    yield "Share of the cars with a cause that a sound part in this place makes right; causes not named: none.\n"
    yield from _table(["part", "causes that live in it"], [[n, _listed(p)] for n, p in table.RENEWED.items()])
    yield "\nWith a turbo that has an external gate these stay on the car: "
    yield f"{', '.join(table.WITH_THE_TURBO_ONLY_IF_INTERNAL)}."


def _listed(chances: Mapping[str, float], *, without: str = "") -> str:
    return ", ".join(f"{i} {p:g}" for i, p in sorted(chances.items(), key=lambda x: (-x[1], x[0])) if i != without)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterable[str]:
    yield f"| {' | '.join(head)} |"
    yield "|" + "---|" * len(head)
    for row in rows:
        yield f"| {' | '.join(row)} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
