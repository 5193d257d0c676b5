"""From what people type, a file or a database's address, to a log book."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

from neckring.live.chained_book import ChainedBook, ReadableBook
from neckring.live.entries import BookError

DATABASE = ("postgresql", "postgres")
ACCEPTED = "the path of a file, as in run/log.sqlite, or postgresql://user@host/database"


def open_book(where: str | Path, station: str) -> ChainedBook:
    """Open a log book for writing, or make it; it verifies before anybody gets it.

    Args:
        where: A file, or a database as postgresql://user@host/database.
        station: Code of the desk whose chain it is.

    Raises:
        BookError: When it cannot be used; says where and why.
    """
    if not station or not station.isprintable():
        raise BookError(f"a log book needs the code of its station, not {station!r}")
    if _is_database(where):
        from neckring.live.postgres_book import PostgresBook

        return PostgresBook(str(where), station)
    from neckring.live.sqlite_book import SqliteBook

    return SqliteBook(_file(where), station)


def read_book(where: str | Path, station: str = "") -> ReadableBook:
    """Open a log book only to look at it, beside a console that writes it or after the run.

    Args:
        where: A file, or a database.
        station: Whose chain; a file and a database with only one know it themselves.

    Raises:
        BookError: When it cannot be used; says where and why.
    """
    if _is_database(where):
        from neckring.live.postgres_book import read_postgres_book

        return read_postgres_book(str(where), station or _only_station(str(where)))
    from neckring.live.sqlite_book import read_sqlite_book

    return read_sqlite_book(_file(where))


def _only_station(url: str) -> str:
    from neckring.live.postgres_rows import stations_of, where_of

    found = stations_of(url)
    if len(found) != 1:
        there = ", ".join(found) or "none"
        raise BookError(f"{where_of(url)}: say which station's log book; there are: {there}")
    return found[0]


def _is_database(where: str | Path) -> bool:
    return isinstance(where, str) and urlsplit(where).scheme in DATABASE and "://" in where


def _file(where: str | Path) -> Path:
    if isinstance(where, str) and "://" in where:
        raise BookError(f"a log book cannot be kept at {where!r}; accepted: {ACCEPTED}")
    path = Path(where)
    if not path.name or path.is_dir():
        raise BookError(f"{where}: this is a folder; accepted: {ACCEPTED}")
    return path
