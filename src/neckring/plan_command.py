"""`neckring plan RUN`: compute a run, show it, and write its report."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
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
    write_whole,
)

if TYPE_CHECKING:
    from neckring.outing.ensemble import Question, Runner
    from neckring.outing.findings import Plan

SOLVABLE = ("tender", "flow", "reservoir", "ice", "pack", "outing", "change")


@click.command("plan")
@click.argument("run")
@station_option
@click.option("--report", type=FILE, default=None, help="Where to write the report [RUN.html].")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON, write no report.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless the verdict is go.")
@click.option("--sources", is_flag=True, help="Print what the numbers stand on, nothing else.")
@drawing_options
@click.option(
    "--solve",
    "asked",
    type=click.Choice(SOLVABLE),
    multiple=True,
    help="Find the least or most with which the run is a go; may be given more than once.",
)
def plan(
    run: str,
    folder: Path,
    report: Path | None,
    as_json: bool,
    strict: bool,
    sources: bool,
    members: int,
    seed: int,
    workers: int,
    cluster: str | None,
    asked: tuple[str, ...],
) -> None:
    """Compute RUN and say whether it may go, what binds, and what is left.

    Whatever can fail is held against help, at every minute, for runs drawn from the spreads.
    """
    station = load_or_exit(folder)
    if run not in station.runs:
        refuse_code("run", run, station.runs)
    if asked and not members:
        raise click.UsageError("--solve needs members: leave --members 0 away")
    if sources:
        members, asked = 0, ()
    question = question_about(station, run, members, seed)
    compile_first(question)
    with progress(as_json or sources) as tell, runner_for(cluster, workers) as runner:
        made = with_answers(
            plan_ahead(question, runner, workers, tell), question, asked, runner, workers, tell
        )
    if as_json:
        from neckring.records.plan_json import plan_as_json_text

        click.echo(plan_as_json_text(made))
    elif sources:
        print_sources(made)
    else:
        show(made, report or Path(f"{run}.html"))
    if strict and made.verdict != "go":
        sys.exit(EXIT_NOT_GO)


def with_answers(
    made: Plan,
    question: Question,
    asked: Sequence[str],
    runner: Runner,
    workers: int,
    tell: Callable[[str], None],
) -> Plan:
    """The plan with the inverse questions answered that were asked."""
    if not asked or made.outlook is None:
        return made
    from neckring.outing.solve import Trials, solved

    answers = solved(question, asked, Trials(runner, workers, tell))
    return replace(made, outlook=replace(made.outlook, answers=answers))


def show(made: Plan, report: Path) -> None:
    """Print the summary and write the report."""
    from rich.console import Console

    from neckring.records.plan_page import render_page
    from neckring.records.plan_summary import print_summary

    write_whole(report, render_page(made))
    print_summary(made, Console(), report=str(report))


def print_sources(made: Plan) -> None:
    """Print each assumption with its source and status."""
    for line in made.assumptions:
        click.echo(f"{line.topic}: {line.statement} [{line.status}] {line.source}")
