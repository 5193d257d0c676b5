"""`neckring calibrate KEEP_DIR...`: numbers corrected from finished runs, as a proposed change."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from neckring.command_parts import (
    EXIT_WRONG_INPUT,
    load_or_exit,
    progress,
    station_option,
    tell_faults,
)

if TYPE_CHECKING:
    from neckring.calibration.amending import Amended
    from neckring.calibration.calibrating import Material
    from neckring.calibration.findings import Calibration
    from neckring.station.loading import LoadedStation

EXIT_NOT_WRITTEN = 1


@click.command("calibrate")
@click.argument("kept", nargs=-1, required=True, type=click.Path(path_type=Path))
@station_option
@click.option("--write", is_flag=True, help="Put the change into the station's files.")
@click.option("--json", "as_json", is_flag=True, help="Print what was found as JSON.")
@click.option(
    "--rehearsals",
    is_flag=True,
    help="Learn from simulated suits too, to try it out; then nothing can be written.",
)
@click.option(
    "--workers",
    type=click.IntRange(1, 1024),
    default=os.cpu_count() or 1,
    help="Threads; the answer does not depend on it [all cores].",
)
def calibrate(
    kept: tuple[Path, ...],
    folder: Path,
    write: bool,
    as_json: bool,
    rehearsals: bool,
    workers: int,
) -> None:
    """Correct garment, fans, battery, work and step times from the runs kept in KEPT.

    Each KEPT is the folder in which the console kept one finished run. What is found is shown with
    its bands and as a change of the station's files; only --write applies it.
    """
    if write and rehearsals:
        raise click.UsageError("--rehearsals: simulated suits must not be written; leave one away")
    station = load_or_exit(folder)
    material = _material(kept, station, folder, rehearsals)
    from neckring.calibration.calibrating import calibrate as calibrated

    with progress(as_json) as tell:
        found = calibrated(station, material, workers, tell)
    amended = _amended(station, found, folder)
    _show(found, amended, as_json)
    if write:
        _write(folder, amended)


def _material(
    kept: tuple[Path, ...], station: LoadedStation, folder: Path, rehearsals: bool
) -> Material:
    from neckring.records.calibrate_folders import CannotCalibrateError, material_of
    from neckring.station.fault import StationFaults

    try:
        return material_of(kept, station, folder, rehearsals)
    except CannotCalibrateError as error:
        _end(str(error), EXIT_WRONG_INPUT)
    except StationFaults as faults:
        tell_faults(faults)


def _amended(station: LoadedStation, found: Calibration, folder: Path) -> Amended:
    from neckring.calibration.amending import amended
    from neckring.records.calibrate_writing import CannotWriteError, check, texts_of

    try:
        made = amended(station, found.proposals(), texts_of(station, folder))
        check(folder, made)
    except CannotWriteError as error:
        _end(str(error), EXIT_NOT_WRITTEN)
    except OSError as error:
        _end(f"{error.filename}: {(error.strerror or 'error').lower()}", EXIT_WRONG_INPUT)
    return made


def _show(found: Calibration, amended: Amended, as_json: bool) -> None:
    if as_json:
        from neckring.records.calibrate_json import calibration_as_json_text

        click.echo(calibration_as_json_text(found, amended))
        return
    from rich.console import Console

    from neckring.records.calibrate_summary import print_calibration

    print_calibration(found, amended, Console())


def _write(folder: Path, amended: Amended) -> None:
    from neckring.records.calibrate_writing import CannotWriteError, lines_changed
    from neckring.records.calibrate_writing import write as write_files

    if not amended.texts:
        click.echo("nothing to write", err=True)
        return
    try:
        write_files(folder, amended)
    except CannotWriteError as error:
        _end(str(error), EXIT_NOT_WRITTEN)
    for file, count in lines_changed(amended).items():
        click.echo(f"{folder / file}: {count} line{'s' if count > 1 else ''} changed", err=True)


def _end(words: str, status: int) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(status)
