"""Rows of log books in PostgreSQL: connecting, reading, and the database's complaints in words."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from neckring.live.book_writer import StoreError
from neckring.live.chain import Row
from neckring.live.entries import BookError
from neckring.live.postgres_schema import STATIONS

if TYPE_CHECKING:
    import psycopg

Connection = Any
"""A psycopg connection; the library is imported only when a database is used."""
Answer = TypeVar("Answer")
COLUMNS = "number, key, text, previous, digest"
PAGE = 500
SETTINGS = {
    "connect_timeout": 5,
    "keepalives_idle": 5,
    "keepalives_interval": 2,
    "keepalives_count": 3,
    "tcp_user_timeout": 10_000,
    "application_name": "neckring log book",
    "client_encoding": "UTF8",
}


def driver() -> Any:  # noqa: ANN401 - the library's module
    """The library that talks to the database.

    Raises:
        BookError: When it is not installed.
    """
    try:
        import psycopg
    except ImportError:
        raise BookError(
            'a log book in PostgreSQL needs one more package: pip install "neckring[postgres]"'
        ) from None
    return psycopg


def where_of(url: str) -> str:
    """Which database, in words and without its password.

    Raises:
        BookError: When the address cannot be read.
    """
    psycopg = driver()
    try:
        parts = psycopg.conninfo.conninfo_to_dict(url)
    except psycopg.Error as error:
        raise BookError(
            f"the address of the database cannot be read ({_first_line(error)}); accepted: "
            "postgresql://user@host/database"
        ) from None
    return f"database {parts.get('dbname') or '?'} at {parts.get('host') or 'this machine'}"


def connected(url: str) -> psycopg.Connection[tuple[Any, ...]]:
    """Connect; each statement is a transaction of its own unless one is begun by hand."""
    connection: psycopg.Connection[tuple[Any, ...]] = driver().connect(
        url, autocommit=True, **SETTINGS
    )
    return connection


@contextmanager
def telling(where: str) -> Iterator[None]:
    """Turn the database's complaints into words."""
    try:
        yield
    except driver().Error as error:
        raise StoreError(f"{where}: {_first_line(error)}") from None


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]


def page_of(connection: Connection, station: str, after: int) -> list[Row]:
    """The next of a station's rows behind a number."""
    query = (
        f"SELECT {COLUMNS} FROM neckring_entry WHERE station = %s AND number > %s "
        f"ORDER BY number LIMIT {PAGE}"
    )
    return [Row(*found) for found in connection.execute(query, (station, after)).fetchall()]


def one(connection: Connection, station: str, which: str, *values: str | int) -> Row | None:
    """One row of a station."""
    found = connection.execute(
        f"SELECT {COLUMNS} FROM neckring_entry WHERE station = %s {which}", (station, *values)
    ).fetchone()
    return None if found is None else Row(*found)


def stations_of(url: str) -> list[str]:
    """Whose chains stand in a database, in alphabetical order.

    Raises:
        BookError: When it cannot be read.
    """
    where = where_of(url)
    with telling(where), connected(url) as connection:
        return [station for (station,) in connection.execute(STATIONS)]


class PostgresReader:
    """A connection that only looks, shared by several threads, made anew where it was lost."""

    def __init__(self, url: str, station: str, where: str) -> None:
        self._url = url
        self._station = station
        self._where = where
        self._alone = threading.Lock()
        with telling(where):
            self._connection: Connection = self._looking()

    def row(self, number: int) -> Row | None:
        """The row with a number."""
        return self._one("AND number = %s", number)

    def standing(self, key: str) -> Row | None:
        """The row with a key."""
        return self._one("AND key = %s", key)

    def last(self) -> Row | None:
        """The row with the highest number."""
        return self._one("ORDER BY number DESC LIMIT 1")

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`."""
        while page := self._page(after):
            yield from page
            after = page[-1].number

    def close(self) -> None:
        """Let go of the connection."""
        with self._alone:
            self._connection.close()

    def _looking(self) -> Connection:
        connection = connected(self._url)
        connection.read_only = True
        return connection

    def _one(self, which: str, *values: str | int) -> Row | None:
        return self._asked(lambda connection: one(connection, self._station, which, *values))

    def _page(self, after: int) -> list[Row]:
        return self._asked(lambda connection: page_of(connection, self._station, after))

    def _asked(self, question: Callable[[Connection], Answer]) -> Answer:
        """Ask; once more on a new connection where the old one was lost."""
        with self._alone, telling(self._where):
            try:
                return question(self._connection)
            except driver().OperationalError:
                self._connection.close()
                self._connection = self._looking()
                return question(self._connection)
