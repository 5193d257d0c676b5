"""`neckring close RUN`: the state of a run's close-out, and its forms."""

from __future__ import annotations

import datetime
import sys
import zoneinfo
from pathlib import Path

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
    FILE,
    FOLDER,
    KEPT,
    load_or_exit,
    refuse,
    refuse_code,
    station_option,
    tell_faults,
    write_whole,
)


@click.command("close")
@click.argument("run")
@station_option
@click.option("--kept", type=FOLDER, default=None, help="Where forms lie [kept/ in the station].")
@click.option("--form", type=FILE, default=None, help="Take a form that was filled in.")
@click.option("--blank", is_flag=True, help="Print an empty form to fill in, nothing else.")
@click.option("--page", type=FILE, default=None, help="Write the empty forms as a page.")
@click.option("--json", "as_json", is_flag=True, help="Print state and forms as JSON.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless nothing is open.")
def close(
    run: str,
    folder: Path,
    kept: Path | None,
    form: Path | None,
    blank: bool,
    page: Path | None,
    as_json: bool,
    strict: bool,
) -> None:
    """Say what of RUN's close-out is filled in, what it comes to, and what is still open.

    With --form a form is taken: it is kept beside earlier ones, and nothing is written over.
    """
    from neckring.crew.closing import Ground, close_out
    from neckring.records.closeout_store import kept_forms
    from neckring.station.fault import StationFaults

    station = load_or_exit(folder)
    if run not in station.runs:
        refuse_code("run", run, station.runs)
    if blank:
        from neckring.records.closeout_blank import blank_form

        click.echo(blank_form(station, run), nl=False)
        return
    if page is not None:
        from neckring.records.closeout_page import render_forms

        write_whole(page, render_forms(station, run))
        click.echo(f"forms {page}")
    where = kept or folder / KEPT
    wearer = station.runs[run].wearer
    try:
        if form is not None:
            _take(form, run, where, folder)
        forms = kept_forms(where, run, wearer)
    except StationFaults as faults:
        tell_faults(faults)
    now = datetime.datetime.now(zoneinfo.ZoneInfo(station.station.timezone))
    age = station.wearers[wearer].age.nominal
    ground = Ground(station.limits, age, station.people, station.panels, now)
    found = close_out(run, wearer, forms, ground)
    if as_json:
        from neckring.records.closeout_json import closeout_as_json_text

        click.echo(closeout_as_json_text(found))
    else:
        from neckring.records.closeout_words import closeout_lines
        from neckring.records.presentation import plain_ascii

        plain = not sys.stdout.isatty()
        lines = closeout_lines(found, station.station.invented)
        click.echo("\n".join(plain_ascii(line) if plain else line for line in lines))
    if strict and not found.complete:
        sys.exit(EXIT_NOT_GO)


def _take(form: Path, run: str, kept: Path, folder: Path) -> None:
    """Read a form, hold it against the station, and keep it."""
    from neckring.live.entries import BookError
    from neckring.records.closeout_store import keep_form, read_form
    from neckring.station.fault import Fault, StationFaults

    station = load_or_exit(folder)
    read, written = read_form(form, station)
    if read.run != run:
        told = Fault(form.name, 1, 1, "run", f'"{read.run}"', f"{run}, as was typed")
        raise StationFaults([told])
    try:
        path, new = keep_form(kept, read, written)
    except (OSError, BookError) as problem:
        said = getattr(problem, "strerror", None) or str(problem)
        refuse(f"{kept}: the form cannot be kept: {said}")
    click.echo(f"{'kept' if new else 'the same form is kept already'}: {path}", err=True)
