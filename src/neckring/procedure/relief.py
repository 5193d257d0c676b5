"""How fast relief comes along a procedure: ways out after each step, and what is missed there."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from neckring.procedure.asked import Asked
from neckring.procedure.examination import StepSafety
from neckring.procedure.grounding import GroundKit, ground
from neckring.procedure.listing import Listed
from neckring.procedure.model import State
from neckring.procedure.slips import Outcome
from neckring.procedure.stories import Teller
from neckring.procedure.way_out import Company, FastestWay, Goal, WayOut, WaysOut

# Relief told for each step: fresh air by everybody, out of the suit with a tender.
RELIEF = (
    (Goal.FRESH_AIR, Company.ALONE),
    (Goal.FRESH_AIR, Company.PARTNER),
    (Goal.FRESH_AIR, Company.TENDER),
    (Goal.OUT, Company.TENDER),
)


class Relief:
    """The ways out along one procedure.

    Args:
        listed: The procedure.
        states: Before and after each step as written.
        asked: How much is asked.
        tell: Told what is being done.
    """

    def __init__(
        self,
        listed: Listed,
        states: Sequence[State],
        asked: Asked,
        tell: Callable[[str], None],
    ) -> None:
        self.listed = listed
        self.procedure = listed.procedure
        self.states = states
        self.asked = asked
        self.tell = tell

    def ways(self) -> tuple[WayOut, ...]:
        """Ways out of one wearer's kit, from all states that may be met."""
        if not self.asked.ways:
            return ()
        self.tell("ways out from every state that may be met")
        one = WaysOut(ground(self.listed.ground.kit, 1), "A", self.asked.library)
        return tuple(
            found
            for goal in (Goal.FRESH_AIR, Goal.OUT)
            for company in (Company.ALONE, Company.TENDER)
            if (found := one.way_out(goal, company)) is not None
        )

    def safety(self, teller: Teller) -> tuple[StepSafety, ...]:
        """Step by step: the way out, and what is caught and missed there."""
        ways = self.ways_from_steps()
        caught = [0] * len(self.procedure.steps)
        harmful = [0] * len(self.procedure.steps)
        for single in teller.found:
            if single.outcome is Outcome.CAUGHT and single.step is not None:
                caught[single.step] += 1
        for single in teller.open_harm:
            harmful[single.deviation.position] += 1
        return tuple(
            StepSafety(step.number, ways[place], caught[place], harmful[place])
            for place, step in enumerate(self.procedure.steps)
        )

    def ways_from_steps(self) -> list[tuple[FastestWay | None, ...]]:
        """After each step as written, for each relief, the way of the wearer who needs longest."""
        after_steps = self.states[1:]
        if not self.asked.ways:
            return [() for _ in after_steps]
        self.tell("ways out after every step")
        of_wearers = [self.ways_of(wearer) for wearer in self.listed.ground.wearers]
        return [
            tuple(
                _slowest([ways[relief][n] for ways in of_wearers]) for relief in range(len(RELIEF))
            )
            for n in range(len(after_steps))
        ]

    def ways_of(self, wearer: str) -> list[list[FastestWay | None]]:
        """For each relief the fastest way of one wearer after each step."""
        library, of_all = self.asked.library, self.listed.ground
        # Without a partner the other wearer's kit does not matter, and is left out.
        own = ground(of_all.kit, 1)
        alone, both = WaysOut(own, "A", library), WaysOut(of_all, wearer, library)
        own_states = [own_part(of_all, state, wearer, own) for state in self.states[1:]]
        return [
            both.fastest(goal, company, self.states[1:])
            if company is Company.PARTNER
            else alone.fastest(goal, company, own_states)
            for goal, company in RELIEF
        ]


def own_part(of_all: GroundKit, state: State, wearer: str, own: GroundKit) -> State:
    """What a state of several wearers is for one of them, taken as wearer A."""
    return tuple(
        state[of_all.numbers[variable.name.replace("A.", f"{wearer}.", 1)]]
        for variable in own.variables
    )


def _slowest(ways: list[FastestWay | None]) -> FastestWay | None:
    """The longest of several ways; none is longer than any."""
    if any(way is None for way in ways):
        return None
    return max((way for way in ways if way), key=lambda way: way.duration.likely)
