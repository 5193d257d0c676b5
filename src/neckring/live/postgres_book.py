"""A log book in a PostgreSQL database that several stations share: one chain for each.

Chains are not woven into one: each desk goes on writing whatever the others do, and proves its own
chain alone. They are merged when they are read. One connection writes, and holds an advisory lock
as the only writer of its chain for as long as its session lives: whoever gets that lock knows that
every earlier transaction has ended, so that an unknown commit is settled by looking for its key.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from hashlib import sha256

from neckring.live.book_writer import ChainWriter, StoreError
from neckring.live.chain import Row
from neckring.live.chained_book import ChainedBook, ReadableBook
from neckring.live.postgres_rows import (
    COLUMNS,
    Connection,
    PostgresReader,
    connected,
    one,
    page_of,
    telling,
    where_of,
)
from neckring.live.postgres_schema import MISSING, SCHEMA_SQL

PATIENCE = 5.0
"""How long a lost database is waited for before somebody is told [s]."""
OTHER_CONSOLE = 1.0
"""How long the lock of a session that has just died is waited for [s]."""
FIRST_PAUSE, LONGEST_PAUSE = 0.05, 1.0


class PostgresBook(ChainedBook):
    """One station's log book in a database, open for writing."""

    def __init__(self, url: str, station: str, patience: float = PATIENCE) -> None:
        """Connect, make the table where there is none, and verify this station's chain.

        Args:
            url: As in postgresql://user@host/database.
            station: Code of the desk whose chain it is.
            patience: How long a lost database is waited for before somebody is told [s].

        Raises:
            BookError: When the database does not answer or may not be written to, when another
                console writes this chain, or when it does not verify.
        """
        where = where_of(url)
        store = PostgresStore(url, station, where, patience)
        writer = ChainWriter(store, station, f"{where}, station {station}")
        try:
            reader = PostgresReader(url, station, where)
        except BaseException:
            writer.close()
            raise
        super().__init__(writer, reader, f"{where}, station {station}", store.warnings)


def read_postgres_book(url: str, station: str) -> ReadableBook:
    """Open one station's log book to look at it.

    Raises:
        BookError: When it cannot be read or does not verify.
    """
    where = where_of(url)
    reader = PostgresReader(url, station, where)
    book = ReadableBook(reader, station, f"{where}, station {station}")
    try:
        book.verify()
    except BaseException:
        reader.close()
        raise
    return book


def lock_number(station: str) -> int:
    """Number of the advisory lock of a station's chain: 63 bits of a digest."""
    return int.from_bytes(sha256(f"neckring log book {station}".encode()).digest()[:8]) >> 1


class PostgresStore:
    """The one writing connection; used by the writing thread alone."""

    def __init__(self, url: str, station: str, where: str, patience: float) -> None:
        self._url = url
        self._station = station
        self._where = where
        self._patience = patience
        self._connection: Connection = None
        self._once_open = False
        self.warnings: tuple[str, ...] = ()

    def open(self) -> None:
        """Connect and take the lock; a database that was there before is waited for."""
        ends = time.monotonic() + (self._patience if self._once_open else OTHER_CONSOLE)
        pause = FIRST_PAUSE
        while True:
            try:
                self._connect()
            except StoreError:
                self.abandon()
                if time.monotonic() + pause > ends:
                    raise
            else:
                break
            time.sleep(pause)
            pause = min(2.0 * pause, LONGEST_PAUSE)
        self._once_open = True

    def _connect(self) -> None:
        with telling(self._where):
            connection = self._connection = connected(self._url)
            self._know(connection)
            connection.execute("SET synchronous_commit = on")
            connection.execute("SET default_transaction_isolation = 'read committed'")
            if connection.execute(MISSING).fetchone() == (True,):
                with connection.transaction():
                    for statement in SCHEMA_SQL:
                        connection.execute(statement)
            lock = connection.execute(
                "SELECT pg_try_advisory_lock(%s)", (lock_number(self._station),)
            )
            if lock.fetchone() != (True,):
                raise StoreError(
                    f"{self._where}: another console writes the log book of station "
                    f"{self._station!r}; close that one first, or look at the book without writing"
                )

    def _know(self, connection: Connection) -> None:
        """See whether this database keeps every letter, and what it has once acknowledged."""
        (letters,) = connection.execute("SHOW server_encoding").fetchone()
        if letters != "UTF8":
            raise StoreError(f"{self._where}: it keeps letters as {letters}; accepted: UTF8")
        (syncing,) = connection.execute("SHOW fsync").fetchone()
        self.warnings = (
            ()
            if syncing == "on"
            else (
                f"{self._where} does not sync to disk (fsync = {syncing}): power loss costs data",
            )
        )

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`."""
        with telling(self._where):
            while page := page_of(self._connected, self._station, after):
                yield from page
                after = page[-1].number

    def check(self) -> None:
        """The database checks its own pages and indexes."""

    def standing(self, key: str) -> Row | None:
        """The row with a key, those of the open transaction included."""
        with telling(self._where):
            return one(self._connected, self._station, "AND key = %s", key)

    def begin(self) -> None:
        """Begin a transaction."""
        with telling(self._where):
            self._connected.execute("BEGIN")

    def insert(self, row: Row) -> None:
        """Write a row into the open transaction."""
        with telling(self._where):
            self._connected.execute(
                f"INSERT INTO neckring_entry (station, {COLUMNS}) VALUES (%s, %s, %s, %s, %s, %s)",
                (self._station, row.number, row.key, row.text, row.previous, row.digest),
            )

    def commit(self) -> None:
        """Return once the transaction is on disk."""
        with telling(self._where):
            self._connected.execute("COMMIT")

    def tidy(self) -> None:
        """See that the database still answers, so that a lost one is found before a tap is."""
        with telling(self._where):
            self._connected.execute("SELECT 1")

    def abandon(self) -> None:
        """Drop the connection and whatever is not committed."""
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()

    @property
    def _connected(self) -> Connection:
        if self._connection is None:
            raise StoreError(f"{self._where}: it is not connected")
        return self._connection
