"""How much is asked of a procedure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Asked:
    """How much is asked.

    Attributes:
        pairs: Whether pairs of slips are examined.
        ways: Whether ways out are, and slips together with breakdowns: what takes longest.
        library: Of decision diagrams; empty takes the better one.
        clock: Seconds since some instant, to tell how long each answer took.
    """

    pairs: bool = True
    ways: bool = True
    library: str = ""
    clock: Callable[[], float] = lambda: 0.0
