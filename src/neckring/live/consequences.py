"""What becomes possible when a step is left out or moved: as it is shown, and kept in the book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

NOTHING_WORSE = "Nothing gets worse: no rule breaks, no slip does more harm, every way out stays."


@dataclass(frozen=True)
class Consequences:
    """What becomes possible when a step is left out or moved.

    Attributes:
        breaks: What is then the case although nobody slips and no check notices; empty for nothing.
        orders: What some order of the lanes then leads to, which no order did; empty for nothing.
        stops: Where the rest then cannot go on, which somebody notices; empty when it goes on.
        harmful: How many slips and breakdowns then do harm that were harmless or noticed.
        latent: How many slips then stay unnoticed to the end that did not.
        shortest: The one that does harm soonest, in words; empty for none.
        lost: The first way out that is then not there any more; empty for none.
        unsure: What could not be asked, in words; empty for nothing.
    """

    breaks: str = ""
    orders: str = ""
    stops: str = ""
    harmful: int = 0
    latent: int = 0
    shortest: str = ""
    lost: str = ""
    unsure: str = ""

    @property
    def grave(self) -> bool:
        """Whether a rule breaks without any slip: then the lead says explicitly that it counts."""
        return bool(self.breaks or self.orders)

    @property
    def shown(self) -> str:
        """As it is shown before somebody decides, and kept in the log book."""
        return " ".join(self._sentences()) or NOTHING_WORSE

    def _sentences(self) -> Iterator[str]:
        if self.breaks:
            yield f"A RULE BREAKS although nobody slips: {self.breaks}"
        if self.orders:
            yield f"IN SOME ORDER of those who act: {self.orders}"
        if self.stops:
            yield self.stops
        if self.harmful:
            slips = "1 slip or breakdown" if self.harmful == 1 else f"{self.harmful} slips"
            verb = "does" if self.harmful == 1 else "do"
            yield f"{slips} then {verb} harm before anybody notices. The soonest: {self.shortest}"
        if self.latent:
            slips = "1 slip stays" if self.latent == 1 else f"{self.latent} slips stay"
            yield f"{slips} unnoticed to the end."
        if self.lost:
            yield self.lost
        elif self.harmful or self.latent or self.stops or self.grave:
            yield "Every way out stays."
        if self.unsure:
            yield self.unsure
