"""Forms on disk: JSON by run, wearer and number; a form that was taken is never written over."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from neckring.crew.forms import CloseOutForm
from neckring.live.sqlite_book import sync_folder
from neckring.station.fault import Fault, StationFaults, listed
from neckring.station.fields import did_you_mean
from neckring.station.files import FileFault, read_text
from neckring.station.gates import Gate
from neckring.station.loading import LoadedStation
from neckring.station.nodes import Data, Node, Step
from neckring.station.references import fault_at
from neckring.station.validation import validate
from neckring.station.yaml_reading import read_yaml

FOLDER = "forms"


def read_form(file: Path, station: LoadedStation) -> tuple[CloseOutForm, Data]:
    """Read a form that somebody filled in, and hold it against the station.

    Args:
        file: YAML or JSON.
        station: Whose run it is.

    Returns:
        The form, and what was written, to be kept.

    Raises:
        StationFaults: With every fault of the file.
    """
    tree, form = _validated(file)
    faults = list(_reference_faults(tree, form, station))
    if faults:
        raise StationFaults(faults)
    return form, tree.data()


def _validated(file: Path) -> tuple[Node, CloseOutForm]:
    try:
        tree, told = read_yaml(read_text(file.parent, file.name), file.name)
    except FileFault as refused:
        raise StationFaults([refused.fault]) from None
    form, faults = validate(CloseOutForm, tree)
    if form is None or told or faults:
        raise StationFaults([*told, *faults])
    return tree, form


def _reference_faults(tree: Node, form: CloseOutForm, station: LoadedStation) -> Iterator[Fault]:
    run = station.runs.get(form.run)
    if run is None:
        yield _unknown(tree, ("run",), form.run, "run", tuple(station.runs))
    elif form.wearer != run.wearer:
        accepted = f"{run.wearer}, who wears the suit in run {run.code}"
        yield fault_at(tree, ("wearer",), accepted)
    known = tuple(station.people.people) if station.people else ()
    if known and form.filled_by not in known:
        yield _unknown(tree, ("filled_by",), form.filled_by, "person", known)
    yield from _answer_faults(tree, form, station)
    panels = tuple(station.panels.panels) if station.panels else ()
    for place, miss in enumerate(form.near_misses or ()):
        for which, code in enumerate(miss.panels):
            if code not in panels:
                at = ("near_misses", place, "panels", which)
                yield _unknown(tree, at, code, "panel", panels)


def _answer_faults(tree: Node, form: CloseOutForm, station: LoadedStation) -> Iterator[Fault]:
    gates = station.people.gates if station.people else None
    asked: tuple[tuple[str, Gate | None], ...] = ()
    if gates is not None:
        asked = (("before", gates.entry), ("release", gates.release))
    for group, gate in asked:
        filled = getattr(form, group)
        questions = tuple(gate.questions) if gate else ()
        for code in filled.answers if filled else ():
            if code not in questions:
                yield _unknown(tree, (group, "answers", code), code, "question", questions)


def _unknown(
    tree: Node, at: tuple[Step, ...], code: str, kind: str, known: tuple[str, ...]
) -> Fault:
    said = listed(sorted(known)) or "there is none yet"
    accepted = f"the code of a {kind} of this station: {said}"
    return fault_at(tree, at, accepted, did_you_mean(code, known), f'"{code}"')


def keep_form(kept: Path, form: CloseOutForm, written: Data) -> tuple[Path, bool]:
    """Keep a form; on disk once this returns.

    Args:
        kept: The station's folder for what is kept.
        form: Valid.
        written: As it was written.

    Returns:
        Its file; and whether it is new, or the very same form lay there already.

    Raises:
        OSError: It could not be written; then nothing was.
    """
    folder = kept / FOLDER / form.run
    made = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(written, indent=1, ensure_ascii=False) + "\n"
    # Only the last one: going back to what was said before is something new.
    for file in files_of(kept, form.run, form.wearer)[-1:]:
        if file.read_text(encoding="utf-8") == text:
            return file, False
    path = _put(folder, form.wearer, text)
    for each in (folder, *(one.parent for one in made)):
        sync_folder(each)
    return path, True


def _put(folder: Path, wearer: str, text: str) -> Path:
    """Write under the next free number; two who write at once get two numbers."""
    handle, draft = tempfile.mkstemp(dir=folder, prefix=f".{wearer}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        number = 1
        while True:
            path = folder / f"{wearer}.{number:04d}.json"
            try:
                os.link(draft, path)
            except FileExistsError:
                number += 1
            else:
                os.chmod(path, 0o644)
                return path
    finally:
        Path(draft).unlink(missing_ok=True)


def files_of(kept: Path, run: str, wearer: str) -> list[Path]:
    """Files of a run's forms, the oldest first."""
    folder = kept / FOLDER / run
    found = (file for file in folder.glob(f"{wearer}.*.json") if _number(file) is not None)
    return sorted(found, key=lambda file: _number(file) or 0) if folder.is_dir() else []


def _number(file: Path) -> int | None:
    """Number of a form's file; None for a file of somebody else."""
    part = file.name.split(".")[-2]
    return int(part) if part.isdecimal() else None


def kept_forms(kept: Path, run: str, wearer: str) -> list[CloseOutForm]:
    """Every form of a run, the oldest first.

    Args:
        kept: The station's folder for what is kept.
        run: Code.
        wearer: Code.

    Raises:
        StationFaults: One cannot be read any more; the others are left as they are.
    """
    return [_validated(file)[1] for file in files_of(kept, run, wearer)]
