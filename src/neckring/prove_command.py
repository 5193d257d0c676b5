"""`neckring prove PROCEDURE`: examine a procedure, show what was found, and write its report."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    FILE,
    load_or_exit,
    progress,
    question_about,
    refuse_code,
    station_option,
    write_whole,
)

if TYPE_CHECKING:
    from neckring.procedure.examination import Examination
    from neckring.station.loading import LoadedStation

EXIT_NOT_PROVED = 1
LOOK_EVERY = 0.1
"""How often --watch looks for a saved file [s]."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the examination.

    Attributes:
        folder: The station's.
        code: Of the procedure.
        pairs: Whether pairs of slips are examined too.
        run: Code of the run whose harm clocks count; empty for what the kit says.
        ways: Whether ways out are computed.
    """

    folder: Path
    code: str
    pairs: bool
    run: str
    ways: bool = True


@click.command("prove")
@click.argument("procedure")
@station_option
@click.option("--report", type=FILE, default=None, help="Where to write it [PROCEDURE.html].")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, write no report.")
@click.option("--pairs/--no-pairs", default=True, help="Whether pairs of slips are examined too.")
@click.option("--run", default="", help="Run whose harm clocks the kit's timed rules take.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless it is proved.")
@click.option("--watch", is_flag=True, help="Prove again on each save, until interrupted.")
def prove(
    procedure: str,
    folder: Path,
    report: Path | None,
    as_json: bool,
    pairs: bool,
    run: str,
    strict: bool,
    watch: bool,
) -> None:
    """Examine PROCEDURE: can anything go wrong, what catches it, and how fast is the way out?

    Every order that its lanes allow, every single slip, every pair of slips and every breakdown
    of the kit are gone through. There are three answers: proved, broken, not decided.
    """
    wanted = Wanted(folder, procedure, pairs, run)
    if watch:
        watched(wanted)
        return
    station = load_or_exit(folder)
    refuse_unknown(station, wanted)
    with progress(as_json) as tell:
        found = examined(station, wanted, tell)
    if as_json:
        from neckring.records.proof_json import as_json_text

        click.echo(as_json_text(found, station.station.name, station.station.invented))
    else:
        show(station, found, report or Path(f"{procedure}.html"))
    if strict and found.verdict != "proved":
        sys.exit(EXIT_NOT_PROVED)


def refuse_unknown(station: LoadedStation, wanted: Wanted) -> None:
    """End with status 2 when there is no such procedure or run."""
    if wanted.code not in station.procedures:
        refuse_code("procedure", wanted.code, station.procedures)
    if wanted.run and wanted.run not in station.runs:
        refuse_code("run", wanted.run, station.runs)


def examined(station: LoadedStation, wanted: Wanted, tell: Callable[[str], None]) -> Examination:
    """Examine a procedure of a station."""
    from neckring.procedure.asked import Asked
    from neckring.procedure.examiner import examine
    from neckring.procedure.listing import listed

    clocks = harm_clocks(station, wanted.run) if wanted.run else {}
    made = listed(wanted.code, station.procedures, station.kits, clocks)
    asked = Asked(pairs=wanted.pairs, ways=wanted.ways, clock=time.perf_counter)
    return examine(made, asked, tell)


def harm_clocks(station: LoadedStation, run: str) -> dict[str, float]:
    """Shortest harm clock of each failure over a run as written [s]."""
    from neckring.outing.ensemble import as_written

    _, written = as_written(question_about(station, run, 1, 1))
    return {code: float(clocks.harm.min()) for code, clocks in written.items()}


def show(station: LoadedStation, found: Examination, report: Path) -> None:
    """Print the summary and write the report."""
    from rich.console import Console

    from neckring.records.proof_page import render_page
    from neckring.records.proof_summary import print_summary

    write_whole(report, render_page(found, station, place_of(station, found)))
    print_summary(found, Console(), report=str(report), invented=station.station.invented)


def place_of(
    station: LoadedStation, found: Examination
) -> Callable[[tuple[str | int, ...], bool], str]:
    """Where a key of the procedure's or of the kit's file stands, as file:line:column."""
    sheet = found.listed.sheet
    codes = {False: ("procedure", sheet.code), True: ("kit", sheet.kit)}

    def place(path: tuple[str | int, ...], in_kit: bool) -> str:
        kind, code = codes[in_kit]
        tree = next(t for t in station.trees[kind].values() if t.text_of("code") == code)
        _, spot = tree.find(path)
        return f"{spot.file}:{spot.line}:{spot.column}"

    return place


def watched(wanted: Wanted) -> None:
    """Prove again whenever a file of the station is saved, until interrupted."""
    seen: dict[Path, float] = {}
    try:
        while True:
            now = {
                path: path.stat().st_mtime
                for path in sorted(wanted.folder.rglob("*.yaml"))
                if path.is_file()
            }
            if now != seen:
                seen = now
                _prove_once(wanted)
            time.sleep(LOOK_EVERY)
    except KeyboardInterrupt:
        click.echo("")


def _prove_once(wanted: Wanted) -> None:
    """One line for the verdict, one for each place in a file that matters."""
    from neckring.records.proof_summary import lines_for_an_editor
    from neckring.station.fault import StationFaults
    from neckring.station.loading import load_station

    begun = time.perf_counter()
    try:
        station = load_station(wanted.folder)
    except StationFaults as faults:
        for fault in faults.faults:
            click.echo(str(fault))
        return
    if wanted.code not in station.procedures:
        click.echo(f'no procedure has the code "{wanted.code}" now')
        return
    found = examined(station, replace(wanted, ways=False), lambda _: None)
    for line in lines_for_an_editor(found, place_of(station, found)):
        click.echo(line)
    spent = 1000.0 * (time.perf_counter() - begun)
    click.echo(f"{time.strftime('%H:%M:%S')} {found.verdict}: {found.sentence} [{spent:.0f} ms]")
