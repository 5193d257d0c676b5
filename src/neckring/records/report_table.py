"""What a table of a report is: told once for page and print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes:
        name: At its head.
        figure: Whether it holds figures, which stand to the right.
        wide: Whether it holds sentences.
    """

    name: str
    figure: bool = False
    wide: bool = False


@dataclass(frozen=True)
class Table:
    """One table.

    Attributes:
        says: What it shows, over it.
        columns: Its columns.
        rows: Texts, one for each column.
        marked: Numbers of rows that want attention.
        nothing: What is said when there is no row.
    """

    says: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    marked: frozenset[int] = frozenset()
    nothing: str = ""


def table(
    says: str,
    columns: Sequence[Column],
    rows: Iterable[tuple[bool, tuple[str, ...]]],
    nothing: str,
) -> Table:
    """A table from rows, each with whether it wants attention."""
    given = list(rows)
    marked = frozenset(number for number, (wanted, _) in enumerate(given) if wanted)
    return Table(says, tuple(columns), tuple(row for _, row in given), marked, nothing)


FROM_FIRST = "Times count from first dressing, as h:mm:ss."
