"""A disk that loses power: from the record of a process's calls to what may be left of its files.

What a disk promises, and no more, is POSIX's fsync: when it returns, everything written to that
file before it began is kept; when it returns for a folder, the names made and taken away in it
before are. All else may be kept, lost, kept in any order, or torn:

- a write that was not synced is kept or not in each of its 512-byte sectors by itself, and a sector
  may be torn at any byte;
- where a file grew, what was not kept may hold zeros or leftovers of other files;
- a cut of a file that was not synced is kept or not;
- names made, or taken away, in a folder that was not synced are kept up to some instant: a journal
  keeps their order. Syncing a file does not keep its name.

What is mapped into memory (the `-shm` file) is never synced and may hold anything.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from random import Random
from typing import TypeAlias

SECTOR = 512
OPEN, WRITE, CUT, SYNC_BEGINS, SYNC_ENDS, UNLINK, MAKE_FOLDER, STRANGE = "OWTBSUM!"
Image: TypeAlias = "dict[str, bytes | None]"
"""Files by path; a folder has no content."""
_HEAD = struct.Struct("<cQqq")
MEMORY = "-shm"
TOLD = "told"
"""The file whose content left the machine at once: what clients were told. It is never lost."""


@dataclass(frozen=True)
class Call:
    """One thing that was done to the files."""

    letter: str
    file: int
    offset: int
    data: bytes

    @property
    def path(self) -> str:
        return self.data.decode()


def read_trace(path: Path) -> list[Call]:
    """The record of a process; its last call may be cut where it died."""
    raw, at, calls = path.read_bytes(), 0, []
    while at + _HEAD.size <= len(raw):
        letter, file, offset, length = _HEAD.unpack_from(raw, at)
        at += _HEAD.size
        if at + length > len(raw):
            break
        calls.append(Call(letter.decode(), file, offset, raw[at : at + length]))
        at += length
    strange = [call.path for call in calls if call.letter == STRANGE]
    assert not strange, f"calls that the record does not understand: {strange}"
    return calls


@dataclass
class File:
    """One file: what is kept for sure, and what was done to it since."""

    kept: bytes
    since: list[tuple[int, Call]] = field(default_factory=list)
    syncs: list[int] = field(default_factory=list)

    def sync_ended(self) -> None:
        """All that was done before the sync began is kept for sure."""
        begun = self.syncs.pop(0)
        content = bytearray(self.kept)
        for when, call in self.since:
            if when < begun:
                _do(content, call)
        self.kept = bytes(content)
        self.since = [(when, call) for when, call in self.since if when >= begun]


@dataclass
class Name:
    """A name made or taken away, and not yet for sure."""

    when: int
    path: str
    file: int | None


class Disk:
    """The files of one folder while calls are made, and what is left when power fails."""

    def __init__(self, image: Image) -> None:
        """Begin with files, all of them kept for sure; a folder is a path without content."""
        self._names: dict[str, int | None] = {}
        self._files: dict[int, File] = {}
        self._made: list[Name] = []
        self._folders: dict[int, tuple[str, list[int]]] = {}
        self._unopened = dict(image)
        self._now = 0

    def do(self, call: Call) -> None:
        """Go on by one call."""
        self._now += 1
        if call.letter == OPEN:
            self._open(call)
        elif call.letter in (WRITE, CUT):
            self._files[call.file].since.append((self._now, call))
        elif call.letter in (SYNC_BEGINS, SYNC_ENDS):
            self._sync(call)
        elif call.letter == UNLINK:
            self._made.append(Name(self._now, call.path, None))
        elif call.letter == MAKE_FOLDER:
            self._made.append(Name(self._now, call.path, 0))

    def _open(self, call: Call) -> None:
        created = call.offset == 1
        if created:
            self._files[call.file] = File(b"")
            self._made.append(Name(self._now, call.path, call.file))
        elif call.file not in self._files and call.file not in self._folders:
            content = self._unopened.get(call.path)
            if content is None:
                self._folders[call.file] = (call.path, [])
            else:
                del self._unopened[call.path]
                self._files[call.file] = File(content)
                self._names[call.path] = call.file

    def _sync(self, call: Call) -> None:
        if call.file in self._folders:
            path, syncs = self._folders[call.file]
            if call.letter == SYNC_BEGINS:
                syncs.append(self._now)
            else:
                self._keep_names(path, syncs.pop(0))
        elif call.letter == SYNC_BEGINS:
            self._files[call.file].syncs.append(self._now)
        else:
            self._files[call.file].sync_ended()

    def _keep_names(self, folder: str, begun: int) -> None:
        """Names in a folder are kept once it was synced."""
        here = [n for n in self._made if n.when < begun and _folder_of(n.path) == folder]
        for name in here:
            self._set(self._names, name)
        self._made = [name for name in self._made if name not in here]

    def _set(self, names: dict[str, int | None], name: Name) -> None:
        names[name.path] = name.file
        if name.file is None:
            del names[name.path]
            self._unopened.pop(name.path, None)

    def told(self) -> bytes:
        """What clients were told so far."""
        for file in self._names_now().items():
            if file[0] == TOLD and file[1] is not None:
                return self._content_now(file[1])
        return b""

    def _names_now(self) -> dict[str, int | None]:
        names = dict(self._names)
        for name in self._made:
            if name.file is None:
                names.pop(name.path, None)
            else:
                names[name.path] = name.file
        return names

    def _content_now(self, file: int) -> bytes:
        content = bytearray(self._files[file].kept)
        for _, call in self._files[file].since:
            _do(content, call)
        return bytes(content)

    def now(self) -> Image:
        """The files as the running process sees them."""
        found = dict(self._unopened)
        for path, file in self._names_now().items():
            found[path] = self._content_now(file) if file else None
        return {path: content for path, content in found.items() if not path.endswith(MEMORY)}

    def after_power_loss(self, chance: Random) -> Image:
        """One of the many ways in which the files may be left when power fails now."""
        names = dict(self._names)
        unopened = dict(self._unopened)
        for name in self._made[: chance.randint(0, len(self._made))]:
            unopened.pop(name.path, None)
            if name.file is None:
                names.pop(name.path, None)
            else:
                names[name.path] = name.file
        found = {path: content for path, content in unopened.items() if path != TOLD}
        for path, file in names.items():
            if path.endswith(MEMORY):
                found[path] = chance.choice((b"", chance.randbytes(32768)))
            elif path != TOLD:
                found[path] = _left(self._files[file], chance) if file else None
        return _reachable(found)


def _folder_of(path: str) -> str:
    return str(PurePosixPath(path).parent)


def _reachable(found: Image) -> Image:
    """Without the files whose folder's own name was lost."""
    return {
        path: content
        for path, content in found.items()
        if _folder_of(path) == "." or _folder_of(path) in found
    }


