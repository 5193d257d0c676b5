"""Kept folders of finished runs, read for a calibration: log book and readings, or why not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from neckring.calibration.calibrating import Material
from neckring.calibration.logged import Logged, Series, learned_until, round_times, series_of
from neckring.calibration.replay import LEARNED_FROM
from neckring.calibration.step_times import Timed, timed_steps
from neckring.live.bodies import text_group_in, text_in, texts_in
from neckring.live.entries import BookError, Entry, Kind
from neckring.live.open_book import read_book
from neckring.live.readings_file import ReadingsError, ReadingsReader
from neckring.live.run_sheet import RunSheet, run_sheet
from neckring.live.sensors.channels import wire
from neckring.live.usable_readings import spells_of
from neckring.station.drills import read_drills
from neckring.station.fault import StationFaults, listed
from neckring.station.loading import LoadedStation

LOG_BOOK, READINGS = "log.sqlite", "readings.sqlite"
ACCEPTED = (
    f"a folder in which `neckring console` kept a run that is closed, with {LOG_BOOK} and "
    f"{READINGS} in it"
)


class CannotCalibrateError(Exception):
    """Nothing can be learned from a folder; says why and what is accepted."""


@dataclass(frozen=True, eq=False)
class Kept:
    """One kept folder.

    Attributes:
        name: As typed.
        opened: When the run was opened, seconds since 1970.
        digest: Of the log's end.
        logged: Each wearer's part.
        timed: Steps done.
        cautions: What was noticed.
    """

    name: str
    opened: float
    digest: str
    logged: tuple[Logged, ...]
    timed: tuple[Timed, ...]
    cautions: tuple[str, ...]


def material_of(
    folders: Sequence[Path], loaded: LoadedStation, station: Path, rehearsals: bool = False
) -> Material:
    """Read kept folders.

    Args:
        folders: At least one.
        loaded: The station.
        station: Its folder.
        rehearsals: Whether runs on simulated suits are learned from too.

    Raises:
        CannotCalibrateError: A folder holds no finished run of this station, or one twice.
        StationFaults: The file of drills is wrong.
    """
    kept = [kept_run(folder, loaded, rehearsals) for folder in folders]
    seen: dict[str, str] = {}
    for one in kept:
        if one.digest in seen:
            raise CannotCalibrateError(
                f"{one.name}: the same run as {seen[one.digest]}; accepted: each run once, as its "
                "readings must not count twice"
            )
        seen[one.digest] = one.name
    kept.sort(key=lambda one: one.opened)
    material = Material(
        [logged for one in kept for logged in one.logged],
        [timed for one in kept for timed in one.timed],
        read_drills(station),
        tuple(caution for one in kept for caution in one.cautions),
    )
    if not any(logged.series for logged in material.logged) and not material.timed:
        names = listed([one.name for one in kept])
        raise CannotCalibrateError(
            f"{names}: neither a good reading nor a step done; accepted: {ACCEPTED}"
        )
    return material


def kept_run(folder: Path, loaded: LoadedStation, rehearsals: bool = False) -> Kept:
    """Read one kept folder.

    Raises:
        CannotCalibrateError: It holds no finished run of this station.
    """
    entries, digest = _entries(folder)
    opened = next((e for e in entries if e.deed.kind is Kind.RUN_OPENED), None)
    if opened is None:
        raise _refused(folder, "its log book holds no run")
    if not any(entry.deed.kind is Kind.RUN_CLOSED for entry in entries):
        raise _refused(folder, "the run is still open", "close it on the console first")
    sheet = _sheet(folder, opened, loaded)
    is_rehearsal = _is_rehearsal(sheet, opened)
    if is_rehearsal and not rehearsals:
        raise _refused(
            folder,
            "a rehearsal, whose suits were simulated: it tells nothing of yours",
            "to try it out add --rehearsals; then nothing can be written",
        )
    found = []
    cautions = _cautions(folder, sheet, opened, is_rehearsal)
    for letter in sheet.letters:
        logged, why = _logged(folder, entries, sheet, letter, loaded)
        if logged is not None:
            found.append(logged)
        if why:
            cautions += (why,)
    timed = tuple(timed_steps(entries, loaded.procedures, str(folder)))
    return Kept(str(folder), opened.stamp.wall, digest, tuple(found), timed, cautions)


def _refused(folder: Path, why: str, hint: str = "") -> CannotCalibrateError:
    words = f"{folder}: {why}; accepted: {ACCEPTED}"
    return CannotCalibrateError(f"{words}; {hint}" if hint else words)


def _entries(folder: Path) -> tuple[list[Entry], str]:
    if not folder.is_dir():
        raise _refused(folder, "there is no such folder")
    path = folder / LOG_BOOK
    if not path.is_file():
        raise _refused(folder, f"no {LOG_BOOK} is in it")
    try:
        book = read_book(path)
        try:
            return list(book.entries()), book.head().digest
        finally:
            book.close()
    except BookError as error:
        raise CannotCalibrateError(f"{error}; accepted: {ACCEPTED}") from None


def _sheet(folder: Path, opened: Entry, loaded: LoadedStation) -> RunSheet:
    """What was carried out, from the station as it is now."""
    runs = texts_in(opened.deed.body, "runs")
    unknown = [code for code in runs if code not in loaded.runs]
    if unknown or not runs:
        known = listed(sorted(loaded.runs)) or "none yet"
        read = f'the run "{unknown[0]}"' if unknown else "no run at all"
        raise CannotCalibrateError(
            f"{folder}: its log book is of {read}; accepted: runs of this station, with their "
            f"wearers and suits: {known}"
        )
    try:
        return run_sheet(loaded, *runs[:2], uncaught=lambda _listed, _digest: frozenset())
    except StationFaults as faults:
        said = "; ".join(str(fault) for fault in faults.faults)
        raise CannotCalibrateError(
            f"{folder}: the station does not hold this run any more: {said}"
        ) from None


def _is_rehearsal(sheet: RunSheet, opened: Entry) -> bool:
    """Whether suits were simulated: only then the logged digest comes out."""
    parts = text_group_in(opened.deed.body, "parts")
    simulated = replace(sheet, parts=parts, rehearsal=True)
    return simulated.digest == text_in(opened.deed.body, "sheet")


def _cautions(folder: Path, sheet: RunSheet, opened: Entry, is_rehearsal: bool) -> tuple[str, ...]:
    found: tuple[str, ...] = ()
    if is_rehearsal:
        found += (f"{folder}: a rehearsal on simulated suits; nothing of it may be written.",)
    parts = text_group_in(opened.deed.body, "parts")
    changed = [
        file
        for file in sheet.changed_since(parts)
        if file.startswith(("suits/", "wearers/", "runs/", "kits/", "station.yaml"))
    ]
    if parts and changed:
        found += (
            f"{folder}: changed since this run: {listed(changed)}. If these figures were "
            "corrected from this very run, its readings would count twice.",
        )
    return found


def _logged(
    folder: Path,
    entries: Sequence[Entry],
    sheet: RunSheet,
    letter: str,
    loaded: LoadedStation,
) -> tuple[Logged | None, str]:
    """One wearer's part, or why there is none."""
    run = sheet.wearers[letter].run
    last = len(run.outing)
    doings = tuple(one for one in spells_of(entries, letter) if 0 <= one.number < last)
    if not doings:
        return None, f"{folder}: wearer {letter} began no spell; nothing is learned from readings."
    until, why = learned_until(entries, letter)
    logged = Logged(str(folder), run.code, letter, run.wearer, run.suit, doings, until, why)
    path = folder / READINGS
    if not path.is_file():
        words = f"{folder}: no {READINGS} is in it; only step times are learned."
        return logged, words if letter == sheet.letters[0] else ""
    try:
        reader = ReadingsReader(path)
    except ReadingsError as error:
        raise CannotCalibrateError(f"{error}; accepted: {ACCEPTED}") from None
    try:
        series, left_out = _series(reader, logged, loaded)
    finally:
        reader.close()
    return replace(logged, series=series, left_out=left_out), ""


def _series(
    reader: ReadingsReader, logged: Logged, loaded: LoadedStation
) -> tuple[tuple[Series, ...], Mapping[str, str]]:
    """Of several channels of one quantity the most accurate one that said something."""
    (wired,) = wire([(logged.letter, loaded.suits[logged.suit])])
    rounds = round_times(logged.doings, logged.until)
    found: dict[str, Series] = {}
    left_out: dict[str, str] = {}
    for channel in sorted(wired.channels, key=lambda one: one.expected.accuracy):
        if channel.quantity not in LEARNED_FROM:
            left_out[channel.name] = "the model computes no such reading"
            continue
        if channel.quantity in found:
            other = found[channel.quantity].channel
            left_out[channel.name] = f"{other} measures the same, at least as accurately"
            continue
        columns = reader.columns(logged.letter, channel.name)
        good = columns.where(columns.good)
        one = series_of(
            channel.quantity,
            channel.name,
            channel.expected.accuracy,
            good.run_time,
            good.value,
            rounds,
        )
        if one is None:
            left_out[channel.name] = "no good reading" if len(columns) else "nothing came"
        else:
            found[channel.quantity] = one
    return tuple(found.values()), left_out
