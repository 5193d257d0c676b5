"""`neckring listen`: what sensors send, and what it is taken for."""

from __future__ import annotations

import json
import queue
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from neckring.command_parts import (
    FILE,
    load_or_exit,
    refuse,
    refuse_code,
    station_option,
)

if TYPE_CHECKING:
    from rich.table import Table

    from neckring.live.entries import Stamp
    from neckring.live.reading import Reading
    from neckring.live.sensors.intake import Intake, Untaken
    from neckring.live.sensors.source import Clock, Deliver, Source
    from neckring.station.loading import LoadedStation

EXIT_NOTHING_CAME = 1
LOOK_EVERY = 0.25
"""[s]"""

SHOWN_IN = {
    "temperature": "degC",
    "frequency": "bpm",
    "volume_flow": "L/min",
    "pressure": "kPa",
    "voltage": "V",
    "fraction": "%",
}
"""Dimension to the unit for people."""

KEPT_IN = {
    "temperature": "Cel",
    "frequency": "/s",
    "volume_flow": "m3/s",
    "pressure": "Pa",
    "voltage": "V",
    "fraction": "1",
}
"""Dimension to the UCUM code of its SI unit."""

MOST_UNTAKEN_SHOWN = 12


@click.command("listen")
@click.argument("suit", required=False)
@station_option
@click.option("--mqtt", "broker", default=None, help="A broker, as in mqtt://127.0.0.1:1883.")
@click.option("--serial", "port", default=None, help="A serial port, as in /dev/ttyUSB0.")
@click.option("--strap", default=None, help="Address of a heart rate strap (Bluetooth).")
@click.option("--file", "past", type=FILE, default=None, help="JSON Lines or CSV of a past run.")
@click.option("--wearer", default="A", help="Letter of who wears the suit [A].")
@click.option("--rate", type=click.IntRange(50, 4_000_000), default=115_200, help="Baud [115200].")
@click.option("--speed", type=click.FloatRange(0.1, 1e6), default=1.0, help="Of a file [1].")
@click.option("--json", "as_json", is_flag=True, help="A JSON object a line for each reading.")
@click.option("--for", "seconds", type=click.FloatRange(0.1), default=None, help="Stop after [s].")
def listen(
    suit: str | None,
    folder: Path,
    broker: str | None,
    port: str | None,
    strap: str | None,
    past: Path | None,
    wearer: str,
    rate: int,
    speed: float,
    as_json: bool,
    seconds: float | None,
) -> None:
    """Show what the sensors of SUIT send, and what it is taken for.

    One source at a time. Without SUIT all suits of the station are meant, each by its own code.
    What belongs to no sensor is shown as well, with the reason. The exit status is 1 when no
    reading came.
    """
    chosen = [each for each in (broker, port, strap, past) if each is not None]
    if len(chosen) != 1:
        raise click.UsageError("give one of --mqtt, --serial, --strap and --file")
    intake = intake_of(load_or_exit(folder), suit, wearer)
    who = next(iter(intake.wired))
    arrivals: queue.SimpleQueue[list[Reading]] = queue.SimpleQueue()

    def made(deliver: Deliver, clock: Clock) -> Source:
        from neckring.live.sensors.file_replay import ReplaySource
        from neckring.live.sensors.heart_rate_strap import StrapSource
        from neckring.live.sensors.mqtt import MqttSource
        from neckring.live.sensors.serial_line import SerialSource

        if broker is not None:
            return MqttSource(broker, intake, deliver, clock)
        if port is not None:
            return SerialSource(port, who, intake, deliver, clock, rate)
        if strap is not None:
            return StrapSource(strap, who, intake, deliver, clock)
        assert past is not None, "one of the four was given"
        return ReplaySource(past, intake, deliver, clock, speed)

    source = begun(made, arrivals.put)
    try:
        heard = listened(source, intake, arrivals, as_json, seconds)
    finally:
        source.stop()
    if not heard:
        click.echo(f"no reading came; {source.link.trouble or 'nothing was sent'}", err=True)
        sys.exit(EXIT_NOTHING_CAME)


def intake_of(station: LoadedStation, suit: str | None, wearer: str) -> Intake:
    """The intake for one suit, or for all that have sensors."""
    from neckring.live.sensors.channels import wire
    from neckring.live.sensors.intake import Intake
    from neckring.suit.moist_air import pressure_at_altitude

    if suit is not None and suit not in station.suits:
        refuse_code("suit", suit, station.suits)
    with_sensors = [each for each in station.suits.values() if each.sensors]
    meant = (
        [(wearer, station.suits[suit])] if suit else [(each.code, each) for each in with_sensors]
    )
    if not any(each.sensors for _, each in meant):
        which = f"suit {suit} has" if suit else "no suit of this station has"
        refuse(f"{which} no sensors; write them under sensors in its file")
    pressure = pressure_at_altitude(station.station.altitude.nominal)
    return Intake(wire(meant), float(pressure))


