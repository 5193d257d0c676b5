"""A run as a folder for archives: tables, data dictionary, provenance, log, and a sum of each file.

The same run gives the same bytes. `sha256sum --check checksums.sha256`, on any machine, tells
whether a file was changed since.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from hashlib import sha256
from pathlib import Path

from neckring.live.book_export import line_of
from neckring.live.book_head import text_of
from neckring.live.entries import Entry
from neckring.records.report_csv import csv_files, csv_tables
from neckring.records.report_page import render_report, title
from neckring.records.report_records import RunReport
from neckring.whole_file import SHARED, write_whole

SUMS = "checksums.sha256"
ABOUT = """{title}, {station}

A data package made by neckring {version}.{invented}

People, suits and runs are codes; whoever keeps the key to them keeps it elsewhere. What people
wrote in their own words stands in it as they wrote it: look through events.csv before you give
this folder away, or give the redacted package.

data_dictionary.csv  every column of every table: name, unit, meaning, source
events.csv           the log book, one entry a line
log.jsonl            the log book itself, chained: a few lines of any language verify it
head.txt             the head of the log book: number of entries and digest of the last
steps.csv            steps against the kit's times
spells.csv           spells as planned and as they were
alarms.csv           alarms and who acknowledged them
readings.csv         what the sensors sent, with the flaws of each reading
estimates.csv        live estimates
plan.csv             the plan, each minute
report.html          the report
provenance.json      versions, digests, command
checksums.sha256     the SHA-256 of every other file: sha256sum --check checksums.sha256
"""


class CannotPackError(Exception):
    """A package cannot be written; says why in words."""


def package_files(report: RunReport, entries: Sequence[Entry]) -> Mapping[str, bytes]:
    """Name to content of every file of a package, the sums among them.

    Args:
        report: Of the run.
        entries: Of its log book.
    """
    about = ABOUT.format(
        title=title(report),
        station=report.station,
        version=report.provenance.version,
        invented="\nInvented data." if report.invented else "",
    )
    files = {
        "README.txt": about.encode(),
        **csv_files(csv_tables(report, entries)),
        "log.jsonl": "".join(f"{line_of(entry)}\n" for entry in entries).encode(),
        "head.txt": f"{text_of(report.provenance.head)}\n".encode(),
        "provenance.json": provenance_text(report).encode(),
        "report.html": render_report(report).encode(),
    }
    return with_sums(files)


def provenance_text(report: RunReport) -> str:
    """Where a package comes from, as JSON."""
    from_where = report.provenance
    told = {
        "neckring": from_where.version,
        "command": from_where.command,
        "station": report.station,
        "invented": report.invented,
        "rehearsal": report.rehearsal,
        "runs": dict(report.runs),
        "log": {
            "station": from_where.head.station,
            "entries": from_where.head.count,
            "digest": from_where.head.digest,
            "verified": True,
        },
        "station_files": dict(sorted(from_where.parts.items())),
        "changed_since": list(from_where.changed),
        "without_readings": from_where.readings,
    }
    return json.dumps(told, indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def with_sums(files: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """The same files with one more that holds the sum of each."""
    lines = (f"{sha256(content).hexdigest()}  {name}\n" for name, content in sorted(files.items()))
    return {**files, SUMS: "".join(lines).encode()}


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder that is not there yet or is empty: all of them, or none.

    Args:
        folder: To be made.
        files: Name to content.

    Raises:
        CannotPackError: There is something in the folder, or it cannot be written.
    """
    folder = folder.absolute()
    refuse_full(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
    except OSError as problem:
        raise CannotPackError(f"{folder}: cannot be written: {problem.strerror}") from None
    try:
        _fill(draft, files)
        draft.chmod(0o755)
        os.replace(draft, folder)
    except OSError as problem:
        raise CannotPackError(f"{folder}: cannot be written: {problem.strerror}") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def write_file(path: Path, content: bytes) -> None:
    """Write a file so that it is either the old or the whole new one, never a half.

    Raises:
        CannotPackError: It cannot be written; what was there before still is.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content, SHARED)
    except OSError as problem:
        raise CannotPackError(f"{path}: cannot be written: {problem.strerror}") from None


def refuse_full(folder: Path) -> None:
    """Say so before anything is computed when a folder cannot be made anew.

    Raises:
        CannotPackError: There is something in it, or it cannot be read.
    """
    try:
        full = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except OSError as problem:
        raise CannotPackError(f"{folder}: cannot be read: {problem.strerror}") from None
    if full:
        raise CannotPackError(
            f"{folder}: something is in it already; accepted: a folder that is empty or not there "
            "yet"
        )


def _fill(draft: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        with (draft / name).open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())


def verify_package(folder: Path) -> tuple[str, ...]:
    """Compare a package with its sums.

    Args:
        folder: Of the package.

    Returns:
        What is wrong, in words; nothing when every file is as it was written.
    """
    try:
        lines = (folder / SUMS).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as problem:
        return (f"{folder / SUMS}: it cannot be read: {problem}",)
    told: list[str] = []
    named = {}
    for number, line in enumerate(lines, 1):
        digest, mark, name = line.partition("  ")
        if not mark or len(digest) != 64 or Path(name).name != name:
            told.append(f"{SUMS}, line {number}: read {line[:80]!r}; accepted: SUM  FILE")
        else:
            named[name] = digest
    there = {path.name for path in folder.iterdir()} - {SUMS}
    told += [f"{name}: it is missing" for name in sorted(named.keys() - there)]
    told += [f"{name}: it has no sum" for name in sorted(there - named.keys())]
    for name in sorted(there & named.keys()):
        path = folder / name
        if not path.is_file() or sha256(path.read_bytes()).hexdigest() != named[name]:
            told.append(f"{name}: it is not as it was written")
    return tuple(told)
