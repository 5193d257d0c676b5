"""`neckring compare RUN RUN...`: several runs, or one run otherwise, beside each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    FILE,
    compile_first,
    drawing_options,
    load_or_exit,
    plan_ahead,
    progress,
    question_about,
    refuse_code,
    runner_for,
    station_option,
    tell_faults,
    write_whole,
)

if TYPE_CHECKING:
    from neckring.outing.findings import Plan
    from neckring.station.loading import LoadedStation


@dataclass(frozen=True)
class Wanted:
    """One column of the comparison as typed.

    Attributes:
        text: As typed, for example "floor-survey:wearer=W3".
        run: Code of the run.
        changes: Keys and values that differ.
    """

    text: str
    run: str
    changes: tuple[tuple[str, str], ...]


@click.command("compare")
@click.argument("runs", nargs=-1, required=True, metavar="RUN[:KEY=VALUE,...]...")
@station_option
@click.option(
    "--report", type=FILE, default=Path("comparison.html"), help="The page [comparison.html]."
)
@drawing_options
def compare(
    runs: tuple[str, ...],
    folder: Path,
    report: Path,
    members: int,
    seed: int,
    workers: int,
    cluster: str | None,
) -> None:
    """Plan several runs and set them beside each other, in one table and one plot.

    A run may be changed for the comparison: floor-survey:wearer=W3 is the same run with another
    wearer, floor-survey:suit.air.fans=1 with one fan, and
    floor-survey:station.places.floor.air_temperature=28 degC on a hotter day.
    """
    station = load_or_exit(folder)
    columns = [(wanted.text, changed_station(station, wanted)) for wanted in map(read_wanted, runs)]
    plans: list[tuple[str, Plan]] = []
    questions = [
        question_about(changed, read_wanted(text).run, members, seed) for text, changed in columns
    ]
    compile_first(questions[0])
    with progress(quiet=False) as tell, runner_for(cluster, workers) as runner:
        for (text, _), question in zip(columns, questions, strict=True):
            plans.append((text, plan_ahead(question, runner, workers, named(text, tell))))
    show(plans, report)


def named(name: str, tell: Callable[[str], None]) -> Callable[[str], None]:
    """Tell with a name before what is told."""
    return lambda words: tell(f"{name}: {words}")


def read_wanted(text: str) -> Wanted:
    """Take one argument apart.

    Raises:
        click.UsageError: A change has no value.
    """
    run, _, tail = text.partition(":")
    changes = []
    for part in filter(None, (piece.strip() for piece in tail.split(","))):
        key, equals, value = part.partition("=")
        if not equals:
            raise click.UsageError(
                f'"{text}": read "{part}"; accepted: key=value, as in wearer=W3 or suit.air.fans=1'
            )
        changes.append((key, value))
    return Wanted(text, run.strip(), tuple(changes))


def changed_station(station: LoadedStation, wanted: Wanted) -> LoadedStation:
    """The station with a run's changes made; ends with status 2 when they cannot be."""
    from neckring.station.fault import StationFaults
    from neckring.station.variation import vary

    if wanted.run not in station.runs:
        refuse_code("run", wanted.run, station.runs)
    try:
        return vary(station, wanted.run, wanted.changes) if wanted.changes else station
    except StationFaults as faults:
        tell_faults(faults)


def show(plans: Sequence[tuple[str, Plan]], report: Path) -> None:
    """Print the comparison and write its page."""
    from rich.console import Console

    from neckring.records.compare_page import render_comparison
    from neckring.records.compare_summary import print_comparison

    write_whole(report, render_comparison(plans))
    print_comparison(plans, Console(), report=str(report))
