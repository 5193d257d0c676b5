"""How deviations end: one alone, two together, and the codes by which the walk says so."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from numpy import int64
from numpy.typing import NDArray

from neckring.procedure.slip_kernel import (
    BLOCKED,
    CAUGHT,
    HARM,
    HARMLESS,
    LATENT,
    OUTCOME_BITS,
    RULE_SHIFT,
    STEP_BITS,
    STEP_SHIFT,
)
from neckring.procedure.slips import Deviation, Outcome

Numbers = NDArray[int64]

OUTCOMES = {
    HARMLESS: Outcome.HARMLESS,
    CAUGHT: Outcome.CAUGHT,
    BLOCKED: Outcome.BLOCKED,
    LATENT: Outcome.LATENT,
    HARM: Outcome.HARM,
}


class NotRunningError(ValueError):
    """The procedure as written does not run to its end.

    Attributes:
        outcome: Caught, blocked or harm.
        step: Position of the step at which it ends so.
        rule: Number of the rule that breaks.
    """

    def __init__(self, outcome: Outcome, step: int | None, rule: int | None) -> None:
        self.outcome, self.step, self.rule = outcome, step, rule
        super().__init__(f"the procedure as written does not run: {outcome}")


@dataclass(frozen=True)
class Found:
    """One deviation alone and how it ends.

    Attributes:
        deviation: A slip or a failure.
        outcome: Harmless, caught, blocked, latent or harm.
        step: Position of the step at which it ends so; None at the end of the procedure.
        rule: Number of the rule that breaks: first the model's rules, then the timed ones.
    """

    deviation: Deviation
    outcome: Outcome
    step: int | None
    rule: int | None


@dataclass(frozen=True)
class Pairs:
    """All pairs of deviations.

    Attributes:
        deviations: What the numbers below stand for.
        outcomes: Pairs in which both happened, by outcome.
        settled_by_first: Pairs that were over before the second could happen, by outcome.
        void: Pairs that cannot happen so, and are not counted.
        shares: Counted pairs that a deviation is part of, shape (deviations, outcomes in the order
            of `Outcome`).
        harmful_numbers: Harmful pairs in which both happened, shape (pairs, 2).
    """

    deviations: tuple[Deviation, ...]
    outcomes: dict[Outcome, int]
    settled_by_first: dict[Outcome, int]
    void: int
    shares: Numbers
    harmful_numbers: Numbers

    @cached_property
    def harmful(self) -> tuple[tuple[Deviation, Deviation], ...]:
        """Harmful pairs in which both happened."""
        pairs = self.harmful_numbers.tolist()
        return tuple((self.deviations[one], self.deviations[other]) for one, other in pairs)


def ending_of(code: int) -> tuple[Outcome, int | None, int | None]:
    """Outcome, position of the step and number of the rule that a code of the walk stands for."""
    step, rule = (code >> STEP_SHIFT) & STEP_BITS, code >> RULE_SHIFT
    return OUTCOMES[code & OUTCOME_BITS], step - 1 if step else None, rule - 1 if rule else None
