"""Round after round of the live estimate of every wearer, also after the console came back."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from neckring.live.doing import Doing
from neckring.live.entries import Entry, Kind
from neckring.live.estimate import LiveEstimate, rebuild
from neckring.live.estimated import Estimated
from neckring.live.likelihood import Measured
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.sensors.channels import Channel, Wired
from neckring.live.sensors.quality import is_stale
from neckring.live.usable_readings import Usable, doing_of, spells_of, usable
from neckring.outing.scenario import Scenario
from neckring.station.limits import LimitSheet

EVERY = 30.0
"""Run time between two rounds [s]."""


class Past(Protocol):
    """Readings of the run so far."""

    def read(self, wearer: str, channel: str, begins: float, ends: float) -> list[Reading]:
        """Readings of one channel in a stretch of run time [s]."""


@dataclass(frozen=True)
class Estimators:
    """The estimates of the day's wearers.

    Attributes:
        wired: Channels, by wearer.
        of: By wearer.
        every: Run time between two rounds [s].
    """

    wired: Mapping[str, Wired]
    of: Mapping[str, LiveEstimate]
    every: float = EVERY

    def round(
        self, state: RunState, latest: Mapping[str, Mapping[str, Reading]], run_time: float
    ) -> dict[str, Estimated]:
        """One round: go on to now, weigh what the sensors said, look ahead.

        Args:
            state: Of the run.
            latest: The last reading of each channel by wearer, flaws and all.
            run_time: Now [s].

        Returns:
            By wearer; without those who have begun no spell, or have no spell left.
        """
        found = {}
        for letter, estimate in self.of.items():
            doing = doing_of(state, letter)
            if doing is None or letter in state.released:
                continue
            sorted_out = usable(self.wired[letter], latest.get(letter, {}))
            found[letter] = one_round(estimate, doing, sorted_out, run_time)
        return found

    def catch_up(
        self,
        entries: Iterable[Entry],
        past: Past,
        until: float,
        go_on: Callable[[], None] = lambda: None,
    ) -> None:
        """Bring new estimates to where the console was before it came back.

        Args:
            entries: All of the log book.
            past: Readings so far.
            until: Run time [s].
            go_on: Asked before each round; raises to leave it.
        """
        kept = list(entries)
        for letter, estimate in self.of.items():
            spells = spells_of(kept, letter)
            if spells:
                times = round_times(kept, letter, spells[0].begun, until)
                rebuild(estimate, spells, self._rounds(letter, past, times, go_on))

    def _rounds(
        self, letter: str, past: Past, times: Iterable[float], go_on: Callable[[], None]
    ) -> Iterator[tuple[float, Measured]]:
        for at in times:
            go_on()
            yield at, past_readings(self.wired[letter], past, at)


def estimators(
    scenarios: Mapping[str, Scenario],
    wired: Mapping[str, Wired],
    limits: LimitSheet,
    particles: int,
    seed: int = 1,
    workers: int = 1,
    tell: Callable[[str], None] = lambda _: None,
) -> Estimators:
    """Make the estimates of the day's wearers ready; takes some seconds each.

    Args:
        scenarios: By wearer, as written, one member.
        wired: By wearer.
        limits: The signed sheet.
        particles: Of each.
        seed: Of what is drawn; each wearer draws otherwise.
        workers: Threads.
        tell: Told what is being done.
    """
    of = {}
    for number, (letter, scenario) in enumerate(scenarios.items()):
        tell(f"wearer {letter}: {particles} particles")
        of[letter] = LiveEstimate(
            scenario, limits, particles, seed + number, workers, wearer=letter
        )
    return Estimators(wired, of)


def one_round(
    estimate: LiveEstimate, doing: Doing, sorted_out: Usable, run_time: float
) -> Estimated:
    """One round of one wearer, with the channels named that it stands on."""
    estimate.advance(run_time, doing)
    estimate.weigh(sorted_out.measured, sorted_out.left_out)
    return replace(estimate.estimated(), stands_on=sorted_out.channels)


def round_times(
    entries: Iterable[Entry], letter: str, begins: float, until: float
) -> Iterator[float]:
    """Run times at which rounds were recorded [s]; where none were, at the usual pace."""
    last = begins
    for entry in entries:
        at = entry.deed.body.get("for")
        if entry.deed.kind is not Kind.ESTIMATE or entry.deed.body.get("wearer") != letter:
            continue
        if isinstance(at, (int, float)) and last < at <= until:
            yield from _paced(last, at)
            last = at
            yield at
    yield from _paced(last, until)
    # Soon after a round nothing is weighed again: the next round is the next that goes on.
    if until - last >= EVERY:
        yield until


def _paced(begins: float, ends: float) -> Iterator[float]:
    """Rounds between two at the usual pace, where a console was not there."""
    count = math.ceil((ends - begins) / EVERY - 1e-9)
    yield from (begins + number * EVERY for number in range(2, count - 1))


def past_readings(wired: Wired, past: Past, at: float) -> Measured:
    """What could be used at a run time in the past."""
    latest = {}
    for channel in wired.channels:
        reading = _last_before(channel, wired.wearer, past, at)
        if reading is not None:
            latest[channel.name] = reading
    return usable(wired, latest).measured


def _last_before(channel: Channel, wearer: str, past: Past, at: float) -> Reading | None:
    begins = at - channel.expected.stale_after
    found = past.read(wearer, channel.name, begins, math.nextafter(at, math.inf))
    last = found[-1] if found else None
    return last if last and not is_stale(channel.expected, at - last.run_time) else None
