"""Which readings an estimate may be weighed by, and what the log book says that a wearer does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from neckring.live.doing import Doing
from neckring.live.entries import Entry, Kind
from neckring.live.likelihood import QUANTITIES
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.sensors.channels import Channel, Wired


@dataclass(frozen=True)
class Usable:
    """Readings sorted.

    Attributes:
        measured: Quantity to value and accuracy [SI].
        channels: Those that these stand on.
        left_out: Channel to why it is not among them.
    """

    measured: Mapping[str, tuple[float, float]]
    channels: tuple[str, ...]
    left_out: Mapping[str, str]


def usable(wired: Wired, latest: Mapping[str, Reading]) -> Usable:
    """Sort readings into those that may be used and those that may not, each with its reason.

    Of several channels that measure the same, the most accurate good one is used.

    Args:
        wired: The wearer's channels.
        latest: The last reading of each channel, with its flaws by now.
    """
    left_out: dict[str, str] = {}
    best: dict[str, Channel] = {}
    for channel in sorted(wired.channels, key=lambda one: one.expected.accuracy):
        why = _why_not(channel, latest.get(channel.name))
        if not why and channel.quantity in best:
            why = f"{best[channel.quantity].name} measures the same, at least as accurately"
        if why:
            left_out[channel.name] = why
        else:
            best[channel.quantity] = channel
    return Usable(
        {
            quantity: (latest[channel.name].value, channel.expected.accuracy)
            for quantity, channel in best.items()
        },
        tuple(sorted(channel.name for channel in best.values())),
        left_out,
    )


def _why_not(channel: Channel, reading: Reading | None) -> str:
    if channel.quantity not in QUANTITIES:
        return "shown only: the model computes no such reading"
    if reading is None:
        return "nothing has come yet"
    return ", ".join(sorted(flaw.value for flaw in reading.flaws))


def doing_of(state: RunState, letter: str) -> Doing | None:
    """What the log book says that a wearer does; None before the first spell.

    Args:
        state: Of the run.
        letter: A or B.
    """
    spell = state.spells.get(letter)
    if spell is None:
        return None
    back = state.turned_back.get(letter)
    turned = back.run_time if back is not None and back.run_time >= spell.begun else None
    return Doing(spell.number, spell.begun, turned)


def spells_of(entries: Iterable[Entry], letter: str) -> list[Doing]:
    """What one wearer did, from the log book, in the order of time."""
    found: list[Doing] = []
    for entry in entries:
        body, now = entry.deed.body, entry.stamp.run_time
        if body.get("wearer") != letter:
            continue
        if entry.deed.kind is Kind.SPELL_BEGUN and isinstance(body["spell"], int):
            found.append(Doing(body["spell"], now))
        elif entry.deed.kind is Kind.TURN_BACK and found and found[-1].turned is None:
            found.append(replace(found[-1], turned=now))
    return found
