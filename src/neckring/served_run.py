"""The console of one run put together: book, desk, sensors, watch, estimate and pages."""

from __future__ import annotations

import gc
import signal
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from neckring.command_parts import EXIT_WRONG_INPUT, load_or_exit, tell_faults

if TYPE_CHECKING:
    import socket

    from neckring.live.chained_book import ChainedBook
    from neckring.live.desk import Desk
    from neckring.live.entries import Role
    from neckring.live.estimating import Estimators
    from neckring.live.fault_catalogue import Breakable
    from neckring.live.readings_file import ReadingsReader
    from neckring.live.readings_store import ReadingsStore
    from neckring.live.run_sheet import RunSheet
    from neckring.live.sensors.intake import Intake
    from neckring.live.sensors.source import Source
    from neckring.live.timeline import Timeline
    from neckring.live.trainer_scores import Scores
    from neckring.live.uncaught_rules import KeptRules
    from neckring.live.watchkeeping import Watch, Watchkeeper
    from neckring.outing.scenario import Scenario
    from neckring.station.kept_trees import KeptTrees
    from neckring.station.loading import LoadedStation
    from neckring.web.console_parts import ConsoleParts, Score, Trainer
    from neckring.web.settings import WebSettings

LOG_BOOK = "log.sqlite"
READINGS = "readings.sqlite"
SESSIONS = "sessions.json"
RULES = "rules.json"
TREES = "trees.json"
PARTICLES = 2000
TURNS = 0.0001
"""So long a thread that computes keeps a tap waiting for its turn [s]; Python's own is fifty times
as long, and a tap waits for several."""


@dataclass(frozen=True)
class Wanted:
    """What is served.

    Attributes:
        folder: The station's.
        runs: Code of the run of wearer A, and of B when two go.
        kept: Folder in which log book and readings lie.
        book: Address of a database for the log book; empty for a file in that folder.
        host: To listen on.
        port: To listen on.
        network: This machine's address on the local network; None to find it out.
        names: Host names by which the console may be asked.
        opened: Whether the local network may ask from the start.
        mqtt: Address of a broker; empty for none.
        serial: Wearer to serial port.
        straps: Wearer to address of a heart rate strap.
        particles: Of each wearer's estimate; 0 for none.
        seed: Of what is drawn.
        workers: Threads of the estimate.
        goes_on_changed: Whether the run goes on although station files were changed meanwhile.
        rehearsal: Whether suits are simulated.
        speed: Of a rehearsal.
        timeline: Faults of a rehearsal; None for those of the trainer only.
    """

    folder: Path
    runs: tuple[str, ...]
    kept: Path
    book: str = ""
    host: str = "127.0.0.1"
    port: int = 8070
    network: str | None = None
    names: frozenset[str] = frozenset()
    opened: bool = False
    mqtt: str = ""
    serial: Mapping[str, str] = field(default_factory=dict)
    straps: Mapping[str, str] = field(default_factory=dict)
    particles: int = PARTICLES
    seed: int = 1
    workers: int = 1
    goes_on_changed: bool = False
    rehearsal: bool = False
    speed: float = 1.0
    timeline: Path | None = None


def refuse(words: str) -> NoReturn:
    """Say why, and end with status 2."""
    click.echo(words, err=True)
    sys.exit(EXIT_WRONG_INPUT)


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

    trees = trees_of(wanted)
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


def trees_of(wanted: Wanted) -> KeptTrees:
    """The station's files as they were parsed when the console was last started."""
    from importlib.metadata import version

    from neckring.station.kept_trees import KeptTrees
    from neckring.station.loading import tree_of

    return KeptTrees(wanted.kept / TREES, version("neckring"), tree_of)


def keep_trees(trees: KeptTrees) -> None:
    """Write down what was parsed anew; a disk that takes nothing makes the next start longer."""
    from neckring.whole_file import write_whole

    if trees.new:
        with suppress(OSError):
            write_whole(trees.path, trees.text)


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
    from neckring.live.calls import missed_calls
    from neckring.live.desk import Desk
    from neckring.live.open_book import open_book
    from neckring.live.readings_store import ReadingsStore
    from neckring.live.run_clock import machine_sources
    from neckring.live.watchkeeping import Watch, Watchkeeper

    _know_wearers(wanted, sheet)
    intake = intake_of(station, sheet, wanted.speed)
    timeline = timeline_of(wanted, intake)
    book = open_book(wanted.book or wanted.kept / LOG_BOOK, sheet.station)
    closing.callback(book.close)
    refuse_finished(book, sheet, wanted)
    desk = Desk(
        book,
        sheet,
        machine_sources(),
        speed=wanted.speed,
        goes_on_changed=wanted.goes_on_changed,
        # Reserve clocks alarm with all else, in the watch.
        timers=(missed_calls,),
    )
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


