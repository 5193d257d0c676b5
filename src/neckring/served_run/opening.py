"""Everything of a run opened, in an order in which it can be let go of again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from neckring.command_parts import keep_trees, load_or_exit, refuse, tell_faults, trees_in
from neckring.served_run.wanted import LOG_BOOK, READINGS, RULES, Wanted, name_of

if TYPE_CHECKING:
    from neckring.live.chained_book import ChainedBook
    from neckring.live.desk import Desk
    from neckring.live.readings_store import ReadingsStore
    from neckring.live.run_sheet import RunSheet
    from neckring.live.sensors.intake import Intake
    from neckring.live.sensors.source import Source
    from neckring.live.timeline import Timeline
    from neckring.live.trainer_scores import Scores
    from neckring.live.uncaught_rules import KeptRules
    from neckring.live.watchkeeping import Watch, Watchkeeper
    from neckring.outing.scenario import Scenario
    from neckring.station.loading import LoadedStation
    from neckring.web.console_parts import ConsoleParts


@dataclass
class Served:
    """A console that is up.

    Attributes:
        wanted: What was asked for.
        station: As read.
        sheet: What is carried out.
        book: The log book.
        desk: Decides and writes.
        intake: Where readings come in.
        store: Keeps them.
        watch: Looks at everything.
        keeper: Its threads.
        sources: Of readings.
        timeline: Of a rehearsal; may be empty.
        scenarios: By wearer, as written; none until they are made ready.
        scored: In a rehearsal, how faults are being met.
        shown: As the pages see it; None without pages.
    """

    wanted: Wanted
    station: LoadedStation
    sheet: RunSheet
    book: ChainedBook
    desk: Desk
    intake: Intake
    store: ReadingsStore
    watch: Watch
    keeper: Watchkeeper
    sources: list[Source]
    timeline: Timeline
    scenarios: Mapping[str, Scenario] = field(default_factory=dict)
    scored: Scores | None = None
    shown: ConsoleParts | None = None


@contextmanager
def run_served(wanted: Wanted) -> Iterator[Served]:
    """Open everything of a run, and let go of it in the right order.

    Ends with status 2, in words, when something cannot be used.
    """
    from neckring.live.entries import BookError

    trees = trees_in(wanted.kept)
    station = load_or_exit(wanted.folder, trees.tree_of)
    rules = rules_of(wanted)
    sheet = sheet_or_exit(station, wanted, rules)
    with ExitStack() as closing:
        try:
            served = _opened(wanted, station, sheet, closing)
        except BookError as error:
            refuse(str(error))
        rules.keep()
        keep_trees(trees)
        yield served


def rules_of(wanted: Wanted) -> KeptRules:
    """What was worked out of the day's procedures when the console was first started."""
    from importlib.metadata import version

    from neckring.live.uncaught_rules import KeptRules

    return KeptRules(wanted.kept / RULES, version("neckring"))


def sheet_or_exit(station: LoadedStation, wanted: Wanted, rules: KeptRules) -> RunSheet:
    """What is carried out on the day."""
    from neckring.live.run_sheet import run_sheet
    from neckring.station.fault import StationFaults

    partner = wanted.runs[1] if len(wanted.runs) > 1 else None
    try:
        return run_sheet(
            station,
            wanted.runs[0],
            partner,
            rehearsal=wanted.rehearsal,
            uncaught=rules.uncaught,
        )
    except StationFaults as faults:
        tell_faults(faults)


def _opened(wanted: Wanted, station: LoadedStation, sheet: RunSheet, closing: ExitStack) -> Served:
    from neckring.live.open_book import open_book
    from neckring.live.readings_store import ReadingsStore
    from neckring.live.watchkeeping import Watch, Watchkeeper

    _know_wearers(wanted, sheet)
    intake = intake_of(station, sheet, wanted.speed)
    timeline = timeline_of(wanted, intake)
    book = open_book(wanted.book or wanted.kept / LOG_BOOK, sheet.station)
    closing.callback(book.close)
    refuse_finished(book, sheet, wanted)
    desk = _desk(wanted, sheet, book)
    desk.open_run()
    store = ReadingsStore(wanted.kept / READINGS)
    closing.callback(store.close)
    watch = Watch(
        desk,
        intake,
        wanted.kept,
        name_of(wanted),
        warning="; ".join(book.warnings),
        readings_fault=lambda: store.fault,
    )
    keeper = Watchkeeper(watch)
    closing.callback(keeper.stop)
    served = Served(wanted, station, sheet, book, desk, intake, store, watch, keeper, [], timeline)
    served.sources += sources_of(served)
    for source in served.sources:
        closing.callback(source.stop)
    return served