def _do(content: bytearray, call: Call) -> None:
    """Write into a file, or cut it."""
    if call.letter == CUT:
        del content[call.offset :]
        content.extend(bytes(call.offset - len(content)))
    else:
        content.extend(bytes(max(0, call.offset - len(content))))
        content[call.offset : call.offset + len(call.data)] = call.data


def _left(file: File, chance: Random) -> bytes:
    """What is left of a file: what is for sure, and some of what was done since."""
    content = bytearray(file.kept)
    leftovers = chance.random() < 0.3
    share = chance.choice((0.0, 0.5, 0.9, 1.0, chance.random()))
    in_order = chance.random() < 0.5
    last = chance.randint(0, len(file.since)) if in_order else len(file.since)
    for place, (_, call) in enumerate(file.since):
        if in_order and place > last:
            break
        for piece in _pieces(call):
            if (in_order and place < last) or chance.random() < share:
                _grow(content, piece, leftovers, chance)
                _do(content, _torn(piece, chance))
    return bytes(content)


def _pieces(call: Call) -> Iterator[Call]:
    """A write in sectors."""
    if call.letter == CUT:
        yield call
        return
    at = 0
    while at < len(call.data):
        length = SECTOR - (call.offset + at) % SECTOR
        yield Call(WRITE, call.file, call.offset + at, call.data[at : at + length])
        at += length


def _torn(piece: Call, chance: Random) -> Call:
    """Now and then only the beginning, or only the end, of a sector arrives."""
    if piece.letter == CUT or chance.random() > 0.05:
        return piece
    at = chance.randint(0, len(piece.data))
    if chance.random() < 0.5:
        return Call(WRITE, piece.file, piece.offset, piece.data[:at])
    return Call(WRITE, piece.file, piece.offset + at, piece.data[at:])


def _grow(content: bytearray, piece: Call, leftovers: bool, chance: Random) -> None:
    """Where a file grew over what was not kept, there are zeros or leftovers."""
    if piece.letter == WRITE and leftovers and piece.offset > len(content):
        content.extend(chance.randbytes(piece.offset - len(content)))


def lay_out(image: Image, folder: Path) -> None:
    """Write files into an empty folder."""
    folder.mkdir(parents=True)
    for path, content in sorted(image.items()):
        if content is None:
            (folder / path).mkdir()
        else:
            (folder / path).write_bytes(content)


def taken_up(folder: Path) -> Image:
    """The files of a folder, without what lives in memory only."""
    return {
        str(path.relative_to(folder)): None if path.is_dir() else path.read_bytes()
        for path in folder.rglob("*")
        if not path.name.endswith(MEMORY)
    }