def name_of(wanted: Wanted) -> str:
    """Of the run, in keys."""
    return "+".join(wanted.runs)


def intake_of(station: LoadedStation, sheet: RunSheet, speed: float) -> Intake:
    """Where the readings of the day's suits come in."""
    from neckring.live.sensors.channels import wire
    from neckring.live.sensors.intake import Intake

    wearing = ((w.letter, station.suits[w.run.suit]) for w in sheet.wearers.values())
    return Intake(wire(wearing), pressure_of(station), speed)


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


def scenarios_of(served: Served, members: int = 1) -> dict[str, Scenario]:
    """Each wearer's run as written, help times from kit and procedures where these give them.

    Args:
        served: The console.
        members: 0 for what needs no help times: proving them takes a while.
    """
    from neckring.command_parts import question_about

    seed = served.wanted.seed
    return {
        letter: question_about(served.station, wearer.run.code, members, seed).scenario
        for letter, wearer in served.sheet.wearers.items()
    }


def made_ready(served: Served, tell: Callable[[str], None]) -> Callable[[], Estimators]:
    """What takes seconds, to be done beside a console that is up: the plan, alarms, the estimate.

    Args:
        served: The console.
        tell: Told what is being done.
    """

    def work() -> Estimators:
        from neckring.live.estimating import estimators

        wanted, go_on = served.wanted, served.keeper.go_on_or_end
        # Alarms first: until they are watched, the pages say that they are not.
        watch_alarms(served, scenarios_of(served, members=0))
        go_on()
        scenarios = scenarios_of(served)
        served.scenarios = scenarios
        go_on()
        if wanted.rehearsal:
            simulate(served, scenarios)
        plan_reserves(served, scenarios)
        go_on()
        served.desk.make_ready()
        go_on()
        if not wanted.particles:
            scenarios = {}
        made = estimators(
            scenarios,
            dict(served.intake.wired),
            served.station.limits,
            wanted.particles,
            wanted.seed,
            wanted.workers,
            tell,
        )
        leave_out_of_collections()
        tell("ready")
        return made

    return work


def leave_out_of_collections() -> None:
    """From now on what there is now is no longer looked through for garbage.

    Station, sheet and procedures stay as long as the console does. To look through them all took
    0.2 s, now and then, in which no tap was answered.
    """
    gc.freeze()


def watch_alarms(served: Served, scenarios: Mapping[str, Scenario]) -> None:
    """From now on alarms are watched."""
    from neckring.live.alarm_watch import AlarmWatch

    served.watch.alarms = AlarmWatch(
        served.sheet, served.station.limits, scenarios, served.intake.wired
    )


def plan_reserves(served: Served, scenarios: Mapping[str, Scenario]) -> None:
    """What the plan as written says of reserves, for the clocks that stand on it."""
    from neckring.live.run_sheet import planned_reserves
    from neckring.outing.plan import make_plan

    planned = {
        letter: planned_reserves(make_plan(scenario, served.station.limits), scenario.run)
        for letter, scenario in scenarios.items()
    }
    served.sheet = replace(served.sheet, planned=planned)
    served.desk.sheet = served.sheet
    if served.shown is not None:
        served.shown.sheet = served.sheet
    if served.watch.alarms is not None:
        served.watch.alarms.sheet = served.sheet


def simulate(served: Served, scenarios: Mapping[str, Scenario]) -> None:
    """Put simulated suits on the wearers."""
    from neckring.live.rehearsing import Rehearsal
    from neckring.live.simulated_suit import SimulatedSuit, SuitedTruth
    from neckring.live.trainer_scores import Scores

    seed, intake = served.wanted.seed, served.intake
    suits = {
        letter: SimulatedSuit(
            letter,
            SuitedTruth(scenario, seed * 1009 + number),
            intake.wired[letter].channels,
            pressure_of(served.station),
            seed * 1013 + number,
        )
        for number, (letter, scenario) in enumerate(scenarios.items())
    }
    trainers = [code for code, part in served.sheet.people.items() if part == "trainer"]
    served.scored = Scores(served.book, served.sheet, scenarios)
    served.watch.rehearsal = Rehearsal(
        suits,
        served.sheet,
        intake,
        served.timeline,
        name_of(served.wanted),
        trainers[0] if trainers else "trainer",
        served.wanted.speed,
        served.desk.take,
        served.store.add,
    )


