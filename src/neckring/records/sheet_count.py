"""Kit count sheets: what goes out is counted, and what comes in, piece by piece."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from neckring.records.sheet_press import Head
from neckring.records.sheet_serials import Serials
from neckring.station.kit import Kit, Thing

ROOM_FOR_MORE = 8
"""Empty lines for pins, plugs, shears and whatever else goes along; practice."""


@dataclass(frozen=True)
class Counted:
    """Something that is counted.

    Attributes:
        words: What it is called.
        pieces: How many belong to one kit; empty where the kit's file does not say.
    """

    words: str
    pieces: str


@dataclass(frozen=True)
class ForRun:
    """For which run the sheet is; empty texts are written in by hand.

    Attributes:
        run: Its code.
        date: Its day and hour.
        wearer: Wearer and suit.
    """

    run: str = ""
    date: str = ""
    wearer: str = ""


ANY_RUN = ForRun()
NO_SERIALS = Serials()


@dataclass(frozen=True)
class CountSheet:
    """A count sheet.

    Attributes:
        head: What stands above and below.
        run: For which run it is.
        of_wearer: Counted for each wearer.
        shared: Counted once.
        stated: Whether the kit's file says what is counted.
        serials: What is counted by serial, from the list of items and the ledger.
        more: How many empty lines there are.
    """

    head: Head
    run: ForRun
    of_wearer: tuple[Counted, ...]
    shared: tuple[Counted, ...]
    stated: bool
    serials: Serials
    more: int


def count_sheet(
    kit: Kit, head: Head, serials: Serials = NO_SERIALS, run: ForRun = ANY_RUN
) -> CountSheet:
    """The count sheet of a kit.

    Args:
        kit: Its things with `pieces` are listed; all of them when none has it. A thing with the
            code of a part that is counted by serial is not counted twice.
        head: Its marks.
        serials: What is counted by serial.
        run: For which run it is.
    """
    return CountSheet(
        replace(head, title=f"Count: {kit.title}", kind="Kit count sheet"),
        run,
        tuple(_counted(kit, "wearer", serials.covered)),
        tuple(_counted(kit, "all", ())),
        _stated(kit),
        serials,
        ROOM_FOR_MORE,
    )


def _stated(kit: Kit) -> bool:
    return any(thing.pieces is not None for thing in kit.things.values())


def _counted(kit: Kit, of: str, covered: tuple[str, ...]) -> Iterator[Counted]:
    stated = _stated(kit)
    for code, thing in kit.things.items():
        if code in covered:
            continue
        if thing.of == of and (thing.pieces is not None or not stated):
            yield Counted(_without_article(thing), str(thing.pieces or ""))


def _without_article(thing: Thing) -> str:
    words = thing.words.removeprefix("the ")
    return words[:1].upper() + words[1:]
