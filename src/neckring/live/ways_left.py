"""Whether a way out is there: from which states of the day's kit each relief can be reached."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache, reduce
from operator import or_

from neckring.live.rest_of_day import Rest
from neckring.live.run_sheet import RunSheet
from neckring.procedure.backward import steps_to
from neckring.procedure.diagrams import StateSet
from neckring.procedure.model import ALWAYS, State, holds
from neckring.procedure.way_out import Company, Goal, WaysOut

WANTED = (
    (Goal.FRESH_AIR, Company.ALONE),
    (Goal.FRESH_AIR, Company.PARTNER),
    (Goal.FRESH_AIR, Company.TENDER),
    (Goal.OUT, Company.TENDER),
)


@dataclass(frozen=True, eq=False)
class Ways:
    """Ways out of one wearer.

    Attributes:
        ways: The wearer's kit as decision diagrams.
        from_where: Relief and company to the states from which it can be reached.
    """

    ways: WaysOut
    from_where: Mapping[tuple[Goal, Company], StateSet]

    def missing(self, state: State) -> frozenset[tuple[Goal, Company]]:
        """What cannot be reached from a state."""
        return frozenset(
            asked
            for asked, states in self.from_where.items()
            if not self.ways.diagrams.has(states, state)
        )


@lru_cache(maxsize=4)
def ways_of(sheet: RunSheet, wearer: str) -> Ways:
    """Ways out of one wearer on the day's kit, from every state there could be."""
    ways = WaysOut(sheet.ground, wearer)
    diagrams = ways.diagrams
    everywhere = diagrams.encode(ALWAYS)
    found = {}
    for goal, company in WANTED:
        wanted = ways.goal(goal)
        if wanted is None or (company is Company.PARTNER and len(sheet.letters) < 2):
            continue
        layers = steps_to(diagrams, wanted, ways.acts(company), everywhere)
        found[goal, company] = reduce(or_, layers)
    return Ways(ways, found)


def ways_ready(sheet: RunSheet) -> None:
    """Work out beforehand what is asked later."""
    for letter in sheet.letters:
        ways_of(sheet, letter)


def lost_way(
    sheet: RunSheet,
    written: Mapping[int, State],
    otherwise: Mapping[int, State],
    rest: Rest,
) -> str:
    """The first way out that is there as written and not otherwise, in words; empty for none.

    Args:
        sheet: Of the day.
        written: State after each step as written, by its place in the day.
        otherwise: The same as it would be.
        rest: To which the latter belong.
    """
    for step, exact in zip(rest.steps, rest.exact.steps, strict=True):
        there, here = written.get(exact.number), otherwise.get(exact.number)
        if there is None or here is None or there == here:
            continue
        for letter in sheet.letters:
            if not holds(sheet.inside[letter], here):
                continue
            ways = ways_of(sheet, letter)
            lost = ways.missing(here) - ways.missing(there)
            for goal, company in WANTED:
                if (goal, company) in lost:
                    return (
                        f"A WAY OUT IS LOST: after step {step.number} of {step.procedure} wearer "
                        f"{letter} does not get {_gets(goal)} {company.value}."
                    )
    return ""


def _gets(goal: Goal) -> str:
    return goal.value
