"""A rehearsal as it goes: simulated suits that send, and faults that come when they are due."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from neckring.live.entries import Answer, Deed, Stamp
from neckring.live.kit_says import kit_says
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sensors.intake import Intake
from neckring.live.simulated_suit import SimulatedSuit
from neckring.live.timeline import Timeline, due
from neckring.live.usable_readings import doing_of


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
        speed: How many seconds of the run pass in one.
        take: Has a deed recorded.
        deliver: Gets the readings.
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
    _until: float = field(default=-1.0)

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
        for letter, suit in self.suits.items():
            self._send(letter, suit, state, stamp)

    def _send(self, letter: str, suit: SimulatedSuit, state: RunState, stamp: Stamp) -> None:
        doing = doing_of(state, letter)
        if doing is None:
            return
        faults = {fault: now.share for (who, fault), now in state.faults.items() if who == letter}
        says = kit_says(self.sheet.ground, state.kit, letter)

        def wall(run_time: float) -> float:
            return stamp.wall - (stamp.run_time - run_time) / self.speed

        for sent in suit.go_on(stamp.run_time, doing, faults, says, wall):
            self.deliver(self.intake.take(letter, sent.pack, stamp))
