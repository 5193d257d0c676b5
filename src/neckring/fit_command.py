"""`neckring fit WEARER [SUIT]`: which suit fits whom on paper, and with which settings."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
    FILE,
    load_or_exit,
    refuse_code,
    station_option,
    write_whole,
)


@click.command("fit")
@click.argument("wearer")
@click.argument("suit", required=False)
@station_option
@click.option("--report", type=FILE, default=None, help="The page [WEARER-fit.html].")
@click.option("--json", "as_json", is_flag=True, help="Print the fit as JSON, write no page.")
@click.option("--settings", is_flag=True, help="Print the lines for the wearer's file, no page.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless a suit may be tried on.")
def fit(
    wearer: str,
    suit: str | None,
    folder: Path,
    report: Path | None,
    as_json: bool,
    settings: bool,
    strict: bool,
) -> None:
    """Hold WEARER's measures against SUIT, or against every suit, the best first.

    A fit on paper is no fit: it says which suit to try on, with which pads, straps and sizes.
    """
    station = load_or_exit(folder)
    if wearer not in station.wearers:
        refuse_code("wearer", wearer, station.wearers)
    if suit is not None and suit not in station.suits:
        refuse_code("suit", suit, station.suits)
    from neckring.fitting.fit import fit_wearer

    chosen = [station.suits[suit]] if suit else list(station.suits.values())
    found = fit_wearer(station.station, station.limits, station.wearers[wearer], chosen)
    if as_json:
        from neckring.records.fit_json import fit_as_json_text

        click.echo(fit_as_json_text(found))
    elif settings:
        from neckring.records.fit_words import to_paste

        for one in found.suits[:1]:
            click.echo(to_paste(one))
    else:
        from rich.console import Console

        from neckring.records.fit_page import render_fit
        from neckring.records.fit_summary import print_fit

        page = report or Path(f"{wearer}-fit.html")
        write_whole(page, render_fit(found))
        print_fit(found, Console(), page)
    if strict and not any(one.outcome in ("try it on", "sore") for one in found.suits):
        sys.exit(EXIT_NOT_GO)
