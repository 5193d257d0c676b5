"""Which checks would catch which slips before harm, what they cost, and the best few of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from neckring.procedure.cover import best_cover
from neckring.procedure.examination import Catch
from neckring.procedure.grounding import TENDER, GroundKit, duration
from neckring.procedure.model import Condition, State, holds
from neckring.procedure.steps import CheckKind, Procedure, Step, StepKind
from neckring.procedure.story import Telling
from neckring.station.kit import Sign

MOST_CHECKS = 5


@dataclass(frozen=True)
class Look:
    """A sign that somebody could look for after a step.

    Attributes:
        sign: Its code.
        on: Of which wearer.
        who: Who looks.
        position: Of the step after which.
        condition: When it is there.
        seconds: How long it takes, as likely [s].
    """

    sign: str
    on: str
    who: str
    position: int
    condition: Condition
    seconds: float

    @property
    def name(self) -> str:
        """Unique, and in the order of positions."""
        return f"{self.position:04d} {self.sign} of {self.on} by {self.who}"


def looks(ground: GroundKit, procedure: Procedure, nominal: Sequence[State]) -> list[Look]:
    """Every look that finds its sign when all is as written.

    Args:
        ground: The kit.
        procedure: Made with it.
        nominal: State before each step as written, and at the end.
    """
    found = []
    for code, sign in ground.kit.signs.items():
        for on in ground.wearers:
            condition = ground.condition(sign.when, on)
            who = _who_looks(ground, procedure, sign, on)
            if who is not None:
                found += [
                    Look(code, on, who, position, condition, duration(sign.takes).likely)
                    for position in range(len(procedure.steps))
                    if holds(condition, nominal[position + 1])
                ]
    return found


def _who_looks(ground: GroundKit, procedure: Procedure, sign: Sign, on: str) -> str | None:
    """Somebody who takes part: a tender rather than a partner, a partner rather than oneself."""
    partners = [wearer for wearer in ground.wearers if wearer != on]
    people = {"tender": [TENDER], "partner": partners, "self": [on]}
    for part in ("tender", "partner", "self"):
        if part in sign.by:
            for person in people[part]:
                if person in procedure.lanes:
                    return person
    return None


def caught_by(look: Look, telling: Telling) -> bool:
    """Whether a look would notice a slip before its harm."""
    first = next((n for n, m in enumerate(telling.moments) if m.position > look.position), None)
    # The last moment is the harm itself.
    if first is None or first == 0:
        return False
    return not holds(look.condition, telling.moments[first - 1].state)


def catches(
    ground: GroundKit, every: Sequence[Look], tellings: Sequence[Telling]
) -> list[tuple[Look, frozenset[int]]]:
    """The looks that catch something, with the numbers of what they catch."""
    found = []
    for look in every:
        caught = frozenset(n for n, telling in enumerate(tellings) if caught_by(look, telling))
        if caught:
            found.append((look, caught))
    return found


def in_words(ground: GroundKit, procedure: Procedure, look: Look, slips: int) -> Catch:
    """A look as it is told."""
    words = ground.kit.signs[look.sign].words
    if len(ground.wearers) > 1:
        words = f"{words} (wearer {look.on})"
    number = procedure.steps[look.position].number
    return Catch(look.sign, words, number, look.who, slips, look.seconds)


def best_sets(
    found: Sequence[tuple[Look, frozenset[int]]], harmful: int
) -> Iterator[tuple[tuple[Look, ...], frozenset[int]]]:
    """The best one, two, three ... looks, until no more is caught."""
    by_name = {look.name: look for look, _ in found}
    candidates = {look.name: (look.seconds, caught) for look, caught in found}
    universe, before = frozenset(range(harmful)), 0
    for budget in range(1, MOST_CHECKS + 1):
        cover = best_cover(candidates, universe, budget)
        if len(cover.caught) <= before:
            return
        before = len(cover.caught)
        yield tuple(by_name[name] for name in cover.chosen), cover.caught


def with_looks(procedure: Procedure, ground: GroundKit, chosen: Sequence[Look]) -> Procedure:
    """The procedure with looks put in as checks; printed numbers stay."""
    steps: list[Step] = []
    for position, step in enumerate(procedure.steps):
        steps.append(step)
        for look in chosen:
            if look.position == position:
                steps.append(_as_step(procedure, ground, look, step.number))
    return replace(procedure, steps=tuple(steps))


def _as_step(procedure: Procedure, ground: GroundKit, look: Look, number: int) -> Step:
    return Step(
        number,
        procedure.lanes.index(look.who),
        StepKind.CHECK,
        f"{look.sign} of {look.on}",
        look.condition,
        duration=duration(ground.kit.signs[look.sign].takes),
        check=CheckKind.WITH_LIST,
    )
