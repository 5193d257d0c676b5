"""Readings as pages and programs see them: in the unit that people read, with what is wrong."""

from __future__ import annotations

from neckring.live.entries import Stamp
from neckring.live.reading import Flaw, Reading
from neckring.live.sensors.channels import Channel
from neckring.records.presentation import presentation_of
from neckring.web.console_parts import ConsoleParts

MISSED = 3.5
"""So many times the usual pause, and a reading is called stale in the browser too."""
LEAST_STALE = 3.0


def stale_after(channel: Channel) -> float:
    """After how long without a reading a page says so by itself [s]."""
    return max(LEAST_STALE, MISSED * channel.expected.every)


def readings_now(parts: ConsoleParts, stamp: Stamp) -> dict[str, object]:
    """The last reading of each channel, and the desk's clocks."""
    found = parts.intake.latest(stamp.monotonic) if parts.intake else {}
    return {
        "run_time": stamp.run_time,
        "monotonic": stamp.monotonic,
        "speed": parts.clock.speed,
        "stands": parts.desk.state.opened is None or parts.desk.state.closed is not None,
        "latest": [
            reading_as_json(parts, reading)
            for channels in found.values()
            for reading in channels.values()
        ],
    }


def reading_as_json(parts: ConsoleParts, reading: Reading) -> dict[str, object]:
    """One reading."""
    assert parts.intake is not None
    quantity = quantity_of(parts, reading.wearer, reading.channel)
    shown = presentation_of(quantity)
    return {
        "channel": f"{reading.wearer}.{reading.channel}",
        "quantity": quantity,
        "value": reading.value,
        "figure": shown.shown(reading.value),
        "shown": shown.text(reading.value),
        "unit": shown.unit,
        "received": reading.received,
        "run_time": reading.run_time,
        "source_time": reading.source_time,
        # A page finds out by itself what is stale: it must also do so when the desk is gone.
        "flaws": sorted(flaw.value for flaw in reading.flaws if flaw is not Flaw.STALE),
        "stale": Flaw.STALE in reading.flaws,
    }


def quantity_of(parts: ConsoleParts, wearer: str, channel: str) -> str:
    """What a channel measures."""
    wired = parts.intake.wired.get(wearer) if parts.intake else None
    for known in wired.channels if wired else ():
        if known.name == channel:
            return known.quantity
    return channel


def history_of(parts: ConsoleParts, wearer: str, channel: str) -> dict[str, object]:
    """A channel's readings so far, in the unit that people read; None at a gap."""
    quantity = quantity_of(parts, wearer, channel)
    shown = presentation_of(quantity)
    points = [
        [at, None if value is None else shown.shown(value)]
        for at, value in parts.history(wearer, channel)
    ]
    return {
        "channel": f"{wearer}.{channel}",
        "quantity": quantity,
        "unit": shown.unit,
        "points": points,
    }