def _desk(wanted: Wanted, sheet: RunSheet, book: ChainedBook) -> Desk:
    from neckring.live.calls import missed_calls
    from neckring.live.desk import Desk
    from neckring.live.run_clock import machine_sources

    return Desk(
        book,
        sheet,
        machine_sources(),
        speed=wanted.speed,
        goes_on_changed=wanted.goes_on_changed,
        # Reserve clocks alarm with all else, in the watch.
        timers=(missed_calls,),
    )


def _know_wearers(wanted: Wanted, sheet: RunSheet) -> None:
    """Sensors are given to wearers of the day only."""
    unknown = sorted({*wanted.serial, *wanted.straps} - set(sheet.letters))
    if unknown:
        refuse(f'wearer: read "{unknown[0]}"; accepted: {", ".join(sheet.letters)}')


def refuse_finished(book: ChainedBook, sheet: RunSheet, wanted: Wanted) -> None:
    """End with words when the run is over and everybody released; until then it may go on.

    Somebody may still have to be released when the console ends right after the run was closed.
    """
    from neckring.live.entries import Kind

    over, out = False, set()
    for entry in book.entries():
        over = over or entry.deed.kind is Kind.RUN_CLOSED
        if entry.deed.kind is Kind.RELEASED:
            out.add(entry.deed.body.get("wearer"))
    if over and out >= set(sheet.letters):
        word = "rehearsal" if wanted.rehearsal else "run"
        refuse(
            f"{wanted.book or wanted.kept}: this {word} is closed and everybody is released; look "
            "at it with neckring console ... --replay, or begin a new one elsewhere: --keep"
        )


def intake_of(station: LoadedStation, sheet: RunSheet, speed: float) -> Intake:
    """Where the readings of the day's suits come in."""
    from neckring.live.sensors.channels import wire
    from neckring.live.sensors.intake import Intake

    wearing = ((w.letter, station.suits[w.run.suit]) for w in sheet.wearers.values())
    return Intake(wire(wearing), pressure_of(station), speed)


def pressure_of(station: LoadedStation) -> float:
    """Of the air at the station [Pa]."""
    from neckring.suit.moist_air import pressure_at_altitude

    return float(pressure_at_altitude(station.station.altitude.nominal))


def sources_of(served: Served) -> list[Source]:
    """The sources of readings that were asked for, not yet begun."""
    from neckring.live.sensors.heart_rate_strap import StrapSource
    from neckring.live.sensors.mqtt import MqttSource
    from neckring.live.sensors.serial_line import SerialSource
    from neckring.live.sensors.source import SourceError

    wanted, intake = served.wanted, served.intake
    stamp, keep = served.desk.clock.stamp, served.store.add
    made: list[Source] = []
    try:
        if wanted.mqtt:
            made.append(MqttSource(wanted.mqtt, intake, keep, stamp))
        made += [SerialSource(p, who, intake, keep, stamp) for who, p in wanted.serial.items()]
        made += [StrapSource(s, who, intake, keep, stamp) for who, s in wanted.straps.items()]
    except SourceError as error:
        refuse(str(error))
    return made


def timeline_of(wanted: Wanted, intake: Intake) -> Timeline:
    """Faults that come by themselves; read before anything is opened."""
    if wanted.timeline is None:
        return ()
    from neckring.live.timeline import read_timeline
    from neckring.station.fault import StationFaults

    channels = {
        letter: tuple(channel.name for channel in wired.channels)
        for letter, wired in intake.wired.items()
    }
    try:
        return read_timeline(wanted.timeline, channels)
    except StationFaults as faults:
        tell_faults(faults)
