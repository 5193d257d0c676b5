"""The tables of a log book in SQLite, and what is known of SQLite's versions."""

from __future__ import annotations

LOG_BOOK = 0x4E4B4C42
"""Marks the file as a log book (SQLite's application_id)."""
VERSION = 1
"""Of these tables."""
NOT_OURS = "this file is no log book of neckring; it was left as it is"

SCHEMA_SQL = (
    "CREATE TABLE book (station TEXT NOT NULL) STRICT",
    """CREATE TABLE entry (
        number INTEGER PRIMARY KEY,
        key TEXT NOT NULL UNIQUE,
        text TEXT NOT NULL,
        previous TEXT NOT NULL,
        digest TEXT NOT NULL
    ) STRICT""",
    """CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
    BEGIN SELECT RAISE(ABORT, 'an entry of a log book is never changed'); END""",
    """CREATE TRIGGER entry_is_kept BEFORE DELETE ON entry
    BEGIN SELECT RAISE(ABORT, 'an entry of a log book is never deleted'); END""",
    # Without this one INSERT OR REPLACE would delete, and wake no trigger of deletion.
    """CREATE TRIGGER entry_follows BEFORE INSERT ON entry
    WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
      OR EXISTS (SELECT 1 FROM entry WHERE key = NEW.key)
      OR NEW.previous IS NOT
         (SELECT coalesce((SELECT digest FROM entry ORDER BY number DESC LIMIT 1), NEW.previous))
    BEGIN SELECT RAISE(ABORT, 'an entry of a log book stands behind the last, once'); END""",
    """CREATE TRIGGER book_stays BEFORE UPDATE ON book
    BEGIN SELECT RAISE(ABORT, 'a log book keeps its station'); END""",
    """CREATE TRIGGER book_is_kept BEFORE DELETE ON book
    BEGIN SELECT RAISE(ABORT, 'a log book keeps its station'); END""",
)

_FAULT_SINCE = (3, 7, 0)
_MENDED = {(3, 44): 6, (3, 50): 7, (3, 51): 3}
"""Lines of releases in which it was mended, from which on. Source: sqlite.org/wal.html, "The
WAL-Reset Bug", as quoted by others; the page itself was not opened."""


def sqlite_warnings(version: str) -> tuple[str, ...]:
    """What to say of SQLite's version: whether its write-ahead log may lose what it holds.

    The fault needs two connections that write or checkpoint at once; a log book has one.

    Args:
        version: As in "3.40.1".
    """
    parts = tuple(int(part) for part in version.split("."))
    line, release = parts[:2], parts[2] if len(parts) > 2 else 0
    mended = line > max(_MENDED) or (line in _MENDED and release >= _MENDED[line])
    if mended or parts < _FAULT_SINCE:
        return ()
    return (
        f"SQLite {version} has a known fault of its write-ahead log (mended in 3.51.3). It needs "
        "two programs that write one file at once; neckring lets only one. Let no other program "
        "write to the log book; raise SQLite when you can.",
    )
