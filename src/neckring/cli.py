"""The `neckring` command. Nothing heavy is imported before a command needs it."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

if TYPE_CHECKING:
    from neckring.station.fault import Fault
    from neckring.station.loading import LoadedStation

EXIT_WRONG_INPUT = 2

LATE_COMMANDS: Mapping[str, tuple[str, str]] = {
    "compare": (
        "neckring.compare_command:compare",
        "Set several runs, or one run otherwise, beside each other.",
    ),
    "fit": ("neckring.fit_command:fit", "Which suit fits whom on paper, with which settings."),
    "sheets": (
        "neckring.sheets_command:sheets",
        "Procedure sheets, emergency cards, brief, counts and labels on paper.",
    ),
    "console": (
        "neckring.console_command:console",
        "Serve a run on the day: steps, calls, clocks, sensors, alarms, log.",
    ),
    "rehearse": (
        "neckring.rehearse_command:rehearse",
        "The console on simulated suits, with a trainer who breaks things.",
    ),
    "prove": (
        "neckring.prove_command:prove",
        "Examine a procedure: can anything go wrong, what catches it, how fast is the way out?",
    ),
    "listen": (
        "neckring.listen_command:listen",
        "Show what the sensors of a suit send, and what it is taken for.",
    ),
    "crew": ("neckring.crew_command:crew", "Who may fill which part on a day, and why not."),
    "kit": ("neckring.kit_command:kit", "The kit by serial number: counts, faults, go or no-go."),
    "close": (
        "neckring.close_command:close",
        "Close a run out: forms, mass, release, near misses.",
    ),
    "report": (
        "neckring.report_command:report",
        "The record of a run against its plan, for the safety board; or of a whole campaign.",
    ),
    "calibrate": (
        "neckring.calibrate_command:calibrate",
        "Numbers corrected from logged runs, as a change to the station's files to be accepted.",
    ),
    "log": (
        "neckring.log_command:log",
        "Verify a run's log book, copy it out, hold it against a head kept elsewhere.",
    ),
    "plan": ("neckring.plan_command:plan", "Compute a run: may it go, what binds, what is left."),
}
"""Commands in modules of their own: name to place, and the line that --help shows for it."""

CAUTION = (
    "neckring estimates; it clears nobody to enter a suit. A medical professional and the local "
    "safety bodies set and sign limits, and local codes stand above it. Any symptom stops the run."
)


class LateGroup(click.Group):
    """A group whose late commands are imported when they are called, not when they are listed."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All commands, in the order of the alphabet."""
        return sorted({*super().list_commands(ctx), *LATE_COMMANDS})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Find a command; a late one is imported now."""
        if cmd_name not in LATE_COMMANDS:
            return super().get_command(ctx, cmd_name)
        module, name = LATE_COMMANDS[cmd_name][0].split(":")
        found: click.Command = getattr(import_module(module), name)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands with one line each, importing none."""
        own = {name: command.get_short_help_str(100) for name, command in self.commands.items()}
        late = {name: line for name, (_, line) in LATE_COMMANDS.items()}
        with formatter.section("Commands"):
            formatter.write_dl(sorted({**own, **late}.items()))


@click.group(cls=LateGroup, epilog=CAUTION)
@click.version_option(package_name="neckring")
def main() -> None:
    """Plan suited runs in heavy, closed, cooled training suits."""


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("."))
@click.option("--json", "as_json", is_flag=True, help="Print faults and warnings as JSON.")
def check(folder: Path, as_json: bool) -> None:
    """Read every file of a station and tell all its faults at once.

    FOLDER holds station.yaml; it is the current folder when left out. The exit status is 0 when
    the station can be used and 2 when it cannot.
    """
    from neckring.station.fault import StationFaults
    from neckring.station.loading import load_station

    station: LoadedStation | None = None
    faults: tuple[Fault, ...] = ()
    try:
        station = load_station(folder)
    except StationFaults as found:
        faults = found.faults
    warnings = station.warnings if station else ()
    if as_json:
        _print_json(faults, warnings)
    else:
        _print_lines(folder, station, faults)
    if faults:
        sys.exit(EXIT_WRONG_INPUT)


@main.command()
@click.argument("kind", required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write KIND.schema.json for each kind into this folder.",
)
def schema(kind: str | None, out: Path | None) -> None:
    """Print the JSON Schema of a KIND of file, for editors.

    Without KIND the kinds are listed; with --out all of them, or the one named, are written.
    """
    from neckring.station.schema import FILES, schema_text

    if kind is not None and kind not in FILES:
        _refuse(f'KIND: read "{kind}"; accepted: {", ".join(FILES)}')
    chosen = [kind] if kind else list(FILES)
    if out is not None:
        _write_schemas(out, {f"{name}.schema.json": schema_text(name) for name in chosen})
    elif kind:
        click.echo(schema_text(kind))
    else:
        for name in chosen:
            click.echo(f"{name:<9} {FILES[name]}")


@main.command()
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--demo", is_flag=True, help="Write the invented demo station, Tarn Quarry.")
def new(directory: Path, demo: bool) -> None:
    """Write a new station into DIR, which must be empty or not there yet.

    The files hold comments and example values; replace the values with your own.
    """
    from neckring.station.new_station import CannotWriteError, write_new_station

    try:
        write_new_station(directory, "demo" if demo else "starter")
    except CannotWriteError as refused:
        _refuse(f"DIR: {refused}")
    click.echo(f'{directory} written; "neckring check {directory}" reads it')


def _refuse(message: str) -> NoReturn:
    click.echo(message, err=True)
    sys.exit(EXIT_WRONG_INPUT)


def _print_json(faults: tuple[Fault, ...], warnings: tuple[Fault, ...]) -> None:
    import json

    told = {
        "usable": not faults,
        "faults": [fault.as_record() for fault in faults],
        "warnings": [warning.as_record() for warning in warnings],
    }
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def _print_lines(folder: Path, station: LoadedStation | None, faults: tuple[Fault, ...]) -> None:
    for fault in faults:
        click.echo(str(fault))
    if station is None:
        many = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        click.echo(f"{folder}: {many}; the station cannot be used until they are mended")
        return
    for warning in station.warnings:
        click.echo(f"warning: {warning}")
    counts = {
        "limit": len(station.limits.limits),
        "suit": len(station.suits),
        "wearer": len(station.wearers),
        "run": len(station.runs),
        "kit": len(station.kits),
        "procedure": len(station.procedures),
    }
    words = ", ".join(f"{n} {kind}{'' if n == 1 else 's'}" for kind, n in counts.items())
    click.echo(f"{station.station.name}: no fault; {words}")


def _write_schemas(folder: Path, texts: Mapping[str, str]) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            draft = folder / f".{name}.draft"
            draft.write_text(text + "\n", encoding="utf-8")
            draft.replace(folder / name)
    except OSError as problem:
        _refuse(f"{folder}: cannot be written: {(problem.strerror or 'unknown').lower()}")
    for name in texts:
        click.echo(str(folder / name))
