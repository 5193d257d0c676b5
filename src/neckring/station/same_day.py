"""Runs of one day that want the same kit, or the same wearer, at once or before it is dry."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from neckring.station.fault import Fault
from neckring.station.kit_items import KitItems, Part
from neckring.station.nodes import Node
from neckring.station.references import Trees, fault_at
from neckring.station.run import Run, Spell
from neckring.station.site import Station


@dataclass
class _Taken:
    """A kit, or a wearer, and the run that had it last.

    Attributes:
        kit: Its code; "" where the station has no list of kits.
        dries: The part that is dry and clean last; None where nothing has to dry.
        run: None before the first.
        ends: When that run's outing ends.
    """

    kit: str
    dries: Part | None = None
    run: Run | None = None
    ends: datetime.datetime = datetime.datetime.min

    @property
    def free(self) -> datetime.datetime:
        """From when on it may go again."""
        return self.ends + (_waits(self.dries) if self.run else datetime.timedelta())


def same_day_warnings(
    station: Station, runs: Mapping[str, Run], items: KitItems | None, trees: Trees
) -> Iterator[Fault]:
    """Look for runs that cannot all go as they are written.

    A suit that no kit of kit_items.yaml belongs to is taken to be there once.

    Args:
        station: Its own file.
        runs: By file.
        items: The list of kits; None where there is none.
        trees: The trees of all files, for the places of the warnings.
    """
    kits: dict[str, list[_Taken]] = {}
    wearers: dict[str, list[_Taken]] = {}
    for file, run in sorted(runs.items(), key=lambda each: (each[1].begins, each[1].code)):
        of_suit = kits.setdefault(run.suit, _kits_of(run.suit, items))
        yield from _told("suit", run, of_suit, station, trees["run"][file])
        whoever = wearers.setdefault(run.wearer, [_Taken("")])
        yield from _told("wearer", run, whoever, station, trees["run"][file])


def outing_time(station: Station, run: Run) -> datetime.timedelta:
    """How long an outing takes as written, every quantity at its nominal value."""
    seconds = sum(_spell_time(station, spell) for spell in run.outing)
    return datetime.timedelta(seconds=seconds)


def _spell_time(station: Station, spell: Spell) -> float:
    if spell.duration is not None:
        return spell.duration.nominal
    path = station.path(spell.from_place, spell.to_place)
    assert path is not None, "a run that is valid walks along paths that are there"
    assert spell.speed is not None, "a spell that is valid has a time or a speed"
    return path.length.nominal / spell.speed.nominal


def _kits_of(suit: str, items: KitItems | None) -> list[_Taken]:
    if items is None:
        return [_Taken("")]
    own = [code for code, kit in items.kits.items() if kit.suit == suit]
    return [_Taken(code, _driest(items, code)) for code in own] or [_Taken("")]


def _driest(items: KitItems, kit: str) -> Part | None:
    parts = [items.parts[items.items[serial].part] for serial in items.items_of(kit)]
    return max(parts, key=_waits, default=None)


def _waits(part: Part | None) -> datetime.timedelta:
    times = (part.dries_in, part.cleans_in) if part else ()
    return datetime.timedelta(seconds=sum(time.nominal for time in times if time))


def _told(key: str, run: Run, among: list[_Taken], station: Station, root: Node) -> Iterator[Fault]:
    """Give a run what is free first, and tell when that is too late."""
    starts = run.begins
    one = min(among, key=lambda each: each.free)
    if one.run is not None and one.free > starts:
        yield fault_at(root, (key,), _accepted(key, one, len(among), starts), _hint(key, one))
    one.run, one.ends = run, starts + outing_time(station, run)


def _accepted(key: str, one: _Taken, among: int, starts: datetime.datetime) -> str:
    assert one.run is not None
    if one.ends <= starts:
        assert one.dries is not None
        dry = f"when the {one.dries.words} that {one.run.code} wore is dry and clean"
        return f"a start from {_clock(one.free, starts)} on, {dry}"
    until = _clock(one.free, starts)
    others = f", as each of its {among} kits is on a run" if among > 1 else ""
    return f"another {key}, or a start from {until} on: {one.run.code} has it before{others}"


def _hint(key: str, one: _Taken) -> str:
    return f"kit_items.yaml lists kit {one.kit} of it" if key == "suit" and one.kit else ""


def _clock(at: datetime.datetime, day: datetime.datetime) -> str:
    return at.strftime("%H:%M" if at.date() == day.date() else "%Y-%m-%d %H:%M")
