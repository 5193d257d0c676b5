"""What a trainer can break: failures of the plan, faults in degrees, sensors, and people."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from neckring.live.fault_modes import MODES
from neckring.outing.failures import FAILURES
from neckring.outing.scenario import Scenario

Sort = Literal["kit", "degrees", "sensor", "person"]

AT = ":"
"""Between a sensor fault's code and its channel: `sensor-stuck:heart`."""


@dataclass(frozen=True)
class Breakable:
    """One thing a trainer can break.

    Attributes:
        code: In a timeline and in the log book; a sensor's without its channel.
        words: In a sentence.
        sort: "kit", as a plan knows it; "degrees", more or less of it by its share; "sensor", of
            one channel; "person", whom the trainer asks to act it.
    """

    code: str
    words: str
    sort: Sort


SENSOR_FAULTS = (
    Breakable("sensor-stuck", "the sensor stays at what it says", "sensor"),
    Breakable("sensor-offset", "the sensor says too much", "sensor"),
    Breakable("sensor-silent", "the sensor says nothing", "sensor"),
    Breakable("sensor-wrong-unit", "the sensor sends another unit than it says", "sensor"),
)
NO_ANSWER = "no-answer"
PEOPLE = (Breakable(NO_ANSWER, "the wearer does not answer calls", "person"),)
# Failures that are nothing but what somebody does: the wearer acts them.
_ACTED = frozenset({"slow", "down", "down-unheard", "no-contact", "helmet", "umbilical"})


def catalogue(channels: Iterable[str] = ()) -> dict[str, Breakable]:
    """Everything that can be broken, by its code as it is written.

    Args:
        channels: Of the wearer's suit; each can go wrong in each way.
    """
    kit = [
        Breakable(failure.code, failure.words, "person" if failure.code in _ACTED else "kit")
        for failure in FAILURES
        if failure.code != "nothing"
    ]
    degrees = [Breakable(mode.code, mode.words, "degrees") for mode in MODES[1:]]
    sensors = [
        Breakable(f"{fault.code}{AT}{channel}", f"{channel}: {fault.words}", "sensor")
        for channel in channels
        for fault in SENSOR_FAULTS
    ]
    return {one.code: one for one in (*kit, *degrees, *PEOPLE, *sensors)}


def possible_now(
    scenario: Scenario, number: int, channels: Iterable[str] = ()
) -> tuple[Breakable, ...]:
    """What can be broken in a spell; faults in degrees as the part that they are of.

    Args:
        scenario: Of the wearer.
        number: Of the spell, from 0.
        channels: Of the wearer's suit.
    """
    spell = scenario.run.outing[number]
    before = scenario.run.outing[number - 1] if number else None
    possible = {f.code for f in FAILURES if f.possible(scenario, spell, before)}
    needs = {mode.code: mode.needs for mode in MODES}
    on_pack = {"water": spell.cooling == "pack", "air": spell.air == "pack", "": True}

    def can(one: Breakable) -> bool:
        if one.sort == "degrees":
            return on_pack[needs[one.code]]
        return one.code in possible or one.sort == "sensor" or one.code == NO_ANSWER

    return tuple(one for one in catalogue(channels).values() if can(one))
