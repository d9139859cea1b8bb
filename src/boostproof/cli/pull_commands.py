"""Commands about pulls: one recording, pulls against pulls, and how far the next pull may go."""

from __future__ import annotations

from pathlib import Path

import click

from boostproof.cli import options
from boostproof.cli.answer import Answer


@click.command()
@click.argument("file", metavar="FILE", type=options.FOLDER)
@click.option("--case", metavar="CASE", type=options.FOLDER, help="A case folder that tells more about the car.")
@click.option(
    "--column",
    "columns",
    metavar="TEXT",
    multiple=True,
    help="Say what a column is, such as \"boost=Pressure 2, psi, gauge\": our channel name, the header, "
    "then the unit and gauge or abs where the file does not say them. May be given several times.",
)
@click.option(
    "--remember", is_flag=True, help="Keep what --column says for every log with the same columns."
)
@click.option("--forget", is_flag=True, help="Take back what was kept for logs with these columns.")
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw the pulls into FILE (.svg, .png or .pdf).")
@options.units
@options.common
def inspect(
    file: Path,
    case: Path | None,
    columns: tuple[str, ...],
    remember: bool,
    forget: bool,
    figure: Path | None,
    units: str,
) -> Answer:
    """Read one recording FILE: its columns, pulls and what they show."""
    from boostproof.cli.show_inspection import show_inspection
    from boostproof.recording.columns.chosen import parse_choice
    from boostproof.workflows.inspect import inspect as inspect_recording

    if remember and not columns:
        raise click.UsageError("--remember keeps what --column says: give at least one --column.")
    named = dict(parse_choice(text) for text in columns)
    result = inspect_recording(file, case=case, columns=named, remember=remember, forget=forget)
    answer = result.as_json()
    if figure is not None:
        from boostproof.workflows.inspect_figure import write_figure

        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_inspection(answer, name=file.name, units=units, width=options.width()))


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option("--before", metavar="NAME", multiple=True, required=True, help="Recording of the one set-up.")
@click.option("--after", metavar="NAME", multiple=True, required=True, help="Recording of the other.")
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@click.option("--other-sensor", is_flag=True, help="The two were not recorded by one sensor.")
@options.units
@options.common
def compare(
    case: Path,
    before: tuple[str, ...],
    after: tuple[str, ...],
    figure: Path | None,
    other_sensor: bool,
    units: str,
) -> Answer:
    """Hold pulls against pulls: did what was done to the car of CASE change its boost?

    A NAME is a recording of the case, with all its pulls, or some of them as in log.csv#2 or log.csv#3-5. Give --before or
    --after again for a further recording of that set-up: repeats tell what pulls differ by anyway.
    """
    from boostproof.cli.show_comparison import show_comparison
    from boostproof.workflows.compare import compare as compare_recordings
    from boostproof.workflows.compare import write_figure

    result = compare_recordings(case, before, after, same_sensor=False if other_sensor else None)
    answer = result.as_json()
    if figure is not None:
        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_comparison(answer, units=units, width=options.width()))


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option("--closed-road", is_flag=True, help="Pulls on a road: it is closed, and a second person reads.")
@click.option("--mixture", is_flag=True, help="A mixture reading is in sight although no recording holds it.")
@click.option("--repaired", is_flag=True, help="A repair was done: the ladder begins low again.")
@click.option("--repair", "repairs", metavar="TEXT", multiple=True,
              help="The repair that was done, as 'boostproof forecast' takes it.")
@click.option("--after", metavar="NAME", multiple=True,
              help="A recording, pulls as log.csv#3-5, or a reading as seat-leak#2, that was made after the repair.")
@options.seed
@options.units
@options.common
def plan(
    case: Path, closed_road: bool, mixture: bool, repaired: bool, repairs: tuple[str, ...], after: tuple[str, ...],
    seed: int, units: str,
) -> Answer:  # fmt: skip
    """Say how far the next pull of the car of CASE may go, and at which boost to lift."""
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_plan import show_plan
    from boostproof.workflows.plan import plan as plan_pulls

    with Progress() as progress:
        result = plan_pulls(
            case, closed_road=closed_road, mixture=mixture, repaired=repaired, repairs=repairs, after=after, seed=seed,
            progress=progress,
        )  # fmt: skip
    answer = result.as_json()
    return Answer(answer, lambda: show_plan(answer, units=units, width=options.width()))
