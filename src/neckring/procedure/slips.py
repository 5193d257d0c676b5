"""What may go wrong while a procedure is carried out, and what exactly it then means.

A *deviation* is a position (place of a step in the order written, from 0), a kind and an argument.
Moves and checks may slip; a meeting cannot, and what is said changes nothing when it slips.

- left out: the step is not done.
- repeated: it is done twice.
- late k, k from 1 to 5: it is done after the k-th next move or check of its own lane, just before
  whatever stands behind that; where the lane ends before, at the very end. It may pass a meeting.
  An order that a smaller k, or no slip, gives is not listed again.
- early k, k from 2 to 5: the k-th next move or check of its lane is done just before it, and is
  skipped in its own place. Early 1 would be late 1.
- in place j: the j-th of the step's `others` is done in its place.
- half: the step's `half` is what it changes.
- failure f: the kit's failure f happens just before the position, when its guard holds then;
  else nothing happens and the sequence is not counted. It takes no time.

A person slips at most once at a position; besides, one failure may happen at any position.

A *sequence* is the procedure with some deviations. Positions are gone through in order: first
whatever is late and due, in the order written; then the failure; then the step with its slip, or
nothing when it was done early. A slip chosen for a step that was done early, or that would do it
early again, is void, and the sequence is not counted.

Doing something: first each timed rule's clock: if its bad condition holds, it grows by the longest
that this takes, else it is zero; beyond the rule's `longest` it is *harm*. Then a move whose guard
does not hold is *blocked*, a check whose guard does not hold has *caught* it. Then the effects, and
*harm* if a rule's bad condition holds. A failure's effects are held against the rules likewise.

At the end it was *harmless* if everything is as it is when nothing slips, else *latent*.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from neckring.procedure.steps import Procedure, Step, StepKind

FARTHEST = 5


class SlipKind(StrEnum):
    """What slips."""

    OMIT = "left out"
    REPEAT = "repeated"
    LATE = "late"
    EARLY = "early"
    OTHER = "in place"
    HALF = "half"
    FAILURE = "failure"


class Outcome(StrEnum):
    """How a sequence ends."""

    HARMLESS = "harmless"
    CAUGHT = "caught"
    BLOCKED = "blocked"
    LATENT = "latent"
    HARM = "harm"


@dataclass(frozen=True)
class Deviation:
    """One slip, or one failure of the kit.

    Attributes:
        position: Place of the step, from 0.
        kind: What slips.
        argument: The k, j (from 0) or f (from 0) of its kind; else 0.
    """

    position: int
    kind: SlipKind
    argument: int = 0


def may_slip(step: Step) -> bool:
    """Whether a step is one that a person may get wrong here."""
    return step.kind in (StepKind.MOVE, StepKind.CHECK)


def late_targets(procedure: Procedure) -> tuple[dict[int, int], ...]:
    """For each position and k, the position before which the step is done when it is late.

    The number of steps stands for the very end.
    """
    length = len(procedure.steps)
    table: list[dict[int, int]] = []
    for position, following in enumerate(procedure.following):
        found: dict[int, int] = {}
        before = position + 1
        if may_slip(procedure.steps[position]):
            for k in range(1, FARTHEST + 1):
                due = following[k - 1] + 1 if k <= len(following) else length
                if due != before:
                    found[k] = before = due
        table.append(found)
    return tuple(table)


def early_targets(procedure: Procedure) -> tuple[dict[int, int], ...]:
    """For each position and k, the position of the step that is done early there."""
    return tuple(
        {k: following[k - 1] for k in range(2, FARTHEST + 1) if k <= len(following)}
        for following in procedure.following
    )


def slips(procedure: Procedure) -> tuple[Deviation, ...]:
    """Every slip of a person, by position."""
    late, early = late_targets(procedure), early_targets(procedure)
    return tuple(
        deviation
        for position, step in enumerate(procedure.steps)
        if may_slip(step)
        for deviation in _slips_at(position, step, late[position], early[position])
    )


def _slips_at(
    position: int, step: Step, late: Iterable[int], early: Iterable[int]
) -> list[Deviation]:
    found = [Deviation(position, SlipKind.OMIT), Deviation(position, SlipKind.REPEAT)]
    found += [Deviation(position, SlipKind.LATE, k) for k in late]
    found += [Deviation(position, SlipKind.EARLY, k) for k in early]
    found += [Deviation(position, SlipKind.OTHER, j) for j in range(len(step.others))]
    if step.half is not None:
        found.append(Deviation(position, SlipKind.HALF))
    return found


def failures(procedure: Procedure) -> tuple[Deviation, ...]:
    """Every failure of the kit just before every step, by position."""
    return tuple(
        Deviation(position, SlipKind.FAILURE, number)
        for position in range(len(procedure.steps))
        for number in range(len(procedure.failures))
    )


def in_words(deviation: Deviation, procedure: Procedure) -> str:
    """A deviation as it is told, e.g. "step 43 done after step 44"."""
    position, argument = deviation.position, deviation.argument
    step = procedure.steps[position]
    match deviation.kind:
        case SlipKind.OMIT:
            return f"step {step.number} left out"
        case SlipKind.REPEAT:
            return f"step {step.number} done twice"
        case SlipKind.LATE:
            due = late_targets(procedure)[position][argument]
            return f"step {step.number} done {_after_words(procedure, due)}"
        case SlipKind.EARLY:
            early = procedure.steps[early_targets(procedure)[position][argument]]
            return f"step {early.number} done before step {step.number}"
        case SlipKind.OTHER:
            return f"in place of step {step.number}: {step.others[argument].name}"
        case SlipKind.HALF:
            return f"step {step.number} only half done"
        case SlipKind.FAILURE:
            return f"just before step {step.number}: {procedure.failures[argument].name}"


def _after_words(procedure: Procedure, due: int) -> str:
    if due == len(procedure.steps):
        return "at the very end"
    return f"after step {procedure.steps[due - 1].number}"
