"""`neckring crew`: who may act in which part on a day, and why not."""

from __future__ import annotations

import datetime
import sys
import zoneinfo
from pathlib import Path

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
    load_or_exit,
    refuse,
    refuse_code,
    station_option,
)


@click.command("crew")
@click.argument("run", required=False)
@station_option
@click.option("--on", "day", default=None, help="The day, as 2026-11-28 [the run's, or today].")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless RUN's people may.")
def crew(run: str | None, folder: Path, day: str | None, as_json: bool, strict: bool) -> None:
    """Say who may act in which part on a day: clearance, consent, sign-offs, the signed gates.

    With RUN its wearer and the people of the console are looked at on the day of the run.
    """
    station = load_or_exit(folder)
    if run is not None and run not in station.runs:
        refuse_code("run", run, station.runs)
    if station.people is None:
        refuse(
            "people.yaml: nothing (no such file); accepted: clearances, sign-offs and roles by "
            "code, see docs/people.md"
        )
    from neckring.records.crew_json import crew_as_json_text
    from neckring.records.crew_words import crew_lines
    from neckring.records.presentation import plain_ascii

    runs = [station.runs[run]] if run else []
    zone = zoneinfo.ZoneInfo(station.station.timezone)
    when = _day(day) or (runs[0].date if runs else datetime.datetime.now(zone).date())
    lines = crew_lines(station.people, station.station, runs, when)
    if as_json:
        click.echo(crew_as_json_text(station.people, when))
    else:
        plain = not sys.stdout.isatty()
        click.echo("\n".join(plain_ascii(line) if plain else line for line in lines))
    if strict and any("MAY NOT" in line or "NOT KNOWN" in line for line in lines):
        sys.exit(EXIT_NOT_GO)


def _day(text: str | None) -> datetime.date | None:
    """The day that was typed; None where none was."""
    from neckring.station.fields import DAY, UnacceptableError

    if text is None:
        return None
    try:
        found = DAY.read(text)
    except UnacceptableError:
        refuse(f'--on: read "{text}"; accepted: {DAY.accepted()}')
    assert isinstance(found, datetime.date)
    return found
