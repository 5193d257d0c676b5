"""Proposals written into the station's files: whole, checked before and after, or not at all."""

from __future__ import annotations

import shutil
import stat
import tempfile
from collections.abc import Mapping
from difflib import SequenceMatcher
from pathlib import Path

from neckring.calibration.amending import Amended
from neckring.station.fault import StationFaults
from neckring.station.files import EXTENSION
from neckring.station.loading import LoadedStation, load_station
from neckring.whole_file import write_whole

MARK = "\ufeff"
"""Some editors put it before a text; it is no letter of it."""


class CannotWriteError(Exception):
    """Nothing was written, or all was put back; says why."""


def texts_of(loaded: LoadedStation, folder: Path) -> dict[str, str]:
    """Every file of suits, wearers and kits as it is written, line ends and all."""
    files = [file for kind in ("suit", "wearer", "kit") for file in loaded.trees[kind]]
    return {file: _read(folder / file).removeprefix(MARK) for file in files}


def _read(path: Path) -> str:
    return path.read_bytes().decode("utf-8")


def check(folder: Path, amended: Amended) -> None:
    """See whether the station would be in order, on a copy.

    Raises:
        CannotWriteError: It would not; nothing was written.
    """
    with tempfile.TemporaryDirectory() as made:
        copy = Path(made) / "station"
        shutil.copytree(folder, copy, ignore=_only_written)
        for file, text in amended.texts.items():
            (copy / file).write_bytes(text.encode("utf-8"))
        try:
            load_station(copy)
        except StationFaults as faults:
            raise CannotWriteError(
                f"the station would not be in order, nothing was written: {faults}"
            ) from None


def _only_written(folder: str, names: list[str]) -> list[str]:
    """What a station's check does not read."""
    return [
        name
        for name in names
        if not name.endswith(EXTENSION) and not (Path(folder) / name).is_dir()
    ]


def write(folder: Path, amended: Amended) -> None:
    """Replace the files, each as a whole, and check the station again.

    Raises:
        CannotWriteError: Something went wrong; the files are as they were.
    """
    check(folder, amended)
    changed = [file for file, text in amended.before.items() if not _is_still(folder / file, text)]
    if changed:
        raise CannotWriteError(
            f"{', '.join(changed)}: changed meanwhile; nothing was written, calibrate again"
        )
    done: list[str] = []
    try:
        for file, text in amended.texts.items():
            _replace(folder / file, text)
            done.append(file)
        load_station(folder)
    except (OSError, StationFaults) as problem:
        for file in done:
            _replace(folder / file, amended.before[file])
        words = problem.strerror if isinstance(problem, OSError) else str(problem)
        raise CannotWriteError(f"{folder}: {words}; all files are as they were") from None


def _is_still(path: Path, text: str) -> bool:
    return _read(path).removeprefix(MARK) == text


def _replace(path: Path, text: str) -> None:
    """Put a whole new file in the place of an old one, on disk before it has the name."""
    real = path.resolve()
    mark = MARK if _read(real).startswith(MARK) else ""
    write_whole(real, f"{mark}{text}", stat.S_IMODE(real.stat().st_mode))


def lines_changed(amended: Amended) -> Mapping[str, int]:
    """How many lines of each file change."""
    return {
        file: sum(
            last - first if tag != "equal" else 0
            for tag, _, _, first, last in SequenceMatcher(
                None, amended.before[file].splitlines(), text.splitlines(), autojunk=False
            ).get_opcodes()
        )
        for file, text in amended.texts.items()
    }
