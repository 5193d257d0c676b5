"""A rehearsal as it goes: simulated suits that send, and faults that come when they are due.

What the suits do follows from the log book alone: each thing that is recorded holds from its own
run time on. A console that comes back reads the book from its beginning, and the suits are where
they were.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from neckring.live.entries import Answer, Deed, Entry, Stamp
from neckring.live.kit_says import kit_says
from neckring.live.pace import Pace
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.run_state import first_state, fold
from neckring.live.sensors.intake import Intake
from neckring.live.simulated_suit import Conduct, Sent, SimulatedSuit
from neckring.live.timeline import Timeline, due
from neckring.live.usable_readings import doing_of

CATCHES_UP = 3
"""So many turns take longer than others: the first follows the book from its beginning."""
SPARE = 1.0
"""So much earlier than it would be stale the next reading is there [s of the run]."""


@dataclass
class Rehearsal:
    """The simulated suits of the day, and what is to go wrong with them.

    Attributes:
        suits: By wearer.
        sheet: Of the day.
        intake: Where their packs come in.
        timeline: Faults with their times; may be empty.
        name: Of the run.
        trainer: Code of the person in whose name faults come.
        speed: How many seconds of the run shall pass in one.
        take: Has a deed recorded.
        deliver: Gets the readings.
        entries: Of the log book, from the one behind a number.
        set_speed: Told how fast the run goes from now on.
    """

    suits: Mapping[str, SimulatedSuit]
    sheet: RunSheet
    intake: Intake
    timeline: Timeline
    name: str
    trainer: str
    speed: float
    take: Callable[[Deed], Answer]
    deliver: Callable[[list[Reading]], None]
    entries: Callable[[int], Iterator[Entry]]
    set_speed: Callable[[float], None]
    _until: float = field(default=-1.0)

    def __post_init__(self) -> None:
        """Begin before the first entry."""
        self._state = first_state(self.sheet)
        self._turns = 0
        wired = self.intake.wired.values()
        stale = [channel.expected.stale_after for each in wired for channel in each.channels]
        self._pace = Pace(self.speed, max(SPARE, min(stale, default=0.0) - SPARE))
        self._held = self.speed

    def go_on(self, state: RunState, stamp: Stamp) -> None:
        """Go on to now: put in what is due, and send what the suits sent on the way.

        Args:
            state: Of the run.
            stamp: Now.

        Raises:
            BookError: A fault that was due could not be recorded; it is tried again.
        """
        for deed in due(self.timeline, self._until, stamp.run_time, self.name, self.trainer):
            self.take(deed)
        self._until = stamp.run_time
        sent = [*self._followed(state.number, stamp), *self._gone_on(stamp.run_time, stamp)]
        # What was sent before the console came back has been sent already, or nobody listened.
        for one in sent if self._turns else ():
            self.deliver(self.intake.take(one.wearer, one.pack, stamp))
        self._turns += 1
        if self._turns > CATCHES_UP:
            self._keep_pace(stamp.monotonic)

    def _keep_pace(self, now: float) -> None:
        """Let the run go as fast as the suits can follow."""
        held = self._pace.held(now)
        if held != self._held:
            self._held = held
            self.intake.set_speed(held)
            self.set_speed(held)

    def _followed(self, number: int, stamp: Stamp) -> Iterator[Sent]:
        """Let hold what was recorded since the last turn, each from its own time on."""
        if self._state.number >= number:
            return
        for entry in self.entries(self._state.number):
            if entry.number > number:
                return
            after = fold(self._state, entry, self.sheet)
            if _matters(self._state, after):
                yield from self._gone_on(entry.stamp.run_time, stamp)
            self._state = after

    def _gone_on(self, to: float, stamp: Stamp) -> Iterator[Sent]:
        """All suits on to a run time, as the book has it so far."""

        def wall(run_time: float) -> float:
            return stamp.wall - (stamp.run_time - run_time) / self._held

        for letter, suit in self.suits.items():
            conduct = conduct_of(self._state, self.sheet, letter)
            if conduct is not None:
                yield from suit.go_on(to, conduct, wall)


def conduct_of(state: RunState, sheet: RunSheet, letter: str) -> Conduct | None:
    """What a suit follows of the state of a run; None before the wearer's first spell."""
    doing = doing_of(state, letter)
    if doing is None:
        return None
    faults = {fault: now.share for (who, fault), now in state.faults.items() if who == letter}
    return Conduct(doing, faults, kit_says(sheet.ground, state.kit, letter))


def _matters(before: RunState, after: RunState) -> bool:
    """Whether anything changed that a suit follows."""
    return (
        before.spells is not after.spells
        or before.turned_back is not after.turned_back
        or before.faults is not after.faults
        or before.kit is not after.kit
    )
