"""Commands about what is wrong: the bench, the ranking of the causes, and the lists of causes and tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from boostproof.cli import options
from boostproof.cli.answer import Answer


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw the sweeps into FILE (.svg, .png or .pdf).")
@options.seed
@options.units
@options.common
def bench(case: Path, figure: Path | None, seed: int, units: str) -> Answer:
    """Say what the bench readings of CASE mean: each figure with its doubt, beside a sound car's."""
    from boostproof.cli.show_bench import show_bench
    from boostproof.workflows.bench import bench as read_bench
    from boostproof.workflows.bench import write_figure

    result = read_bench(case, seed=seed)
    answer = result.as_json()
    if figure is not None:
        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_bench(answer, units=units, width=options.width()))


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option("--without-readings", is_flag=True, help="Judge by the recordings and the car alone.")
@click.option("--without-history", is_flag=True, help="Leave out what was said of the car and tried on it.")
@options.without
@options.seed
@options.units
@options.common
def diagnose(
    case: Path, without_readings: bool, without_history: bool, without: tuple[str, ...], seed: int, units: str
) -> Answer:
    """Rank the causes for the case folder CASE and name the next test."""
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_first_look import Looks
    from boostproof.workflows.diagnose import diagnose as diagnose_case

    with Progress() as progress:
        verdict = diagnose_case(
            case, without_readings=without_readings, without_history=without_history, without=without, seed=seed,
            progress=progress, first_look=Looks(progress.tell, options.width()),
        )  # fmt: skip

    def text() -> str:
        from boostproof.report.text import verdict_text

        return verdict_text(verdict, width=options.width(), units=units)

    return Answer(verdict.as_json(), text)


@click.command()
@click.argument("words", metavar="[WORDS]", nargs=-1)
@click.option(
    "--case",
    metavar="CASE",
    type=options.FOLDER,
    help="Only those that the car of CASE can have, and which of them no test of its shop can part.",
)
@options.units
@options.common
def causes(words: tuple[str, ...], case: Path | None, units: str) -> Answer:
    """List the causes that are considered, those that WORDS find, or one in full by its id."""
    from boostproof.cli.show_catalogue import show_causes, show_inseparable
    from boostproof.workflows.catalogue import causes_of_case, list_causes

    wanted = " ".join(words)
    if case is None:
        rows = list_causes(wanted)
        return Answer(
            {"format": 1, "causes": rows}, lambda: show_causes(list_causes(wanted, units=units), width=options.width())
        )
    from boostproof.cli.progress import Progress

    with Progress() as progress:
        found = causes_of_case(case, wanted, progress=progress)

    def text() -> str:
        own = list_causes(wanted, units=units, among={row["id"] for row in found["causes"]})
        return f"{show_causes(own, width=options.width())}\n\n{show_inseparable(found['inseparable'], width=options.width())}"

    return Answer({"format": 1, **found}, text)


@click.command()
@click.argument("words", metavar="[WORDS]", nargs=-1)
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw its set-up into FILE (.svg, .png or .pdf).")
@options.units
@options.common
def tests(words: tuple[str, ...], figure: Path | None, units: str) -> Answer:
    """List the bench and road tests, those that WORDS find, or one in full by its id, cautions first."""
    from boostproof.cli.show_catalogue import show_tests
    from boostproof.workflows.catalogue import list_tests, write_setup

    wanted = " ".join(words)
    rows = list_tests(wanted)
    answer: dict[str, Any] = {"format": 1, "tests": rows}
    if figure is not None:
        if len(rows) != 1:
            raise click.UsageError("--figure draws one test: give its id, such as actuator-sweep.")
        answer["written"] = [str(write_setup(rows[0]["id"], figure))]
    return Answer(answer, lambda: show_tests(list_tests(wanted, units=units), width=options.width()))
