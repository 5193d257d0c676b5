"""`neckring console RUN`: serve a run on the day, to a laptop and a few tablets."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from neckring.command_parts import FOLDER, refuse, station_option
from neckring.served_run.serving import serve, serve_finished
from neckring.served_run.wanted import PARTICLES, Wanted

Command = TypeVar("Command", bound=Callable[..., Any])
FEWEST_PARTICLES = 64


def particles_or_none(_context: click.Context, _parameter: click.Parameter, given: int) -> int:
    """None, or enough for an estimate."""
    if 0 < given < FEWEST_PARTICLES:
        refuse(f"--particles: read {given}; accepted: 0 for none, or at least {FEWEST_PARTICLES}")
    return given


_SERVING = (
    click.option("--keep", "kept", type=FOLDER, default=None, help="Where log and readings lie."),
    click.option("--book", default="", help="A database for the log, as in postgresql://u@h/db."),
    click.option("--host", default="127.0.0.1", help="Address to listen on [127.0.0.1]."),
    click.option("--port", type=click.IntRange(0, 65535), default=8070, help="[8070]; 0: any."),
    click.option("--name", "names", multiple=True, help="Host name by which it may be asked."),
    click.option("--network", default=None, help="This machine's address on the local network."),
    click.option("--open", "opened", is_flag=True, help="Answer the local network from the start."),
    click.option(
        "--particles",
        callback=particles_or_none,
        type=click.IntRange(0, 100_000),
        default=PARTICLES,
        help=f"Of each wearer's live estimate, 64 at least [{PARTICLES}]; 0: none.",
    ),
    click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, help="Of the draw [1]."),
    click.option(
        "--workers",
        type=click.IntRange(1, 1024),
        default=os.cpu_count() or 1,
        help="Threads of the estimate [all cores].",
    ),
    click.option(
        "--goes-on-changed",
        is_flag=True,
        help="Go on although the station's files were changed since the run was opened.",
    ),
)


def serving_options(command: Command) -> Command:
    """The options of how a run is served."""
    for option in reversed(_SERVING):
        command = option(command)
    return command


def by_wearer(_context: click.Context, parameter: click.Parameter, given: tuple[str, ...]) -> Any:  # noqa: ANN401
    """Values written as A=VALUE."""
    found: dict[str, str] = {}
    for one in given:
        letter, mark, value = one.partition("=")
        if not mark or letter not in ("A", "B") or not value:
            refuse(
                f'--{parameter.name}: read "{one}"; accepted: a wearer and an address, as in A=...'
            )
        found[letter] = value
    return found


@click.command("console")
@click.argument("run")
@click.argument("partner", required=False)
@station_option
@serving_options
@click.option("--mqtt", default="", help="A broker, as in mqtt://127.0.0.1:1883.")
@click.option("--serial", multiple=True, callback=by_wearer, help="As in A=/dev/ttyUSB0.")
@click.option("--strap", "straps", multiple=True, callback=by_wearer, help="As in A=ADDRESS.")
@click.option("--replay", is_flag=True, help="Look at a run that is over; nothing can be written.")
def console(run: str, partner: str | None, folder: Path, replay: bool, **given: Any) -> None:  # noqa: ANN401
    """Serve RUN on the day: steps, calls, clocks, sensors, alarms, log.

    With two wearers PARTNER is the run of the other one: RUN is wearer A's, PARTNER wearer B's.
    Pages pair by PIN; the PINs are printed here. Ctrl-C ends it; started again it goes on where
    it was.
    """
    runs = (run, partner) if partner else (run,)
    kept = given.pop("kept") or Path(f"{run}-kept")
    wanted = Wanted(folder, runs, kept, **{**given, "names": frozenset(given["names"])})
    if replay:
        serve_finished(wanted)
    else:
        serve(wanted)
