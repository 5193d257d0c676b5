"""One slip told: what is done from then on, how things then stand, and who could have noticed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from neckring.procedure.model import State, holds
from neckring.procedure.slip_oracle import Act, Sequence, Walk, judged
from neckring.procedure.slips import Deviation, Outcome
from neckring.procedure.steps import Procedure


@dataclass(frozen=True)
class Moment:
    """Something done in a sequence.

    Attributes:
        position: Of the step.
        failure: Whether the kit did it by itself.
        state: Afterwards.
        seconds: How long it took, as likely [s].
        name: Of what was done.
    """

    position: int
    failure: bool
    state: State
    seconds: float
    name: str


class _Told(Walk):
    """A walk that remembers."""

    def __init__(self, procedure: Procedure, deviations: Iterable[Deviation]) -> None:
        super().__init__(procedure, deviations)
        self.moments: list[Moment] = []

    def do(self, act: Act) -> None:
        place = len(self.moments)
        try:
            super().do(act)
        finally:
            self.moments.insert(place, Moment(act.step, False, self.state, act.likely, act.name))

    def do_failure(self, position: int) -> None:
        before = self.state
        try:
            super().do_failure(position)
        finally:
            if self.state != before:
                name = self.procedure.failures[self.failures[position].argument].name
                self.moments.append(Moment(position, True, self.state, 0.0, name))


@dataclass(frozen=True)
class Telling:
    """A sequence and everything done in it until it ended.

    Attributes:
        sequence: How it ends.
        moments: What was done, in order.
    """

    sequence: Sequence
    moments: tuple[Moment, ...]


def told(
    procedure: Procedure, deviations: Iterable[Deviation], nominal_end: State
) -> Telling | None:
    """Tell a sequence; None when it is void.

    Args:
        procedure: The procedure.
        deviations: What goes otherwise than written.
        nominal_end: State at the end as written.
    """
    walk = _Told(procedure, deviations)
    found = walk.through()
    if found is None:
        return None
    moments = tuple(_until(walk.moments, found, procedure))
    return Telling(judged(found, nominal_end), moments)


def _until(moments: list[Moment], found: Sequence, procedure: Procedure) -> Iterator[Moment]:
    """Moments up to the one that somebody noticed."""
    for moment in moments:
        yield moment
        if found.outcome in (Outcome.CAUGHT, Outcome.BLOCKED) and moment.position == found.step:
            return


def causes(procedure: Procedure, telling: Telling, nominal: tuple[State, ...]) -> tuple[int, ...]:
    """The fewest things, two at most, that set right after the slip would prevent the harm.

    Args:
        procedure: The procedure.
        telling: Of a sequence that does harm.
        nominal: State before each step as written, and at the end.

    Returns:
        Numbers of variables; none when no two are enough.
    """
    first = _first_wrong(telling, nominal)
    if first is None:
        return ()
    moment, right = first
    wrong = [n for n, (a, b) in enumerate(zip(right, moment.state, strict=True)) if a != b]
    rest = _rest_of(procedure, moment.position + 1)
    for chosen in [*((one,) for one in wrong), *_twos(wrong)]:
        mended = list(moment.state)
        for number in chosen:
            mended[number] = right[number]
        if not _harms(rest, tuple(mended)):
            return chosen
    return ()


def _first_wrong(telling: Telling, nominal: tuple[State, ...]) -> tuple[Moment, State] | None:
    for moment in telling.moments:
        right = nominal[moment.position + (not moment.failure)]
        if moment.state != right:
            return moment, right
    return None


def _twos(wrong: list[int]) -> Iterator[tuple[int, int]]:
    for place, one in enumerate(wrong):
        for other in wrong[place + 1 :]:
            yield one, other


def _rest_of(procedure: Procedure, position: int) -> Procedure:
    return replace(procedure, steps=procedure.steps[position:])


def _harms(rest: Procedure, state: State) -> bool:
    variables = tuple(
        replace(variable, start=value)
        for variable, value in zip(rest.model.variables, state, strict=True)
    )
    begun = replace(rest, model=replace(rest.model, variables=variables))
    if any(holds(rule.bad, state) for rule in begun.model.rules):
        return True
    found = Walk(begun, ()).through()
    return found is not None and found.outcome is Outcome.HARM
