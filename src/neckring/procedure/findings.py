"""What a search or a proof found."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """The only three answers."""

    PROVED = "proved"
    BROKEN = "broken"
    NOT_DECIDED = "not decided"


@dataclass(frozen=True)
class Bounds:
    """How much a search may do before it gives up.

    Attributes:
        states: Most states kept; for decision diagrams, most nodes.
        layers: Most layers of a breadth-first search.
    """

    states: int = 200_000_000
    layers: int = 1_000_000


@dataclass(frozen=True)
class Break:
    """A rule broken.

    Attributes:
        rule: Number of the rule.
        trace: Numbers of the actions of a shortest way there.
    """

    rule: int
    trace: tuple[int, ...]


@dataclass(frozen=True)
class Proof:
    """Answer of one engine to one model.

    A search goes breadth first and ends with the layer in which a rule first breaks.

    Attributes:
        verdict: Proved only when no bound was hit and no rule breaks.
        states: States reached (all of them when proved).
        transitions: Enabled actions over all those states; None where the engine does not count.
        depth: Layers beyond the start: the longest shortest way; None where not counted.
        broken: The rule that breaks after the fewest actions, with a way there.
        bound: Which bound was hit, in words; empty when none was.
    """

    verdict: Verdict
    states: int
    transitions: int | None
    depth: int | None
    broken: Break | None = None
    bound: str = ""
