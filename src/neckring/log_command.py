"""`neckring log WHERE`: a run's log book verified, copied out, held against a head on paper."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import FILE, refuse, write_whole

if TYPE_CHECKING:
    from neckring.live.book_head import Comparison
    from neckring.live.chained_book import ReadableBook
    from neckring.live.entries import Head

EXIT_NOT_THE_SAME = 1
LOG_BOOK = "log.sqlite"


@dataclass(frozen=True)
class Seen:
    """A book looked through once.

    Attributes:
        head: Its end.
        comparison: How it stands to a head kept elsewhere; None when none was given.
    """

    head: Head
    comparison: Comparison | None


@click.command("log")
@click.argument("where")
@click.option("--stations", is_flag=True, help="List the chains of a database, and end.")
@click.option("--chain", default="", help="Whose chain of a database; needed when it has several.")
@click.option("--head", "kept", default=None, help="A head kept elsewhere, as read from its code.")
@click.option("--paper", type=FILE, default=None, help="Write a page with the head as a QR code.")
@click.option("--export", type=FILE, default=None, help="Write all entries as JSON Lines.")
@click.option("--backup", type=FILE, default=None, help="Copy the file, also while it is written.")
def log(
    where: str,
    stations: bool,
    chain: str,
    kept: str | None,
    paper: Path | None,
    export: Path | None,
    backup: Path | None,
) -> None:
    """Verify the log book WHERE: a run's folder, its file, an export, or a database's address.

    Every entry is held against the chain; a chain that does not verify is refused with the place.
    With --head it is held against a head kept elsewhere too: status 1 when entries are missing.
    """
    from neckring.live.entries import BookError

    try:
        if stations:
            _tell_stations(where)
            return
        seen = _verified(where, chain, export, kept)
        if backup is not None:
            _back_up(where, backup)
        _tell(seen.head, paper)
        if seen.comparison is not None:
            _tell_comparison(seen.comparison)
    except BookError as error:
        refuse(str(error))


def _place(where: str) -> str | Path:
    """A folder means the log book in it."""
    path = Path(where)
    return path / LOG_BOOK if "://" not in where and path.is_dir() else where


def _is_export(where: str) -> bool:
    return where.endswith((".jsonl", ".ndjson"))


def _opened(where: str, chain: str) -> ReadableBook:
    from neckring.live.open_book import read_book

    return read_book(_place(where), chain)


def _tell_stations(where: str) -> None:
    from neckring.live.postgres_rows import stations_of

    for station in stations_of(where):
        click.echo(station)


def _verified(where: str, chain: str, export: Path | None, kept: str | None) -> Seen:
    """Verify once, and do with the open book what was asked."""
    from neckring.live import book_export
    from neckring.live.book_head import compare, read_head
    from neckring.live.entries import BookError

    if _is_export(where):
        if kept is not None:
            raise BookError("--head: an export is compared by the head that is printed of it")
        return Seen(book_export.verify_export(Path(where)), None)
    book = _opened(where, chain)
    try:
        head = book.verify()
        if export is not None:
            count = book_export.write_export(book.entries(), export)
            click.echo(f"{export}: {count} entries")
        return Seen(head, None if kept is None else compare(book, read_head(kept)))
    finally:
        book.close()


def _back_up(where: str, backup: Path) -> None:
    from neckring.live import book_export

    copied = book_export.backup(Path(_place(where)), backup)
    click.echo(f"{backup}: {copied.count} entries, verified")


def _tell(head: Head, paper: Path | None) -> None:
    from neckring.live.book_head import picture_of, text_of, words_of

    click.echo(f"the chain verifies. {words_of(head)}")
    click.echo(text_of(head))
    if paper is not None:
        from markupsafe import Markup

        from neckring.records.page_frame import environment

        sheet = environment().get_template("head.html.j2")
        picture = Markup(picture_of(head))
        write_whole(paper, sheet.render(words=words_of(head), picture=picture, text=text_of(head)))
        click.echo(f"{paper}: print it, and keep it apart from the machine")


def _tell_comparison(found: Comparison) -> None:
    """Say how the book stands to a head kept elsewhere; status 1 when it is not that book whole."""
    from neckring.live.book_head import IN_WORDS

    click.echo(IN_WORDS[found])
    if found in ("cut", "another chain"):
        sys.exit(EXIT_NOT_THE_SAME)
