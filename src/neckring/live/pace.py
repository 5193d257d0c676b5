"""How fast a rehearsal goes: as fast as was asked for, or as fast as this machine can.

A machine that is busy lets suits send late. At many times real time their readings would then look
stale, and sensors would be blamed for it. So the run itself goes slower, as long as that is so,
and the pages say how fast it goes.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from neckring.live.run_clock import FASTEST, SLOWEST

# A gap counts so long [s], and in one turn the speed is raised by so much at most.
REMEMBERED, RAISED = 10.0, 1.02
# One gap or two, however long, slow nothing down: no alarm comes of them.
FORGIVEN = 2
# Speeds are held in these steps, so that the figure on the pages stands still.
STEP = 0.5


@dataclass
class Pace:
    """Finds the speed that a rehearsal can hold.

    Attributes:
        wanted: As it was asked for [1].
        most_apart: So much run time may pass between two turns [s].
    """

    wanted: float
    most_apart: float
    _speed: float = 0.0
    _seen: float | None = None
    _gaps: deque[tuple[float, float]] = field(default_factory=deque)

    def __post_init__(self) -> None:
        """Begin as fast as was asked for."""
        self._speed = self.wanted

    def held(self, now: float) -> float:
        """The speed that is held after one more turn, from 1 to what was asked for [1].

        Args:
            now: When its readings had been sent, on the machine's clock [s].
        """
        if self._seen is not None:
            self._gaps.append((now, now - self._seen))
        self._seen = now
        while self._gaps and self._gaps[0][0] < now - REMEMBERED:
            self._gaps.popleft()
        longest = sorted((gap for _, gap in self._gaps), reverse=True)[FORGIVEN:]
        can = self.most_apart / longest[0] if longest and longest[0] > 0.0 else self.wanted
        self._speed = max(SLOWEST, min(can, self.wanted, self._speed * RAISED))
        return self.rounded

    @property
    def rounded(self) -> float:
        """The speed in steps, never more than is held."""
        if self._speed >= self.wanted:
            return self.wanted
        return min(FASTEST, max(SLOWEST, int(self._speed / STEP) * STEP))
