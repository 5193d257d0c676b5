"""Folders as the console keeps them: a log book and readings, of a run whose truth is known."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from logged_worlds import DEMO, World, demo_run, world

from neckring.live.entries import Deed, Entry, Json, Kind, Role, Stamp
from neckring.live.reading import Flaw, Reading
from neckring.live.readings_store import ReadingsStore
from neckring.live.run_sheet import RunSheet, run_sheet
from neckring.live.sqlite_book import SqliteBook

OPENED = 1.8e9
# Early, so that there is less to go through.
RELEASED = 2700.0
CHANNEL_OF = {sensor.measures: sensor.channel for sensor in DEMO.suits["dipper"].sensors}


@cache
def sheet(rehearsal: bool = False) -> RunSheet:
    """What is carried out, the slips of its procedures left unasked."""
    return run_sheet(
        DEMO,
        "floor-survey",
        "floor-partner",
        rehearsal=rehearsal,
        uncaught=lambda _listed, _digest: frozenset(),
    )


@cache
def known_world() -> World:
    """The run of wearer A."""
    return world(demo_run("floor-survey"), 3)


def opening(rehearsal: bool = False, **other: Json) -> dict[str, Json]:
    """The body of the first entry."""
    of_day = sheet(rehearsal)
    return {
        "runs": ["floor-survey", "floor-partner"],
        "sheet": of_day.digest,
        "people": dict(of_day.people),
        "parts": dict(of_day.parts),
        "boot": "first",
    } | other


def deeds_of(one: World, opened: dict[str, Json]) -> list[tuple[float, Kind, dict[str, Json]]]:
    """Run time, kind and body of each entry: opened, spells begun, released, closed."""
    logged = one.course.logged
    found: list[tuple[float, Kind, dict[str, Json]]] = [(0.0, Kind.RUN_OPENED, opened)]
    found += [
        (d.begun, Kind.SPELL_BEGUN, {"wearer": "A", "spell": d.number})
        for d in logged.doings
        if d.begun < RELEASED
    ]
    found.append((RELEASED, Kind.RELEASED, {"wearer": "A"}))
    found.append((logged.until + 60.0, Kind.RUN_CLOSED, {"reason": "done"}))
    return found


def entry(number: int, time: float, kind: Kind, body: dict[str, Json], late: float = 0.0) -> Entry:
    """An entry as it stands in a book."""
    deed = Deed(f"k{number}", kind, "L1", Role.LEAD, "tablet", body, OPENED + time - late, 0.0)
    return Entry(number, "TQ1", 1, deed, Stamp(OPENED + time, time, time), "", "")


def keep(
    folder: Path,
    deeds: Iterable[tuple[float, Kind, dict[str, Json]]],
    one: World | None,
) -> Path:
    """Write a kept folder; without readings when there is no world."""
    folder.mkdir(parents=True, exist_ok=True)
    book = SqliteBook(folder / "log.sqlite", "Tarn Quarry")
    for number, (time, kind, body) in enumerate(deeds):
        made = entry(number, time, kind, body)
        book.append(made.deed, made.stamp)
    book.close()
    if one is not None:
        store = ReadingsStore(folder / "readings.sqlite", every=1e6)
        store.add(readings_of(one))
        store.close()
    return folder


def readings_of(one: World) -> list[Reading]:
    """All channels of wearer A, with a flawed reading beside each good one."""
    found = []
    for series in one.course.logged.series:
        name = CHANNEL_OF[series.quantity]
        for time, value in zip(series.times, series.values, strict=True):
            at = float(time)
            found.append(Reading("A", name, float(value), None, at, at))
            wrong = frozenset({Flaw.IMPOSSIBLE})
            found.append(Reading("A", name, 1e6, None, at - 1.0, at - 1.0, wrong))
    return sorted(found, key=lambda reading: reading.run_time)


def kept(folder: Path) -> Path:
    """A finished run."""
    one = known_world()
    return keep(folder, deeds_of(one, opening()), one)
