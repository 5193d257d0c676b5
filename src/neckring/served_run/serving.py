"""A run served until somebody ends it, and a finished one to be looked at."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from neckring.command_parts import load_or_exit, refuse, trees_in
from neckring.served_run.making_ready import begin, leave_out_of_collections
from neckring.served_run.opening import (
    Served,
    intake_of,
    rules_of,
    run_served,
    sheet_or_exit,
)
from neckring.served_run.shown import history, parts_of, trainer_of
from neckring.served_run.wanted import LOG_BOOK, READINGS, Wanted, name_of, settings_of

if TYPE_CHECKING:
    import socket

    from neckring.live.entries import Role

TURNS = 0.0001
"""So long a thread that computes keeps a tap waiting for its turn [s]; Python's own is fifty times
as long, and a tap waits for several."""


def serve(wanted: Wanted, after: Callable[[Served], None] = lambda _: None) -> None:
    """Serve a run until somebody ends it.

    Args:
        wanted: What is served.
        after: Done once it has ended, with book and desk still open.
    """
    from neckring.web.app import make_app
    from neckring.web.serving import Serving, address_on_network

    settings = settings_of(wanted)
    here = bound_or_exit(wanted)
    sys.setswitchinterval(TURNS)
    with run_served(wanted) as served:
        leave_out_of_collections()
        parts = parts_of(served, trainer_of(served) if wanted.rehearsal else None)
        served.shown = parts
        app = make_app(parts, settings)
        admission = app.state.admission
        network = address_on_network() if wanted.network is None else wanted.network
        serving = Serving(app, here, network, lambda: admission.opening.opened)
        served.keeper.start()

        def stop() -> None:
            # Pages that listen are let go, so that the server need not wait for them.
            app.state.hub.close()
            serving.stop()

        end_by_signals(stop)
        tell_addresses(served, serving.port, network, admission.pins)
        # What takes seconds begins once pages are answered.
        serving.run(lambda: begin(served))
        click.echo("the console has ended; what was acknowledged is on disk", err=True)
        served.keeper.end_soon()
        unless_interrupted(lambda: after(served))


def serve_finished(wanted: Wanted) -> None:
    """Serve a run that is over, to be looked at."""
    from neckring.live.entries import BookError
    from neckring.live.open_book import read_book
    from neckring.web.app import make_app
    from neckring.web.console_parts import ConsoleParts
    from neckring.web.replay import FinishedRun
    from neckring.web.serving import Serving

    station = load_or_exit(wanted.folder, trees_in(wanted.kept).tree_of)
    sheet = sheet_or_exit(station, wanted, rules_of(wanted))
    here = bound_or_exit(wanted)
    with ExitStack() as closing:
        try:
            book = read_book(wanted.book or wanted.kept / LOG_BOOK, sheet.station)
            closing.callback(book.close)
            desk = FinishedRun(book, sheet)
        except BookError as error:
            refuse(str(error))
        parts = ConsoleParts(
            desk,
            book,
            sheet,
            intake=intake_of(station, sheet, 1.0),
            history=past_readings(wanted, closing),
        )
        serving = Serving(make_app(parts, replace(settings_of(wanted), replay=True)), here)
        click.echo(f"the run as it was: http://{wanted.host}:{serving.port}/replay")
        end_by_signals(serving.stop)
        serving.run()


def past_readings(
    wanted: Wanted, closing: ExitStack
) -> Callable[[str, str], list[tuple[float, float | None]]]:
    """Readings of a run that is over; none where none were kept."""
    from neckring.live.readings_file import ReadingsError, ReadingsReader

    try:
        reader = ReadingsReader(wanted.kept / READINGS)
    except ReadingsError as error:
        click.echo(f"without readings: {error}", err=True)
        return lambda wearer, channel: []
    closing.callback(reader.close)
    return lambda wearer, channel: history(reader, wearer, channel)


def bound_or_exit(wanted: Wanted) -> socket.socket:
    """The port on this machine, or words and status 2."""
    from neckring.web.serving import CannotListenError, bound

    try:
        return bound(wanted.host, wanted.port)
    except CannotListenError as error:
        refuse(f"{error}; another one: --port")


def tell_addresses(served: Served, port: int, network: str, pins: Mapping[Role, str]) -> None:
    """Print where the console is, and the PINs; for the lead's eyes."""
    wanted, state = served.wanted, served.desk.state
    what = "rehearsal" if wanted.rehearsal else "run"
    back = f"; it came back at entry {state.number}" if state.restarts else ""
    click.echo(f"{served.sheet.station}: {what} {name_of(wanted)}{back}")
    click.echo(f"  this machine    http://{wanted.host}:{port}/")
    if network:
        click.echo(f"  local network   http://{network}:{port}/   once the lead opens it")
    click.echo(f"  log and readings in {wanted.book or wanted.kept}")
    for warning in served.book.warnings:
        click.echo(f"  note: {warning}")
    click.echo("  PINs, for your eyes only:")
    for role, pin in pins.items():
        click.echo(f"    {role.value:<8} {pin}")
    click.echo("  Ctrl-C ends the console; started again it goes on where it was.")


def end_by_signals(stop: Callable[[], None]) -> None:
    """From now on who ends the console by keyboard or by signal ends it in order.

    Args:
        stop: Ends it; may be called before it has begun to serve.
    """

    def end(_number: int, _frame: object) -> None:
        stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)


def unless_interrupted(act: Callable[[], None]) -> None:
    """Do something that may be cut short from the keyboard; what comes after it may not.

    Args:
        act: Leaves nothing half done, wherever it is cut short.
    """
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        act()
    except KeyboardInterrupt:
        click.echo("cut short; the log book has everything", err=True)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
