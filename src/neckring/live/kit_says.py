"""What the kit, as the steps recorded have it, says of a wearer's air, face and cooling."""

from __future__ import annotations

from dataclasses import dataclass

from neckring.procedure.grounding import GroundKit
from neckring.procedure.model import State, after, holds

FANS = "fans"
"""Code of the failure that a kit's breakdowns stand for when the pack's air stops."""


@dataclass(frozen=True)
class KitSays:
    """One wearer.

    Attributes:
        inside: The wearer is in the suit; while not, the rest says nothing.
        fresh_air: There is fresh air at the face, from wherever.
        without_fans: There would be, also if the pack's fans stood still: the face is free, or
            air comes through the umbilical.
        cooled: The wearer is cooled; None when the kit cannot tell.
        out: The wearer is out of the suit.
    """

    inside: bool
    fresh_air: bool
    without_fans: bool
    cooled: bool | None
    out: bool


def kit_says(ground: GroundKit, state: State, wearer: str) -> KitSays:
    """Read the kit's state by its own conditions of relief.

    Args:
        ground: The day's kit.
        state: As the steps recorded have it.
        wearer: A or B.
    """
    relief = ground.kit.relief

    def now(text: object, at: State = state) -> bool:
        return holds(ground.condition(text, wearer), at)  # type: ignore[arg-type]

    return KitSays(
        inside=now(relief.inside),
        fresh_air=now(relief.fresh_air),
        without_fans=now(relief.fresh_air, _fans_stopped(ground, state, wearer)),
        cooled=None if relief.cooling is None else now(relief.cooling),
        out=now(relief.out),
    )


def _fans_stopped(ground: GroundKit, state: State, wearer: str) -> State:
    """The kit once every breakdown of the pack's air has struck that can."""
    for code, breakdown in ground.kit.breakdowns.items():
        if breakdown.plan == FANS:
            act = ground.breakdown(code, breakdown, wearer)
            if holds(act.guard, state):
                state = after(act, state)
    return state