def pressure_of(station: LoadedStation) -> float:
    """Of the air at the station [Pa]."""
    from neckring.suit.moist_air import pressure_at_altitude

    return float(pressure_at_altitude(station.station.altitude.nominal))


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


def parts_of(served: Served, trainer: Trainer | None = None) -> ConsoleParts:
    """The console as its pages see it."""
    from importlib.metadata import version

    from neckring.outing.cautions import CAUTIONS_WITH_FAILURES
    from neckring.web.console_parts import ConsoleParts
    from neckring.web.session_file import SessionFile

    return ConsoleParts(
        desk=served.desk,
        book=served.book,
        sheet=served.sheet,
        intake=served.intake,
        estimates=lambda: served.watch.estimates,
        history=lambda wearer, channel: history(served.store, wearer, channel),
        keep_readings=served.store.add,
        heard=served.watch.heard,
        troubles=served.watch.troubles,
        trainer=trainer,
        keeper=SessionFile(served.wanted.kept / SESSIONS),
        cautions=CAUTIONS_WITH_FAILURES,
        version=version("neckring"),
    )


def history(store: ReadingsReader, wearer: str, channel: str) -> list[tuple[float, float | None]]:
    """Readings of a channel so far; a flawed one is a gap."""
    columns = store.columns(wearer, channel)
    good = columns.good
    return [
        (float(at), float(value) if fine else None)
        for at, value, fine in zip(columns.run_time, columns.value, good, strict=True)
    ]


def trainer_of(served: Served) -> Trainer:
    """What the trainer can break, and how it was met so far."""
    from neckring.web.console_parts import Trainer

    return Trainer(lambda: breakable(served), lambda: scores(served))


def breakable(served: Served) -> list[Breakable]:
    """What can be broken now, in any of the suits."""
    from neckring.live.fault_catalogue import possible_now
    from neckring.live.usable_readings import doing_of

    found: dict[str, Breakable] = {}
    for letter, scenario in served.scenarios.items():
        doing = doing_of(served.desk.state, letter)
        if doing is not None:
            names = [channel.name for channel in served.intake.wired[letter].channels]
            found |= {one.code: one for one in possible_now(scenario, doing.number, names)}
    return list(found.values())


def scores(served: Served) -> list[Score]:
    """How each fault so far was met."""
    from neckring.web.console_parts import Score

    if served.scored is None:
        return []
    made = []
    for story in served.scored.report().stories:
        noticed, help_time = story.noticed, story.help
        allowed = None if help_time is None else (help_time.air if story.needs_air else None)
        made.append(
            Score(
                story.wearer,
                story.words,
                story.begun,
                noticed.who if noticed else "",
                noticed.after if noticed else None,
                story.action.after if story.action else None,
                story.fresh_air.after if story.fresh_air else None,
                allowed,
            )
        )
    return made


def serve(wanted: Wanted, after: Callable[[Served], None] = lambda _: None) -> None:
    """Serve a run until somebody ends it.

    Args:
        wanted: What is served.
        after: Done once it has ended, with book and desk still open.
    """
    from neckring.web.app import make_app
    from neckring.web.serving import Serving, address_on_network

    settings = settings_of(wanted)
    here = bound_or_exit(wanted)
    sys.setswitchinterval(TURNS)
    with run_served(wanted) as served:
        leave_out_of_collections()
        parts = parts_of(served, trainer_of(served) if wanted.rehearsal else None)
        served.shown = parts
        app = make_app(parts, settings)
        admission = app.state.admission
        network = address_on_network() if wanted.network is None else wanted.network
        serving = Serving(app, here, network, lambda: admission.opening.opened)
        served.keeper.start()

        def stop() -> None:
            # Pages that listen are let go, so that the server need not wait for them.
            app.state.hub.close()
            serving.stop()

        end_by_signals(stop)
        tell_addresses(served, serving.port, network, admission.pins)
        # What takes seconds begins once pages are answered.
        serving.run(lambda: begin(served))
        click.echo("the console has ended; what was acknowledged is on disk", err=True)
        served.keeper.end_soon()
        unless_interrupted(lambda: after(served))


