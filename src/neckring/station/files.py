"""The files of a station: which there are, and their text."""

from __future__ import annotations

import difflib
import os
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from neckring.station.fault import Fault, quoted

LARGEST_FILE = 1_000_000
"""[bytes]; no file a person writes for a station comes near it."""

SINGLE_FILES = {"station": "station.yaml", "limits": "limits.yaml"}
OPTIONAL_FILES = {
    "people": "people.yaml",
    "kit_items": "kit_items.yaml",
    "panels": "panels.yaml",
    "drills": "drills.yaml",
}
"""Files that a station may do without."""
FOLDERS = {
    "suit": "suits",
    "wearer": "wearers",
    "run": "runs",
    "kit": "kits",
    "procedure": "procedures",
}
EXTENSION = ".yaml"

# Letters that no text editor shows or that break lines for some programs and not for others.
_UNSEEN = re.compile(
    "[^\t\n\r\x20-\x7e\u00a0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
)


class FileFault(Exception):  # noqa: N818 - it is named after what it carries
    """A file that cannot be read as text or as YAML at all."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


def file_fault(
    file: str, read: str, accepted: str, hint: str = "", line: int = 1, column: int = 1
) -> FileFault:
    """Make the exception for a fault of a whole file."""
    return FileFault(Fault(file, line, column, "file", read, accepted, hint))


@dataclass
class Found:
    """What was found in a station's folder.

    Attributes:
        faults: Of files and folders as such.
        unread: Kinds of which something could not be read, so that what refers to it cannot be
            judged.
    """

    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)

    def cannot_read(self, kind: str, faults: Iterable[Fault]) -> None:
        """Note that something of a kind could not be read."""
        for fault in faults:
            self.faults.append(fault)
            self.unread.add(kind)


def station_files(folder: Path, found: Found) -> Iterator[tuple[str, str]]:
    """Find the station's files.

    Args:
        folder: The station's folder.
        found: What is wrong with files and folders is added here.

    Yields:
        Kind (a key of `SINGLE_FILES`, `OPTIONAL_FILES` or `FOLDERS`) and path relative to the
        folder.
    """
    try:
        there = sorted(os.listdir(folder))
    except OSError as error:
        found.cannot_read("station", [_folder_fault(folder, error)])
        return
    for kind, name in SINGLE_FILES.items():
        if name in there:
            yield kind, name
        else:
            found.cannot_read(kind, [_missing_file(name, there)])
    for kind, name in OPTIONAL_FILES.items():
        if name in there:
            yield kind, name
        else:
            found.cannot_read(kind, _misspelt_file(name, there))
    for kind, name in FOLDERS.items():
        if name in there:
            yield from ((kind, path) for path in _files_in(folder, kind, found))
        else:
            found.cannot_read(kind, _misspelt_folder(name, there))


def read_text(folder: Path, file: str) -> str:
    """Read one file as text.

    Raises:
        FileFault: It cannot be opened, is too large, or is not plain UTF-8 text.
    """
    content = _read_bytes(folder / file, file)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise file_fault(file, "text saved as UTF-16", "plain text saved as UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, column = _place_of(content[: error.start].decode("latin-1"))
        raise file_fault(
            file,
            f"bytes which are not text (0x{content[error.start]:02x})",
            "plain text saved as UTF-8",
            line=line,
            column=column,
        ) from None
    _refuse_unseen(text, file)
    return text


def _refuse_unseen(text: str, file: str) -> None:
    unseen = _UNSEEN.search(text)
    if unseen is None:
        return
    line, column = _place_of(text[: unseen.start()])
    raise file_fault(
        file,
        f"a letter that cannot be shown (U+{ord(unseen.group()):04X})",
        "plain text saved as UTF-8",
        "the file may not be a text file",
        line,
        column,
    )


def _place_of(before: str) -> tuple[int, int]:
    lines = re.split("\r\n|\r|\n", before)
    return len(lines), len(lines[-1]) + 1


def _read_bytes(path: Path, file: str) -> bytes:
    try:
        described = path.stat()
        if not stat.S_ISREG(described.st_mode):
            what = "a folder" if stat.S_ISDIR(described.st_mode) else "something that is no file"
            raise file_fault(file, what, "a text file")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise file_fault(file, _why(error), "a file that can be opened") from None
    if len(content) > LARGEST_FILE:
        raise file_fault(
            file,
            f"a file of {max(described.st_size, len(content)) / 1e6:.1f} MB",
            "at most 1 MB",
            "measured data do not belong in here",
        )
    return content


def _why(error: OSError) -> str:
    reason = (error.strerror or type(error).__name__).lower()
    return f"nothing ({reason})"


def _folder_fault(folder: Path, error: OSError) -> Fault:
    return Fault(
        str(folder),
        1,
        1,
        "folder",
        _why(error),
        "a station's folder, which holds station.yaml",
        '"neckring new DIR" makes one',
    )


def _missing_file(name: str, there: list[str]) -> Fault:
    near = difflib.get_close_matches(name, there, n=1, cutoff=0.7)
    hint = f"if {quoted(near[0])} is meant to be it, rename it" if near else ""
    return Fault(name, 1, 1, "file", "nothing (no such file)", f"a file called {name}", hint)


def _misspelt_file(name: str, there: list[str]) -> Iterator[Fault]:
    own = (*SINGLE_FILES.values(), *OPTIONAL_FILES.values(), *FOLDERS.values())
    others = [entry for entry in there if entry not in own and not entry.startswith(".")]
    for near in difflib.get_close_matches(name, others, n=1, cutoff=0.85):
        yield Fault(near, 1, 1, "file", quoted(near), f'a file called "{name}"', "rename it")


def _misspelt_folder(name: str, there: list[str]) -> Iterator[Fault]:
    for near in difflib.get_close_matches(name, there, n=1, cutoff=0.75):
        yield Fault(near, 1, 1, "folder", quoted(near), f'a folder called "{name}"', "rename it")


def _files_in(folder: Path, kind: str, found: Found) -> Iterator[str]:
    name = FOLDERS[kind]
    try:
        there = sorted(os.listdir(folder / name))
    except OSError as error:
        accepted = "a folder that can be opened"
        found.cannot_read(kind, [Fault(name, 1, 1, "folder", _why(error), accepted)])
        return
    for entry in there:
        path = f"{name}/{entry}"
        if entry.startswith("."):
            continue
        if entry.endswith(EXTENSION):
            yield path
        elif entry.lower().endswith((".yaml", ".yml")):
            found.cannot_read(kind, [_wrong_ending(path, entry)])


def _wrong_ending(path: str, entry: str) -> Fault:
    better = entry.rsplit(".", 1)[0] + EXTENSION
    return Fault(
        path, 1, 1, "file", quoted(entry), "names which end in .yaml", f'rename it to "{better}"'
    )
