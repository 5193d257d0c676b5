"""Which published row fits which slip, and how much a check hangs on who did the step.

The rows were made for control rooms. Where none fits, the nearest is taken and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from itertools import combinations

from neckring.procedure.courses import people_of
from neckring.procedure.human_error import (
    ERROR_ROWS,
    Dependence,
    ErrorRow,
    Lognormal,
    Stress,
    at_least_in_row,
    given_failure,
    under_stress,
)
from neckring.procedure.steps import CheckKind, Procedure, StepKind
from neckring.values import require_within

SHORT_LIST = 10
"""Most items of a list that counts as short; NUREG/CR-1278 table 20-7 (seen second-hand)."""


MOST_CHECKS = 6
"""Most missed checks that are given credit in one way to harm, the surest by themselves first.

Each later one would halve the figure at best, and the joint floor is near by then.
"""


class SlipKind(StrEnum):
    """What goes otherwise than written."""

    OMITTED = "left out"
    REPEATED = "done twice"
    EARLY = "done too early"
    LATE = "done too late"
    WRONG_OBJECT = "done on the wrong object"
    HALF_DONE = "half done"
    FAILURE = "equipment failure"


@dataclass(frozen=True)
class Slip:
    """One deviation from the procedure.

    Attributes:
        kind: What goes otherwise.
        place: Of the step in the procedure, from 0; of a failure, the step it comes before.
        name: What was done instead, or what failed; empty where nothing is to be said.
    """

    kind: SlipKind
    place: int
    name: str = ""


class ListUse(StrEnum):
    """How the written list is used."""

    TICKED = "ticked off"
    NOT_TICKED = "not ticked off"
    NOT_USED = "not used"


class Thing(StrEnum):
    """What a step handles."""

    VALVE = "valve"
    CONNECTOR = "connector"
    CONTROL = "control"


class Labelling(StrEnum):
    """How well valves are told apart; items of NUREG/CR-1278 table 20-13."""

    CLEAR_APART = "clearly labelled, set apart"
    CLEAR_SIMILAR = "clearly labelled, similar in one way"
    UNCLEAR_APART = "unclearly labelled, set apart"
    UNCLEAR_SIMILAR = "unclearly labelled, similar in one way"
    UNCLEAR_ALIKE = "unclearly labelled, alike in all ways"


@dataclass(frozen=True)
class Circumstances:
    """In what circumstances a procedure is done.

    Attributes:
        list_use: How the list is used.
        list_length: Items of the list; None for all steps of the procedure.
        labelling: How well valves are told apart.
        things: What a step handles, by place in the procedure; else a control.
        stress: How hard the task presses.
        novice: Whether those who do it are new to it.
        least_error_factor: Bands are at least so wide. Assumed: 5, since the tables give 3 for
            control rooms and a national laboratory takes 5 for the same omissions
            (INL BAHAMAS documentation).
    """

    list_use: ListUse = ListUse.TICKED
    list_length: int | None = None
    labelling: Labelling = Labelling.CLEAR_SIMILAR
    things: Mapping[int, Thing] = field(default_factory=dict)
    stress: Stress = Stress.OPTIMUM
    novice: bool = False
    least_error_factor: float = 5.0

    def __post_init__(self) -> None:
        """Refuse what makes no sense.

        Raises:
            ValueError: Naming what was read and what is accepted.
        """
        require_within("least error factor", self.least_error_factor, 1.0, 1000.0, "")
        if self.list_length is not None:
            require_within("list length", self.list_length, 1, 1e6, "items")


@dataclass(frozen=True)
class Factor:
    """One human failure in a row of them.

    Attributes:
        row: Published.
        band: Its probability as used here, by itself.
        dependence: On what failed before it.
        assumed: What was assumed in choosing row and dependence; empty where nothing was.
    """

    row: ErrorRow
    band: Lognormal
    dependence: Dependence
    assumed: str


ASSUMED_ORDER = "no row for a step done twice or out of order: taken as one left out"
ASSUMED_OBJECT = "kind of thing not given: taken as a control among similar ones"
ASSUMED_HALF = "no row for a control half worked: taken as a connector improperly mated"
ASSUMED_VALVE_HALF = "a valve half worked: taken as one of several positions set wrongly"
ASSUMED_SAME_PERSON = "who checks their own step hangs on it highly"
ASSUMED_OTHER_PERSON = "another who checks hangs on the one who did it moderately"
ASSUMED_MEASURED = "a reading, or one's own safety, checked by another hangs on the doer little"
ASSUMED_SECOND_PERSON = "the row for a second person holds the dependence already"

_LIST_ROWS = {
    (ListUse.TICKED, True): "20-7 (1)",
    (ListUse.TICKED, False): "20-7 (2)",
    (ListUse.NOT_TICKED, True): "20-7 (3)",
    (ListUse.NOT_TICKED, False): "20-7 (4)",
    (ListUse.NOT_USED, True): "20-7 (5)",
    (ListUse.NOT_USED, False): "20-7 (5)",
}
_VALVE_ROWS = {labelling: f"20-13 ({item})" for item, labelling in enumerate(Labelling, start=1)}
_HALF_ROWS = {
    Thing.CONNECTOR: ("20-12 (13)", ""),
    Thing.VALVE: ("20-12 (9)", ASSUMED_VALVE_HALF),
    Thing.CONTROL: ("20-12 (13)", ASSUMED_HALF),
}
_CHECK_ROWS = {
    CheckKind.WITH_LIST: "20-22 (1)",
    CheckKind.WITHOUT_LIST: "20-22 (2)",
    CheckKind.MEASURED: "20-22 (4)",
    CheckKind.SECOND_PERSON: "20-22 (8)",
    CheckKind.OWN_SAFETY: "20-22 (9)",
}


def failures_in_a_row(
    procedure: Procedure,
    slips: tuple[Slip, ...],
    missed: tuple[int, ...],
    circumstances: Circumstances,
) -> tuple[Factor, ...]:
    """The human failures that a way to harm is made of.

    A slip on a check counts as that check missed. Slips on different steps are taken as
    independent; equipment failures are no human failures. That more checks are missed is never
    likelier than that some of them are, yet the rule for later failures in a row can say so. Then
    the checks that add nothing are left out of account.

    Args:
        procedure: In which they happen.
        slips: What goes otherwise.
        missed: Places of the checks that should find it and do not.
        circumstances: In which it is done.

    Returns:
        Slips first, then checks in the order of the procedure.

    Raises:
        ValueError: A place that there is not, or a missed check that is none.
    """
    for place in (*(slip.place for slip in slips), *missed):
        require_within("place of a step", place, 0, len(procedure.steps) - 1, "")
    for step in (procedure.steps[place] for place in missed):
        if step.kind is not StepKind.CHECK:
            raise ValueError(f'step {step.number}, "{step.name}", is no check; accepted: checks')
    human = tuple(slip for slip in slips if slip.kind is not SlipKind.FAILURE)
    acts = tuple(slip for slip in human if not _is_check(procedure, slip.place))
    in_vain = _surest(procedure, {slip.place for slip in human if slip not in acts} | set(missed))
    sizes = range(0 if acts else min(1, len(in_vain)), len(in_vain) + 1)
    rows = (
        _row_of(procedure, acts, checks, circumstances)
        for size in sizes
        for checks in combinations(in_vain, size)
    )
    return min(rows, key=together)


def _surest(procedure: Procedure, places: set[int]) -> list[int]:
    def alone(place: int) -> tuple[float, int]:
        return ERROR_ROWS[_CHECK_ROWS[procedure.steps[place].check]].median, place

    return sorted(sorted(places, key=alone)[:MOST_CHECKS])


def together(factors: tuple[Factor, ...]) -> float:
    """Probability that all of them fail, by their medians."""
    return math.prod(_alone(factor.band.median, factor.dependence) for factor in factors)


@lru_cache(maxsize=1024)
def _alone(median: float, dependence: Dependence) -> float:
    return float(given_failure(median, dependence))


def _row_of(
    procedure: Procedure,
    acts: tuple[Slip, ...],
    checks: tuple[int, ...],
    circumstances: Circumstances,
) -> tuple[Factor, ...]:
    factors = [_slip_factor(procedure, slip, circumstances) for slip in acts]
    doers = [frozenset(people_of(procedure, slip.place)) for slip in acts]
    read_before = False
    for place in checks:
        in_row = len(factors) + 1
        factors.append(_check_factor(procedure, place, doers, in_row, read_before, circumstances))
        doers.append(frozenset(people_of(procedure, place)))
        read_before |= procedure.steps[place].check is CheckKind.SECOND_PERSON
    return tuple(factors)


def _is_check(procedure: Procedure, place: int) -> bool:
    return procedure.steps[place].kind is StepKind.CHECK


def _factor(
    table: str, dependence: Dependence, assumed: str, circumstances: Circumstances
) -> Factor:
    band = _band(
        table, circumstances.stress, circumstances.novice, circumstances.least_error_factor
    )
    return Factor(ERROR_ROWS[table], band, dependence, assumed)


@lru_cache(maxsize=1024)
def _band(table: str, stress: Stress, novice: bool, least_error_factor: float) -> Lognormal:
    return under_stress(ERROR_ROWS[table].band, stress, novice).widened(least_error_factor)


def _slip_factor(procedure: Procedure, slip: Slip, circumstances: Circumstances) -> Factor:
    thing = circumstances.things.get(slip.place)
    if slip.kind is SlipKind.WRONG_OBJECT:
        valve = thing is Thing.VALVE
        table = _VALVE_ROWS[circumstances.labelling] if valve else "20-12 (2)"
        assumed = "" if thing else ASSUMED_OBJECT
    elif slip.kind is SlipKind.HALF_DONE:
        table, assumed = _HALF_ROWS[thing or Thing.CONTROL]
    else:
        length = circumstances.list_length or len(procedure.steps)
        table = _LIST_ROWS[circumstances.list_use, length <= SHORT_LIST]
        assumed = "" if slip.kind is SlipKind.OMITTED else ASSUMED_ORDER
    return _factor(table, Dependence.ZERO, assumed, circumstances)


def _check_factor(
    procedure: Procedure,
    place: int,
    before: list[frozenset[int]],
    in_row: int,
    read_before: bool,
    circumstances: Circumstances,
) -> Factor:
    kind = procedure.steps[place].check
    people = frozenset(people_of(procedure, place))
    dependence, assumed = _dependence(kind, people, before, read_before)
    if before:
        dependence = at_least_in_row(dependence, in_row)
    return _factor(_CHECK_ROWS[kind], dependence, assumed, circumstances)


def _dependence(
    kind: CheckKind, people: frozenset[int], before: list[frozenset[int]], read_before: bool
) -> tuple[Dependence, str]:
    """How much a check hangs on those who failed before it."""
    if not before:
        return Dependence.ZERO, ""
    if kind is CheckKind.SECOND_PERSON and read_before:
        return Dependence.COMPLETE, ERROR_ROWS["20-22 (8)"].situation
    if any(people <= others for others in before):
        return Dependence.HIGH, ASSUMED_SAME_PERSON
    if kind is CheckKind.SECOND_PERSON:
        return Dependence.ZERO, ASSUMED_SECOND_PERSON
    if kind in (CheckKind.MEASURED, CheckKind.OWN_SAFETY):
        return Dependence.LOW, ASSUMED_MEASURED
    return Dependence.MODERATE, ASSUMED_OTHER_PERSON
