"""`neckring plan RUN`: compute a run, show it, and write its report."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from neckring.outing.findings import Plan
    from neckring.station.loading import LoadedStation

FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)
USUAL_COMPILE_SECONDS = 30
EXIT_NOT_GO = 1
EXIT_WRONG_INPUT = 2


@click.command("plan")
@click.argument("run")
@click.option("--station", "folder", type=FOLDER, default=Path("."), help="The station's folder.")
@click.option("--report", type=FILE, default=None, help="Where to write the report [RUN.html].")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON, write no report.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless the verdict is go.")
@click.option("--sources", is_flag=True, help="Print what the numbers stand on, nothing else.")
def plan(
    run: str, folder: Path, report: Path | None, as_json: bool, strict: bool, sources: bool
) -> None:
    """Compute RUN and say whether it may go, what binds, and what is left."""
    station = load_or_exit(folder)
    if run not in station.runs:
        refuse_run(run, list(station.runs))
    made = compute(station, run)
    if as_json:
        from neckring.records.plan_json import plan_as_json_text

        click.echo(plan_as_json_text(made))
    elif sources:
        print_sources(made)
    else:
        show(made, report or Path(f"{run}.html"))
    if strict and made.verdict != "go":
        sys.exit(EXIT_NOT_GO)


def load_or_exit(folder: Path) -> LoadedStation:
    """Read a station, or print all its faults and end with status 2."""
    from neckring.station.fault import StationFaults
    from neckring.station.loading import load_station

    try:
        return load_station(folder)
    except StationFaults as faults:
        for fault in faults.faults:
            click.echo(str(fault), err=True)
        sys.exit(EXIT_WRONG_INPUT)


def refuse_run(run: str, known: list[str]) -> None:
    """Say that a run does not exist and which ones do; end with status 2."""
    import difflib

    near = difflib.get_close_matches(run, known, 1)
    hint = f"; did you mean {near[0]}?" if near else ""
    click.echo(f'no run has the code "{run}"; accepted: {", ".join(sorted(known))}{hint}', err=True)
    sys.exit(EXIT_WRONG_INPUT)


def compute(station: LoadedStation, run: str) -> Plan:
    """Plan one run of a loaded station, telling when the model is compiled first."""
    with compile_progress():
        from neckring.outing.plan import make_plan
        from neckring.outing.scenario import Scenario

        chosen = station.runs[run]
        scenario = Scenario(
            station=station.station,
            suit=station.suits[chosen.suit],
            wearer=station.wearers[chosen.wearer],
            run=chosen,
        )
        return make_plan(scenario, station.limits)


@contextmanager
def compile_progress() -> Iterator[None]:
    """Tell that the model is being compiled when it is, and how long it took."""
    from neckring.compiled import is_compiled

    if is_compiled():
        yield
        return
    from rich.console import Console

    console = Console(stderr=True)
    words = f"compiling the model for this machine, once; about {USUAL_COMPILE_SECONDS} s"
    begun = time.monotonic()
    if console.is_terminal:
        with console.status(words):
            yield
    else:
        click.echo(f"{words} ...", err=True)
        yield
    click.echo(f"compiled in {time.monotonic() - begun:.0f} s", err=True)


def show(made: Plan, report: Path) -> None:
    """Print the summary and write the report."""
    from rich.console import Console

    from neckring.records.plan_page import render_page
    from neckring.records.plan_summary import print_summary

    write_whole(report, render_page(made))
    print_summary(made, Console(), report=str(report))


def write_whole(path: Path, text: str) -> None:
    """Write a file so that it is either the old or the whole new one, never a half."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as problem:
        click.echo(f"{path}: cannot write the report: {problem.strerror}", err=True)
        sys.exit(EXIT_WRONG_INPUT)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(draft, 0o644)
        os.replace(draft, path)
    except OSError as problem:
        Path(draft).unlink(missing_ok=True)
        click.echo(f"{path}: cannot write the report: {problem.strerror}", err=True)
        sys.exit(EXIT_WRONG_INPUT)


def print_sources(made: Plan) -> None:
    """Print each assumption with its source and status."""
    for line in made.assumptions:
        click.echo(f"{line.topic}: {line.statement} [{line.status}] {line.source}")