def begun(made: Callable[[Deliver, Clock], Source], deliver: Deliver) -> Source:
    """A source that listens; ends with status 2 when it cannot."""
    from neckring.live.entries import Stamp
    from neckring.live.sensors.source import SourceError

    start = time.monotonic()

    def clock() -> Stamp:
        now = time.monotonic()
        return Stamp(time.time(), now, now - start)

    try:
        source = made(deliver, clock)
        source.start()
    except SourceError as refused:
        refuse(str(refused))
    return source


def listened(
    source: Source,
    intake: Intake,
    arrivals: queue.SimpleQueue[list[Reading]],
    as_json: bool,
    seconds: float | None,
) -> int:
    """Show readings until time is up, the source is done, or somebody interrupts.

    Returns:
        How many came.
    """
    show = _json_lines if as_json else _table
    count = 0
    try:
        for readings in show(source, intake, _batches(source, arrivals, seconds)):
            count += len(readings)
    except KeyboardInterrupt:
        pass
    return count


def _batches(
    source: Source, arrivals: queue.SimpleQueue[list[Reading]], seconds: float | None
) -> Iterator[list[Reading]]:
    """What came since the last look; at least four times a second, empty or not."""
    end = time.monotonic() + (seconds if seconds is not None else float("inf"))
    while True:
        done = getattr(source, "finished", False) or time.monotonic() >= end
        came: list[Reading] = []
        try:
            came += arrivals.get(timeout=0.01 if done else LOOK_EVERY)
            while True:
                came += arrivals.get_nowait()
        except queue.Empty:
            pass
        yield came
        if done and not came:
            return


def _json_lines(
    source: Source, intake: Intake, batches: Iterator[list[Reading]]
) -> Iterator[list[Reading]]:
    told: dict[tuple[str, str, str], int] = {}
    for readings in batches:
        for reading in readings:
            click.echo(json.dumps(reading_as_json(intake, reading), ensure_ascii=False))
        for each in intake.untaken():
            key = (each.source, each.name, each.why)
            if told.get(key) != each.count:
                told[key] = each.count
                click.echo(json.dumps({"untaken": each.__dict__}, ensure_ascii=False))
        sys.stdout.flush()
        yield readings


def reading_as_json(intake: Intake, reading: Reading) -> dict[str, object]:
    """A reading as plain data, such that it can be replayed."""
    channel = intake.channel(reading.wearer, reading.channel)
    return {
        "time": reading.run_time,
        "wearer": reading.wearer,
        "name": reading.channel,
        "value": reading.value,
        "unit": KEPT_IN[channel.dimension],
        "actual": True,
        "taken_for": channel.quantity,
        "source_time": reading.source_time,
        "flaws": sorted(flaw.value for flaw in reading.flaws),
        "stands_on": list(intake.stands_on(reading.wearer, reading.channel)),
    }


def _table(
    source: Source, intake: Intake, batches: Iterator[list[Reading]]
) -> Iterator[list[Reading]]:
    from rich.console import Console, Group
    from rich.live import Live
    from rich.markup import escape

    console = Console()

    def picture() -> Group:
        now = time.monotonic()
        link = source.link
        state = "connected" if link.connected else "not connected"
        trouble = f"; {link.trouble}" if link.trouble else ""
        head = escape(f"{link.source}: {state}{trouble}")
        parts: list[str | Table] = [head, _channels(intake, now)]
        if intake.untaken():
            parts.append(_untaken(intake.untaken()))
        return Group(*parts)

    if not console.is_terminal:
        yield from batches
        console.print(picture())
        return
    with Live(picture(), console=console, refresh_per_second=4) as live:
        for readings in batches:
            live.update(picture())
            yield readings


def _channels(intake: Intake, now: float) -> Table:
    from rich.table import Table

    table = Table("who", "channel", "taken for", "value", "age", "state")
    latest = intake.latest(now)
    for wearer, wired in intake.wired.items():
        for channel in wired.channels:
            reading = latest[wearer].get(channel.name)
            shown = _shown(intake, reading, now) if reading else ("", "", "nothing came yet")
            table.add_row(wearer, channel.name, channel.quantity.replace("_", " "), *shown)
    return table


def _shown(intake: Intake, reading: Reading, now: float) -> tuple[str, str, str]:
    from rich.markup import escape

    from neckring.units import format_quantity

    channel = intake.channel(reading.wearer, reading.channel)
    value = format_quantity(reading.value, channel.dimension, SHOWN_IN[channel.dimension])
    return value, f"{now - reading.received:.1f} s", escape(flaw_words(intake, reading))


def flaw_words(intake: Intake, reading: Reading) -> str:
    """A reading's flaws in words; "good" without."""
    from neckring.live.reading import Flaw

    words = sorted(flaw.value for flaw in reading.flaws)
    if Flaw.UNIT in reading.flaws:
        units = intake.supposed_units(reading.wearer, reading.channel)
        words.append(f"it would fit in {' or '.join(units)}")
    return "; ".join(words) or "good"


def _untaken(untaken: tuple[Untaken, ...]) -> Table:
    from rich.markup import escape
    from rich.table import Table

    table = Table("from", "name", "not taken because", "times")
    for each in untaken[-MOST_UNTAKEN_SHOWN:]:
        cells = (escape(text) for text in (each.source, each.name, each.why))
        table.add_row(*cells, str(each.count))
    return table
