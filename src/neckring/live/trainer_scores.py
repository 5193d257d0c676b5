"""How each fault of a rehearsal is being met, told while it goes on; worked out anew when asked."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from neckring.live.drill import DrillReport, HelpTime, drill_report
from neckring.live.drill_plan import fresh_air, help_time
from neckring.live.entries import Entry
from neckring.live.run_sheet import RunSheet
from neckring.live.usable_readings import spells_of
from neckring.outing.scenario import Scenario


class ReadableBook(Protocol):
    """A log book, to look at."""

    def entries(self, after: int = 0) -> Iterable[Entry]:
        """Entries in order, from the one behind number `after`."""


@dataclass
class Scores:
    """The report of a rehearsal that goes on.

    Attributes:
        book: Of the rehearsal.
        sheet: Of the day.
        scenarios: By wearer, as written.
    """

    book: ReadableBook
    sheet: RunSheet
    scenarios: Mapping[str, Scenario]
    _read: list[Entry] = field(default_factory=list)
    _made: tuple[int, DrillReport] = field(default=(-1, DrillReport(())))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def report(self) -> DrillReport:
        """Every fault so far, and what came of it."""
        with self._lock:
            last = self._read[-1].number if self._read else 0
            self._read.extend(self.book.entries(last))
            if self._made[0] != len(self._read):
                made = drill_report(self._read, fresh_air(self._read, self.sheet), self._help)
                self._made = (len(self._read), made)
            return self._made[1]

    def _help(self, wearer: str, fault: str, run_time: float) -> HelpTime | None:
        """What the plan says of a fault in the spell in which it came."""
        scenario = self.scenarios.get(wearer)
        begun = [d for d in spells_of(self._read, wearer) if d.begun <= run_time]
        if scenario is None or not begun:
            return None
        number = begun[-1].number
        duration = scenario.run.outing[number].duration
        share = 0.5
        if duration is not None and duration.nominal > 0.0:
            share = min((run_time - begun[-1].begun) / duration.nominal, 1.0)
        return help_time(scenario, fault, number, share)
