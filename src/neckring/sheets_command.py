"""`neckring sheets [RUN [RUN_OF_B]]`: procedure sheets, cards, brief, counts and labels as PDF."""

from __future__ import annotations

import datetime
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    EXIT_WRONG_INPUT,
    FOLDER,
    KEPT,
    compile_first,
    load_or_exit,
    plan_ahead,
    progress,
    question_about,
    refuse,
    refuse_code,
    runner_for,
    station_option,
    tell_faults,
)
from neckring.whole_file import SHARED, write_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from neckring.ledger.ledger_state import Ledger
    from neckring.outing.findings import Plan
    from neckring.records.sheet_bundle import Printed, Wanted
    from neckring.station.loading import LoadedStation

KINDS = ("procedures", "cards", "brief", "count", "labels")


@click.command("sheets")
@click.argument("run", required=False)
@click.argument("run_of_b", required=False)
@station_option
@click.option("--out", type=FOLDER, default=Path("sheets"), help="Where to write them [sheets].")
@click.option(
    "--only",
    type=click.Choice(KINDS),
    multiple=True,
    help="Print only these; may be given more than once.",
)
@click.option(
    "--members",
    type=click.IntRange(0, 10_000_000),
    default=0,
    help="Runs drawn for turn-back time and help clock [0: nothing is taken to fail].",
)
@click.option(
    "--kept", type=FOLDER, default=None, help="Where the kit's ledger lies [kept/ in the station]."
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, help="Of the draw [1].")
def sheets(
    run: str | None,
    run_of_b: str | None,
    folder: Path,
    out: Path,
    only: tuple[str, ...],
    members: int,
    kept: Path | None,
    seed: int,
) -> None:
    """Print what hangs on the wall and lies on the table, as PDF files.

    Without RUN: procedure sheets for each role, emergency cards, kit counts and labels. With RUN,
    and RUN_OF_B when two go, also a brief and a debrief of each, from its plan; its count sheet
    bears the serials of the kit that goes.
    """
    station = load_or_exit(folder)
    runs = [code for code in (run, run_of_b) if code]
    for code in runs:
        if code not in station.runs:
            refuse_code("run", code, station.runs)
    kinds = frozenset(only or KINDS)
    if only and "brief" in kinds and not runs:
        refuse("--only brief: read no RUN; accepted: a run, whose plan the brief is made from")
    with progress(False) as tell:
        plans = _plans(station, runs, members, seed, tell)
        wanted = _wanted(station, folder, plans, kinds, kept or folder / KEPT)
        printed = _printed(wanted, tell)
    _tell_of_what_is_missing(wanted, bool(only))
    write_all(out, printed)
    click.echo(f"{len(printed)} files written to {out}; look at each before it is hung up")


def _plans(
    station: LoadedStation,
    runs: Sequence[str],
    members: int,
    seed: int,
    tell: Callable[[str], None],
) -> list[Plan]:
    if not runs:
        return []
    questions = [question_about(station, code, members, seed) for code in runs]
    compile_first(questions[0])
    workers = os.cpu_count() or 1
    with runner_for(None, workers) as runner:
        return [plan_ahead(question, runner, workers, tell) for question in questions]


def _wanted(
    station: LoadedStation, folder: Path, plans: list[Plan], kinds: frozenset[str], kept: Path
) -> Wanted:
    from neckring.records.sheet_bundle import Wanted
    from neckring.station.drills import read_drills
    from neckring.station.fault import StationFaults

    try:
        drills = read_drills(folder)
    except StationFaults as faults:
        tell_faults(faults)
    ledger = _ledger(kept if "count" in kinds and station.kit_items else None)
    return Wanted(station, plans, drills, datetime.date.today(), kinds, ledger)


def _ledger(kept: Path | None) -> Ledger:
    """Where the kit is, as recorded; nothing recorded where no count is printed."""
    from neckring.ledger.ledger_state import Ledger
    from neckring.live.entries import BookError
    from neckring.records.ledger_standing import read_standing

    if kept is None:
        return Ledger()
    try:
        standing = read_standing(kept)
    except BookError as broken:
        refuse(str(broken))
    if standing.warning:
        click.echo(standing.warning, err=True)
    return standing.ledger


def _printed(wanted: Wanted, tell: Callable[[str], None]) -> tuple[Printed, ...]:
    from neckring.records.sheet_bundle import printed_sheets
    from neckring.station.fault import StationFaults

    try:
        return printed_sheets(wanted, tell)
    except StationFaults as faults:
        tell_faults(faults)


def _tell_of_what_is_missing(wanted: Wanted, asked: bool) -> None:
    from neckring.records.sheet_bundle import without_anything

    missing = without_anything(wanted)
    for line in missing:
        click.echo(line, err=True)
    if missing and asked:
        sys.exit(EXIT_WRONG_INPUT)


def write_all(out: Path, printed: Iterable[Printed]) -> None:
    """Write every file whole; a file is either the old or the new one, never a half.

    Args:
        out: The folder.
        printed: Names and contents; all are there before the first is written.
    """
    for name, content in printed:
        path = out / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, content, SHARED)
        except OSError as problem:
            refuse(f"{path}: cannot write the sheet: {(problem.strerror or 'unknown').lower()}")
