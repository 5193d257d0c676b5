"""`neckring rehearse RUN`: the console on simulated suits, with a trainer who breaks things."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from neckring.command_parts import FILE, station_option
from neckring.console_command import serving_options
from neckring.served_run.opening import Served
from neckring.served_run.serving import serve
from neckring.served_run.wanted import Wanted


@click.command("rehearse")
@click.argument("run")
@click.argument("partner", required=False)
@station_option
@serving_options
@click.option("--speed", type=click.FloatRange(1.0, 20.0), default=1.0, help="Of real time [1].")
@click.option("--timeline", type=FILE, default=None, help="Faults with their times.")
@click.option("--keep-drills", is_flag=True, help="Keep the times taken in drills.yaml.")
def rehearse(
    run: str,
    partner: str | None,
    folder: Path,
    keep_drills: bool,
    **given: Any,  # noqa: ANN401
) -> None:
    """Rehearse RUN: the console as on the day, on suits that are simulated.

    The trainer's page breaks things, or a timeline does. When it ends it tells who noticed what
    when, and how that compares with the help clock.
    """
    runs = (run, partner) if partner else (run,)
    kept = given.pop("kept") or Path(f"{run}-rehearsed")
    wanted = Wanted(
        folder, runs, kept, rehearsal=True, **{**given, "names": frozenset(given["names"])}
    )
    serve(wanted, after=lambda served: tell_drill(served, keep_drills))


def tell_drill(served: Served, keep: bool) -> None:
    """Tell how the faults were met, and keep the times when asked to."""
    import datetime

    from neckring.live.drill_plan import suits_of
    from neckring.live.drill_times import keep_drills
    from neckring.live.drill_words import drills_from, report_words
    from neckring.live.entries import Kind
    from neckring.live.trainer_scores import Scores
    from neckring.served_run.making_ready import scenarios_of

    scenarios = served.scenarios
    if not scenarios and any(e.deed.kind is Kind.FAULT_BEGUN for e in served.book.entries()):
        # It ended before the help clock was made ready, and there is something to compare with it.
        scenarios = scenarios_of(served)
    report = Scores(served.book, served.sheet, scenarios).report()
    click.echo()
    for line in report_words(report):
        click.echo(line)
    drills = drills_from(report, suits_of(scenarios), datetime.date.today())
    if keep and drills:
        keep_drills(served.wanted.folder, drills)
        click.echo(f"{len(drills)} times kept in {served.wanted.folder / 'drills.yaml'}")