def serve_finished(wanted: Wanted) -> None:
    """Serve a run that is over, to be looked at."""
    from neckring.live.entries import BookError
    from neckring.live.open_book import read_book
    from neckring.web.app import make_app
    from neckring.web.console_parts import ConsoleParts
    from neckring.web.replay import FinishedRun
    from neckring.web.serving import Serving

    station = load_or_exit(wanted.folder, trees_of(wanted).tree_of)
    sheet = sheet_or_exit(station, wanted, rules_of(wanted))
    here = bound_or_exit(wanted)
    with ExitStack() as closing:
        try:
            book = read_book(wanted.book or wanted.kept / LOG_BOOK, sheet.station)
            closing.callback(book.close)
            desk = FinishedRun(book, sheet)
        except BookError as error:
            refuse(str(error))
        parts = ConsoleParts(
            desk,
            book,
            sheet,
            intake=intake_of(station, sheet, 1.0),
            history=past_readings(wanted, closing),
        )
        serving = Serving(make_app(parts, replace(settings_of(wanted), replay=True)), here)
        click.echo(f"the run as it was: http://{wanted.host}:{serving.port}/replay")
        end_by_signals(serving.stop)
        serving.run()


def past_readings(
    wanted: Wanted, closing: ExitStack
) -> Callable[[str, str], list[tuple[float, float | None]]]:
    """Readings of a run that is over; none where none were kept."""
    from neckring.live.readings_file import ReadingsError, ReadingsReader

    try:
        reader = ReadingsReader(wanted.kept / READINGS)
    except ReadingsError as error:
        click.echo(f"without readings: {error}", err=True)
        return lambda wearer, channel: []
    closing.callback(reader.close)
    return lambda wearer, channel: history(reader, wearer, channel)


def settings_of(wanted: Wanted) -> WebSettings:
    """How it is served."""
    from neckring.web.settings import WebSettings

    return WebSettings(names=wanted.names, opened=wanted.opened)


def bound_or_exit(wanted: Wanted) -> socket.socket:
    """The port on this machine, or words and status 2."""
    from neckring.web.serving import CannotListenError, bound

    try:
        return bound(wanted.host, wanted.port)
    except CannotListenError as error:
        refuse(f"{error}; another one: --port")


def begin(served: Served) -> None:
    """Begin to listen to sensors, and to make ready what takes seconds."""

    def tell(what: str) -> None:
        click.echo(f"  live estimate: {what}", err=True)

    for source in served.sources:
        source.start()
    served.keeper.estimate(made_ready(served, tell), served.book, served.store)


def tell_addresses(served: Served, port: int, network: str, pins: Mapping[Role, str]) -> None:
    """Print where the console is, and the PINs; for the lead's eyes."""
    wanted, state = served.wanted, served.desk.state
    what = "rehearsal" if wanted.rehearsal else "run"
    back = f"; it came back at entry {state.number}" if state.restarts else ""
    click.echo(f"{served.sheet.station}: {what} {name_of(wanted)}{back}")
    click.echo(f"  this machine    http://{wanted.host}:{port}/")
    if network:
        click.echo(f"  local network   http://{network}:{port}/   once the lead opens it")
    click.echo(f"  log and readings in {wanted.book or wanted.kept}")
    for warning in served.book.warnings:
        click.echo(f"  note: {warning}")
    click.echo("  PINs, for your eyes only:")
    for role, pin in pins.items():
        click.echo(f"    {role.value:<8} {pin}")
    click.echo("  Ctrl-C ends the console; started again it goes on where it was.")


def end_by_signals(stop: Callable[[], None]) -> None:
    """From now on who ends the console by keyboard or by signal ends it in order.

    Args:
        stop: Ends it; may be called before it has begun to serve.
    """

    def end(_number: int, _frame: object) -> None:
        stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)


def unless_interrupted(act: Callable[[], None]) -> None:
    """Do something that may be cut short from the keyboard; what comes after it may not.

    Args:
        act: Leaves nothing half done, wherever it is cut short.
    """
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        act()
    except KeyboardInterrupt:
        click.echo("cut short; the log book has everything", err=True)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
